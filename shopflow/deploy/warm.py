"""Compile the numba kernels once into the cache folder, so that nobody waits for the compiler in front of a page.

A module named `kernels` in a package of the core may have a function `warm()` that calls each kernel on the smallest
input of the types it is used with.
"""

import importlib
import pkgutil
from collections.abc import Iterator
from types import ModuleType

import shopflow.core


def kernel_modules() -> Iterator[ModuleType]:
    for found in pkgutil.walk_packages(shopflow.core.__path__, "shopflow.core."):
        if found.name.rpartition(".")[2] == "kernels":
            yield importlib.import_module(found.name)


def warm_kernels() -> list[str]:
    """Call every warm(); the names of the modules that had one."""
    warmed = []
    for module in kernel_modules():
        if hasattr(module, "warm"):
            module.warm()
            warmed.append(module.__name__)
    return warmed
