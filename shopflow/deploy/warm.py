"""Compile the numba kernels once into the cache folder, so that nobody waits for the compiler in front of a page.

A module of the core whose name ends with `kernels` has a function `warm()` that calls each of its kernels on the
smallest input of the types it is used with.
"""

import importlib
import pkgutil
from collections.abc import Iterator
from types import ModuleType

import shopflow.core


def kernel_modules() -> Iterator[ModuleType]:
    for found in pkgutil.walk_packages(shopflow.core.__path__, "shopflow.core."):
        if found.name.endswith("kernels"):
            yield importlib.import_module(found.name)


def warm_kernels() -> list[str]:
    """Call every warm(); the names of the modules that had one."""
    warmed = []
    for module in kernel_modules():
        if hasattr(module, "warm"):
            module.warm()
            warmed.append(module.__name__)
    return warmed


if __name__ == "__main__":
    warm_kernels()
