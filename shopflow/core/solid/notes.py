"""Notes and surface finish that a STEP file carries as data (AP242), read from its text; the library gives neither.

A note hangs on a PROPERTY_DEFINITION named "semantic text", a finish on one named "surface condition" or the like
(ISO 10303-45 and -242; notes as real files write them, finishes from memory of the usual practice, as no file at hand
has one). `aspects` finds the faces that they belong to.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from shopflow.core.solid.aspects import Aspects
from shopflow.core.solid.text import clean
from shopflow.core.solid.values import PmiItem

MOST_NOTES = 300
LONGEST_NOTE = 2000
LINE = 200
MICRO_MM = 0.001

_PROPERTY = re.compile(
    rb"#(\d+)\s*=\s*PROPERTY_DEFINITION\s*\(\s*'((?:[^']|'')*)'\s*,\s*(?:\$|'(?:[^']|'')*')\s*,\s*#(\d+)\s*\)"
)
_WORDS = re.compile(rb"DESCRIPTIVE_REPRESENTATION_ITEM\s*\(\s*'((?:[^']|'')*)'\s*,\s*'((?:[^']|'')*)'\s*\)")
_ITEM_NAME = re.compile(rb"REPRESENTATION_ITEM\s*\(\s*'((?:[^']|'')*)'")
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


def _read(file: Aspects, wanted: list[tuple[int, str, int]], *, is_inch: bool) -> list[Note]:
    notes: list[Note] = []
    for number, name, aspect in wanted:
        faces = file.faces_of(aspect)
        for representation in file.representations.get(number, ()):
            is_finish = bool(_FINISH_NAME.search(name))
            notes += _notes(file, representation, faces, is_inch=is_inch, is_finish=is_finish)
    return notes


def items(file: Aspects, numbers: Mapping[int, int], *, is_inch: bool) -> list[PmiItem]:
    """Notes and finishes of a file as annotations, in its order. is_inch: what a finish in words without a unit is in,
    µin or µm. numbers: of faces by their entities, `aspects.face_numbers`; others are not tied.
    """
    return [_item(note, numbers) for note in _read(file, _wanted(file.data), is_inch=is_inch)]


def _item(note: Note, numbers: Mapping[int, int]) -> PmiItem:
    faces = tuple(sorted(numbers[entity] for entity in note.face_entities if entity in numbers))
    if note.finish:
        name, value = note.finish
        return PmiItem("finish", name, value=value, upper=value, faces=faces, text=note.text)
    return PmiItem("note", "note", faces=faces, text=note.text)


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


def _notes(
    file: Aspects, representation: int, faces: tuple[int, ...], *, is_inch: bool, is_finish: bool
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
