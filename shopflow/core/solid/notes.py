"""Notes and surface finish that a STEP file carries as data (AP242), read from its text; the library gives neither.

A note hangs on a PROPERTY_DEFINITION named "semantic text", a finish on one named "surface condition" or the like
(ISO 10303-45 and -242; notes as real files write them, finishes from memory of the usual practice, as no file at hand
has one). What they belong to is a shape aspect, tied to faces by GEOMETRIC_ITEM_SPECIFIC_USAGE.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from shopflow.core.solid.text import MM_PER_UNIT, clean, unit_name
from shopflow.core.solid.values import PmiItem

MOST_NOTES = 300
LONGEST_NOTE = 2000
LINE = 200
MOST_PARTS = 500
MICRO_MM = 0.001

_SOLID = re.compile(rb"#(\d+)\s*=\s*(?:MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS)\b")
_START = re.compile(rb"#(\d+)\s*=")
_PROPERTY = re.compile(
    rb"#(\d+)\s*=\s*PROPERTY_DEFINITION\s*\(\s*'((?:[^']|'')*)'\s*,\s*(?:\$|'(?:[^']|'')*')\s*,\s*#(\d+)\s*\)"
)
_REPRESENTED = re.compile(rb"(?:PROPERTY_DEFINITION|SHAPE_ASPECT)_REPRESENTATION\s*\(\s*#(\d+)\s*,\s*#(\d+)\s*\)")
_USAGE = re.compile(rb"GEOMETRIC_ITEM_SPECIFIC_USAGE\s*\([^;]*?#(\d+)\s*,\s*#\d+\s*,\s*([^;]*)\)\s*;")
_PARTS = re.compile(rb"SHAPE_ASPECT_RELATIONSHIP\s*\(\s*(?:'(?:[^']|'')*'|\$)\s*,[^#;]*#(\d+)\s*,\s*#(\d+)\s*\)")
_WORDS = re.compile(rb"DESCRIPTIVE_REPRESENTATION_ITEM\s*\(\s*'((?:[^']|'')*)'\s*,\s*'((?:[^']|'')*)'\s*\)")
_ITEM_NAME = re.compile(rb"REPRESENTATION_ITEM\s*\(\s*'((?:[^']|'')*)'")
_LENGTH = re.compile(rb"LENGTH_MEASURE\s*\(\s*([-+\d.Ee]+)\s*\)\s*,\s*#(\d+)")
_LIST = re.compile(rb"\(((?:\s*#\d+\s*,?)+)\)")
_REFERENCE = re.compile(rb"#(\d+)")
_FINISH_NAME = re.compile(r"surface[ _]?(condition|texture|finish|roughness)", re.IGNORECASE)
_IN_WORDS = (
    re.compile(r"\b(Ra|Rz|Rq|RMS)\b[^\d\n]{0,12}(\d+(?:[.,]\d+)?)\s*(µm|um|µin|uin)?", re.IGNORECASE),
    re.compile(r"(\d+(?:[.,]\d+)?)\s*(µm|um|µin|uin|microinch(?:es)?)?\s*\b(Ra|Rz|Rq|RMS)\b", re.IGNORECASE),
)
_PARAMETERS = {"ra": "Ra", "rz": "Rz", "rq": "Rq", "rms": "Rq"}
_MICRO_INCH = 25.4e-6


@dataclass(frozen=True)
class Note:
    """What stands in the file. finish: parameter and largest value in mm for a surface finish, else None.

    text: plain, lines kept. face_entities: numbers of the faces' entities in the file, none for the whole part.
    """

    text: str
    face_entities: tuple[int, ...] = ()
    finish: tuple[str, float] | None = None


def _wanted(data: bytes) -> list[tuple[int, str, int]]:
    """Number, name and shape aspect of each property that may be a note or a finish, in the order of the file."""
    found = ((int(one[1]), clean(one[2].decode("latin-1")), int(one[3])) for one in _PROPERTY.finditer(data))
    wanted = [one for one in found if one[1].lower() == "semantic text" or _FINISH_NAME.search(one[1])]
    return wanted[:MOST_NOTES]


def _read(file: _File, wanted: list[tuple[int, str, int]], *, is_inch: bool) -> list[Note]:
    notes: list[Note] = []
    for number, name, aspect in wanted:
        faces = file.faces_of(aspect)
        for representation in file.representations.get(number, ()):
            is_finish = bool(_FINISH_NAME.search(name))
            notes += _notes(file, representation, faces, is_inch=is_inch, is_finish=is_finish)
    return notes


def items(data: bytes, *, is_inch: bool, faces: int) -> list[PmiItem]:
    """Notes and finishes of a file as annotations, in its order. is_inch: what a finish in words without a unit is in,
    µin or µm. faces: how many the one solid of the file has, 0 where there are several.

    The library numbers a solid's faces in the order of the file's shells; where the counts differ nothing is tied.
    """
    wanted = _wanted(data)
    if not wanted:
        return []
    file = _File(data)
    found = _read(file, wanted, is_inch=is_inch)
    order = _shell_order(file) if found and faces else []
    numbers = {entity: index for index, entity in enumerate(order)} if len(order) == faces else {}
    return [_item(note, numbers) for note in found]


def _item(note: Note, numbers: dict[int, int]) -> PmiItem:
    faces = tuple(sorted(numbers[entity] for entity in note.face_entities if entity in numbers))
    if note.finish:
        name, value = note.finish
        return PmiItem("finish", name, value=value, upper=value, faces=faces, text=note.text)
    return PmiItem("note", "note", faces=faces, text=note.text)


def _shell_order(file: _File) -> list[int]:
    """Entities of all faces in the order of the solids' shells."""
    shells = [
        int(shell) for solid in _SOLID.finditer(file.data) for shell in _REFERENCE.findall(file.entity(int(solid[1])))
    ]
    bare = [_turned(file, shell) for shell in shells]
    return [int(face) for shell in bare for face in _REFERENCE.findall(file.entity(shell))]


def _turned(file: _File, shell: int) -> int:
    """The shell itself, where it is named through one that only turns it round."""
    said = file.entity(shell)
    return int(_REFERENCE.findall(said)[0]) if said.lstrip().startswith(b"ORIENTED_CLOSED_SHELL") else shell


def finish_in(text: str, *, is_inch: bool) -> tuple[str, float] | None:
    """Parameter and value in mm of a finish said in words ("Ra 3.2", "125 RMS"); None where there is none."""
    forward, backward = (pattern.search(text) for pattern in _IN_WORDS)
    if forward:
        name, value, unit = forward[1], forward[2], forward[3]
    elif backward:
        value, unit, name = backward[1], backward[2], backward[3]
    else:
        return None
    by_inch = is_inch if not unit else "in" in unit.lower()
    size = _MICRO_INCH if by_inch else MICRO_MM
    return _PARAMETERS[name.lower()], float(value.replace(",", ".")) * size


class _File:
    """The few kinds of entity that notes hang together by, found by number."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.starts = {int(found[1]): found.end() for found in _START.finditer(data)}
        self.representations: dict[int, list[int]] = {}
        for found in _REPRESENTED.finditer(data):
            self.representations.setdefault(int(found[1]), []).append(int(found[2]))
        self.usages: dict[int, list[int]] = {}
        for found in _USAGE.finditer(data):
            self.usages.setdefault(int(found[1]), []).extend(map(int, _REFERENCE.findall(found[2])))
        self.parts: dict[int, list[int]] = {}
        for found in _PARTS.finditer(data):
            self.parts.setdefault(int(found[1]), []).append(int(found[2]))

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


def _notes(
    file: _File, representation: int, faces: tuple[int, ...], *, is_inch: bool, is_finish: bool
) -> Iterator[Note]:
    """The note of a representation: its lines together; each measured finish by itself."""
    lines: list[str] = []
    for item in file.items(representation):
        said = _WORDS.search(item)
        value = None if said else file.millimetres(item)
        if said:
            lines += [clean(line, LINE) for line in re.split(r"\\X\\0[AD]|\n", said[2].decode("latin-1"))]
        elif value is not None:
            found = _ITEM_NAME.search(item)
            name = clean(found[1].decode("latin-1"), 40) if found else ""
            yield Note("", faces, (_PARAMETERS.get(name.lower(), name or "Ra"), value))
    text = "\n".join(line for line in lines if line)[:LONGEST_NOTE]
    if text:
        yield Note(text, faces, finish_in(text, is_inch=is_inch) if is_finish or len(lines) <= 3 else None)
