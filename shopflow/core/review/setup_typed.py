"""Values of SETUP.toml as they are typed: each is what it should be, or refused with the place where it stands."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from shopflow.core.errors import CoreError
from shopflow.core.types import Box, Vector


class Wrong(CoreError):
    """A value of the file is not what it should be."""


def need(said: Mapping[str, Any], key: str, kind: type, where: str = "") -> Any:
    """The value of a key that has to be there. Raises Wrong, as all of these do; where: the table, for its words."""
    if not isinstance(said.get(key), kind):
        raise Wrong(f"{where or 'the file'}: “{key}” is missing or of the wrong kind.")
    return said[key]


def only(said: Mapping[str, Any], known: frozenset[str], where: str) -> None:
    """Refuse a key that nobody reads: a word typed wrongly would be passed over."""
    unknown = sorted(set(said) - known)
    if unknown:
        raise Wrong(f"{where}: “{unknown[0]}” is not known here; known are {', '.join(sorted(known))}.")


def numbers(value: Any, count: int, where: str) -> tuple[float, ...]:
    is_list = isinstance(value, list) and len(value) == count
    if not is_list or not all(isinstance(one, (int, Decimal)) and not isinstance(one, bool) for one in value):
        raise Wrong(f"{where} is to be {count} numbers.")
    return tuple(float(one) for one in value)


def whole(value: Any, where: str) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise Wrong(f"{where} is to be a list of whole numbers.")
    return value


def vector(value: Any, where: str) -> Vector:
    """Three numbers along X, Y and Z."""
    x, y, z = numbers(value, 3, where)
    return x, y, z


def box(value: Any, where: str) -> Box:
    """Lowest and highest corner, mm."""
    if not isinstance(value, list) or len(value) != 2:
        raise Wrong(f"{where} is to be the lowest corner and the highest: [[x, y, z], [x, y, z]].")
    low, high = vector(value[0], where), vector(value[1], where)
    if any(a >= b for a, b in zip(low, high, strict=True)):
        raise Wrong(f"{where}: its second corner must lie above the first in X, Y and Z.")
    return low, high
