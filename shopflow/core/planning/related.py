"""Features that the model tolerances to one another: cut in one clamping where that can be, named where it cannot."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from shopflow.core.planning.needs import FarMouth, Need
from shopflow.core.planning.orientations import Orientation
from shopflow.core.solid.reading import PlaneGroup, Reading


@dataclass(frozen=True)
class Relation:
    """One tolerance with datums. what: in words. needs: the toleranced feature and the features of its datums."""

    what: str
    needs: tuple[Need, ...]


@dataclass(frozen=True)
class Apart:
    """A relation that is cut in several clampings. setups: their numbers, from 1."""

    what: str
    setups: tuple[int, ...]


def relations(reading: Reading, needs: Sequence[Need]) -> list[Relation]:
    """From the annotations of the file: each tolerance that names datums, with the features on whose faces both lie."""
    datums = {letter: set(item.faces) for item in reading.pmi.items if item.kind == "datum" for letter in item.datums}
    found = []
    for item in reading.pmi.items:
        if item.kind == "tolerance" and item.datums and item.faces:
            faces = set(item.faces).union(*(datums.get(letter, set()) for letter in item.datums))
            held = tuple(need for need in needs if faces & faces_of(need))
            if len(held) > 1:
                value = f" {item.value:g}" if item.value is not None else ""
                found.append(Relation(f"{item.name}{value} to {', '.join(item.datums)}", held))
    return found


def faces_of(need: Need) -> set[int]:
    """The model's faces that are cut with it."""
    if isinstance(need.feature, PlaneGroup):
        return {face for level in need.feature.levels for face in level.faces}
    feature = need.feature.hole if isinstance(need.feature, FarMouth) else need.feature
    return set(feature.faces)


def together(sides: Sequence[Orientation], found: Collection[Relation]) -> tuple[list[Orientation], list[Apart]]:
    """The same setups with holes and pockets moved so that what belongs together is cut in one clamping.

    Planes stay: the outline is cut first, and floors where they look up. What stays apart is named.
    """
    place = {id(need): index for index, side in enumerate(sides) for need in side.needs}
    for relation in found:
        _move(relation, sides, place)
    made = [
        replace(side, needs=tuple(need for other in sides for need in other.needs if place[id(need)] == index))
        for index, side in enumerate(sides)
    ]
    return made, [apart for relation in found if (apart := _apart(relation, place))]


def _move(relation: Relation, sides: Sequence[Orientation], place: dict[int, int]) -> None:
    """To the earliest setup that reaches all of it, first of those in which a plane of it is cut."""
    held = [need for need in relation.needs if id(need) in place]
    fixed = {place[id(need)] for need in held if isinstance(need.feature, PlaneGroup)}
    moved = [need for need in held if not isinstance(need.feature, PlaneGroup)]
    able = [index for index, side in enumerate(sides) if all(side.reaches(need) for need in moved)]
    best = next((index for index in able if index in fixed), next(iter(able), None))
    if best is not None and len({place[id(need)] for need in held}) > 1:
        place.update((id(need), best) for need in moved)


def _apart(relation: Relation, place: dict[int, int]) -> Apart | None:
    numbers = sorted({place[id(need)] + 1 for need in relation.needs if id(need) in place})
    return Apart(relation.what, tuple(numbers)) if len(numbers) > 1 else None
