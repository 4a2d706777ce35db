"""How the kernels of this package are compiled: cached, without the interpreter's lock, so that tiles run at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """The function compiled by numba on its first call; division by zero gives inf or nan, as arrays do."""
    return cast("Function", njit(cache=True, nogil=True, error_model="numpy")(function))


def compiled_into_caller(function: Function) -> Function:
    """The same for a small function that is to be copied into the loops that call it."""
    return cast("Function", njit(cache=True, nogil=True, error_model="numpy", inline="always")(function))
