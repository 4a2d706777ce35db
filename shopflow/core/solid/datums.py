"""Faces of datums out of the text of a STEP file, for those that the library gives without faces.

A DATUM is tied to faces itself or through a DATUM_FEATURE that stands in a relationship with it (ISO 10303-47 and -242,
as real files write them).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from shopflow.core.solid.aspects import Aspects
from shopflow.core.solid.text import clean
from shopflow.core.solid.values import Pmi

_DATUM = re.compile(
    rb"#(\d+)\s*=\s*DATUM\s*\(\s*(?:'(?:[^']|'')*'|\$)\s*,\s*(?:'(?:[^']|'')*'|\$)\s*,\s*#\d+\s*,"
    rb"\s*\.\w+\.\s*,\s*'((?:[^']|''){0,80})'\s*\)"
)


def completed(found: Pmi, file: Aspects, numbers: Mapping[int, int]) -> Pmi:
    """The annotations, with the faces of their datums where the library gave none."""
    if all(item.faces for item in found.items if item.kind == "datum"):
        return found
    by_letter = faces(file, numbers)
    items = (
        replace(item, faces=by_letter.get(item.datums[0], ())) if item.kind == "datum" and not item.faces else item
        for item in found.items
    )
    return replace(found, items=tuple(items))


def faces(file: Aspects, numbers: Mapping[int, int]) -> dict[str, tuple[int, ...]]:
    """Numbers of the faces of each datum by its letter."""
    found: dict[str, set[int]] = {}
    for datum in _DATUM.finditer(file.data):
        number, letter = int(datum[1]), clean(datum[2].decode("latin-1"), 8)
        features = [feature for feature, parts in file.parts.items() if number in parts]
        entities = (entity for aspect in (number, *features) for entity in file.faces_of(aspect))
        found.setdefault(letter, set()).update(numbers[entity] for entity in entities if entity in numbers)
    return {letter: tuple(sorted(places)) for letter, places in found.items()}
