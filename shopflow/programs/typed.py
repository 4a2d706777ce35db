"""Core values as plain values and back: what a piece of work stores of the machine, the tools and the plan it used.

Numbers travel as Decimal of their shortest text (never computed, so the text says exactly the float), enums as their
value, sets as sorted lists. `load` gives an equal value back.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any, TypeVar

from shopflow.records.canonical import decimal_text

T = TypeVar("T")


def plain(value: object) -> object:
    """The value as None, bool, int, str, Decimal, list and dict; raises TypeError for what has no such form."""
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain(getattr(value, item.name)) for item in fields(value)}
    match value:
        case Enum():
            return plain(value.value)
        case None | bool() | int() | str():
            return value
        case float():
            return number(value)
        case Decimal():
            return value
        case frozenset() | set():
            return sorted((plain(item) for item in value), key=str)
        case list() | tuple():
            return [plain(item) for item in value]
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
    raise TypeError(f"{type(value).__name__} has no plain form")


def number(value: float) -> Decimal:
    """The float by its shortest text: 0.1 is 0.1."""
    return Decimal(repr(value))


def texts(value: object) -> object:
    """Plain values with each Decimal as its text, which is how they come back from JSON."""
    match value:
        case Decimal():
            return decimal_text(value)
        case list():
            return [texts(item) for item in value]
        case dict():
            return {key: texts(item) for key, item in value.items()}
    return value


def load(wanted: type[T], data: Any) -> T:
    """The value of this type that `plain` made the data of, which may have been through JSON since."""
    loaded: T = _load(wanted, data)
    return loaded


def _load(wanted: Any, data: Any) -> Any:
    origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
    if origin in (typing.Union, types.UnionType):
        return None if data is None else _load(_single(arguments), data)
    if origin is tuple:
        kinds = [arguments[0]] * len(data) if arguments[1:] == (...,) else arguments
        return tuple(_load(kind, item) for kind, item in zip(kinds, data, strict=True))
    if origin in (frozenset, set, list):
        return origin(_load(arguments[0], item) for item in data)
    if origin is dict or origin is Mapping or getattr(origin, "__name__", "") == "Mapping":
        return {_load(arguments[0], key): _load(arguments[1], item) for key, item in data.items()}
    if is_dataclass(wanted) and isinstance(wanted, type):
        hints = _hints(wanted)
        # A field that came after the data was written has its default.
        said = {item.name: data[item.name] for item in fields(wanted) if item.name in data}
        return wanted(**{name: _load(hints[name], value) for name, value in said.items()})
    return _simple(wanted, data)


def _simple(wanted: Any, data: Any) -> Any:
    if wanted in (float, int, Decimal, str) or (isinstance(wanted, type) and issubclass(wanted, Enum)):
        return wanted(data)
    return data


def _single(arguments: tuple[Any, ...]) -> Any:
    return next(kind for kind in arguments if kind is not type(None))


@cache
def _hints(wanted: Any) -> dict[str, Any]:
    return typing.get_type_hints(wanted)
