"""Which numbers a program's text may call, found without reading it as a program."""

from __future__ import annotations

import re
from dataclasses import dataclass

_CALLED = re.compile(rb"[THD][ \t]*0*([0-9]{1,6})(?![0-9])", re.IGNORECASE)
_COMPUTED = re.compile(rb"[THD][ \t]*[#\[]", re.IGNORECASE)
MOST_NUMBERS = 500
"""A text that names more numbers than any carousel holds is taken to call anything."""


@dataclass(frozen=True)
class Calls:
    """numbers: after T, H or D anywhere, comments included, so never too few. any: a number is computed."""

    numbers: tuple[int, ...]
    any: bool


def find(data: bytes) -> Calls:
    """The tool, length and radius numbers that these bytes name."""
    numbers = sorted({int(found) for found in set(_CALLED.findall(data))} - {0})
    if len(numbers) > MOST_NUMBERS:
        return Calls((), any=True)
    return Calls(tuple(numbers), any=bool(_COMPUTED.search(data)))
