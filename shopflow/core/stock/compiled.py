"""How the kernels of this package are compiled: cached, without the interpreter's lock, so that tiles run at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """The function compiled by numba on its first call; division by zero gives inf or nan, as arrays do."""
    return cast("Function", njit(cache=True, nogil=True, error_model="numpy")(function))


def compiled_inline(function: Function) -> Function:
    """The same for what is done column by column: copied into its callers, since handing arrays over costs more."""
    return cast("Function", njit(cache=True, nogil=True, error_model="numpy", forceinline=True)(function))


def compiled_for_rows(function: Function) -> Function:
    """The same for plain loops along a row, which the compiler turns into vector instructions.

    It may take a largest or smallest in any order and multiply and add in one step; no number in it may be nan.
    """
    fast = njit(cache=True, nogil=True, error_model="numpy", fastmath={"nnan", "nsz", "contract"})
    return cast("Function", fast(function))
