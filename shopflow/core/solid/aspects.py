"""Shape aspects in the text of a STEP file: which faces an annotation belongs to.

What it belongs to is a shape aspect, tied to faces by GEOMETRIC_ITEM_SPECIFIC_USAGE or, for a set of them,
ITEM_IDENTIFIED_REPRESENTATION_USAGE (ISO 10303-242). The library numbers a solid's faces in the order of its shells.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from shopflow.core.solid.text import MM_PER_UNIT, unit_name

MOST_PARTS = 500

_SOLID = re.compile(rb"#(\d+)\s*=\s*(?:MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS)\b")
_START = re.compile(rb"#(\d+)\s*=")
_REPRESENTED = re.compile(rb"(?:PROPERTY_DEFINITION|SHAPE_ASPECT)_REPRESENTATION\s*\(\s*#(\d+)\s*,\s*#(\d+)\s*\)")
_USAGE = re.compile(
    rb"(?:GEOMETRIC_ITEM_SPECIFIC|ITEM_IDENTIFIED_REPRESENTATION)_USAGE\s*\([^;]*?#(\d+)\s*,\s*#\d+\s*,\s*([^;]*)\)\s*;"
)
_PARTS = re.compile(rb"SHAPE_ASPECT_RELATIONSHIP\s*\(\s*(?:'(?:[^']|'')*'|\$)\s*,[^#;]*#(\d+)\s*,\s*#(\d+)\s*\)")
_LENGTH = re.compile(rb"LENGTH_MEASURE\s*\(\s*([-+\d.Ee]+)\s*\)\s*,\s*#(\d+)")
_LIST = re.compile(rb"\(((?:\s*#\d+\s*,?)+)\)")
_REFERENCE = re.compile(rb"#(\d+)")


@dataclass(frozen=True)
class Counted:
    """A solid that was read. faces: how many it has; first: number of its first, None where it is not looked at."""

    faces: int
    first: int | None


class Aspects:
    """The few kinds of entity that notes and datums hang together by, found by number."""

    def __init__(self, data: bytes) -> None:
        self.data = data

    @cached_property
    def starts(self) -> dict[int, int]:
        """Where the text of each entity begins."""
        return {int(found[1]): found.end() for found in _START.finditer(self.data)}

    @cached_property
    def representations(self) -> dict[int, list[int]]:
        """Of each property."""
        return self._table(_REPRESENTED)

    @cached_property
    def usages(self) -> dict[int, list[int]]:
        """Items that each shape aspect is tied to."""
        return self._table(_USAGE)

    @cached_property
    def parts(self) -> dict[int, list[int]]:
        """What each shape aspect is related to."""
        return self._table(_PARTS)

    def _table(self, pattern: re.Pattern[bytes]) -> dict[int, list[int]]:
        table: dict[int, list[int]] = {}
        for found in pattern.finditer(self.data):
            table.setdefault(int(found[1]), []).extend(_references(found[2]))
        return table

    def entity(self, number: int) -> bytes:
        """The text of an entity without its number; b"" where there is none."""
        start = self.starts.get(number)
        if start is None:
            return b""
        end, quoted = start, False
        while end < len(self.data) and (quoted or self.data[end] != 0x3B):  # a semicolon
            quoted ^= self.data[end] == 0x27  # an apostrophe; a doubled one changes twice
            end += 1
        return self.data[start:end]

    def faces_of(self, aspect: int) -> tuple[int, ...]:
        """Entities of the faces that a shape aspect, or the aspects that make it up, stands for."""
        aspects = [aspect]
        for one in aspects:  # grows while it is walked
            aspects += [part for part in self.parts.get(one, ()) if part not in aspects][:MOST_PARTS]
            if len(aspects) > MOST_PARTS:
                break
        used = (item for one in aspects for item in self.usages.get(one, ()))
        return tuple(dict.fromkeys(item for item in used if b"ADVANCED_FACE" in self.entity(item)[:40]))

    def items(self, representation: int) -> Iterator[bytes]:
        listed = _LIST.search(self.entity(representation))
        for number in _REFERENCE.findall(listed[1] if listed else b""):
            yield self.entity(int(number))

    def millimetres(self, item: bytes) -> float | None:
        """A length with its unit, in mm; None where the item holds none, or in a unit that is not known."""
        found = _LENGTH.search(item)
        size = MM_PER_UNIT.get(unit_name(self.entity(int(found[2])))) if found else None
        return float(found[1]) * size if found and size else None


def _references(said: bytes) -> list[int]:
    """The entities that some text names, or the one number that it is."""
    return [int(said)] if said.isdigit() else [int(number) for number in _REFERENCE.findall(said)]


def face_numbers(file: Aspects, solids: Sequence[Counted]) -> dict[int, int]:
    """The number of each face by its entity, for the solids that can be told by their count of faces.

    A solid is left out where its count differs from what the file says (it was mended on the way), and where several
    have the same (one body that stands in an assembly twice).
    """
    written = _faces_of_solids(file)
    once = Counter(map(len, written))
    read = Counter(solid.faces for solid in solids)
    firsts = {solid.faces: solid.first for solid in solids if read[solid.faces] == 1}
    numbers: dict[int, int] = {}
    for faces in written:
        first = firsts.get(len(faces)) if once[len(faces)] == 1 else None
        if first is not None:
            numbers |= {entity: first + place for place, entity in enumerate(faces)}
    return numbers


def _faces_of_solids(file: Aspects) -> list[list[int]]:
    """Entities of the faces of each solid, in the order of its shells."""
    found = []
    for solid in _SOLID.finditer(file.data):
        shells = [_turned(file, int(shell)) for shell in _REFERENCE.findall(file.entity(int(solid[1])))]
        found.append([int(face) for shell in shells for face in _REFERENCE.findall(file.entity(shell))])
    return found


def _turned(file: Aspects, shell: int) -> int:
    """The shell itself, where it is named through one that only turns it round."""
    said = file.entity(shell)
    return int(_REFERENCE.findall(said)[0]) if said.lstrip().startswith(b"ORIENTED_CLOSED_SHELL") else shell
