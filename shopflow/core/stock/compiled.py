"""How the kernels of this package are compiled: cached, without the interpreter's lock, so that tiles run at once.

A kernel holds copies of the kernels and constants of other files that it uses, and numba's cache looks only at the
kernel's own file. So the stamp by which the cache knows a file is widened by the contents of all kernel files of the
package: one of them changed, all are compiled anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])


def fingerprint(folder: Path) -> str:
    """SHA-256 of this file and of all kernel files of a folder."""
    digest = hashlib.sha256(Path(__file__).read_bytes())
    for path in sorted(folder.glob("*kernels.py")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


_PACKAGE = fingerprint(Path(__file__).parent)


def compiled(function: Function) -> Function:
    """The function compiled by numba on its first call; division by zero gives inf or nan, as arrays do."""
    return _cached(function)


def compiled_inline(function: Function) -> Function:
    """The same for what is done column by column: copied into its callers, since handing arrays over costs more."""
    return _cached(function, forceinline=True)


def compiled_for_rows(function: Function) -> Function:
    """The same for plain loops along a row, which the compiler turns into vector instructions.

    It may take a largest or smallest in any order and multiply and add in one step; no number in it may be nan.
    """
    return _cached(function, forceinline=True, fastmath={"nnan", "nsz", "contract"})


def compiled_for_sums(function: Function) -> Function:
    """As for rows, and sums may be added up in any order: they differ in the last bits from machine to machine."""
    return _cached(function, forceinline=True, fastmath={"nnan", "nsz", "contract", "reassoc"})


def _cached(function: Function, **options: Any) -> Function:
    kernel = njit(cache=True, nogil=True, error_model="numpy", **options)(function)
    file = kernel._cache._cache_file
    file._source_stamp = (file._source_stamp, _PACKAGE)
    return cast("Function", kernel)
