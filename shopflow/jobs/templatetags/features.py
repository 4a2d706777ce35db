"""What of a model must be cut beside its holes, and what is hard about it, sorted for the page."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from django import template
from django.utils.translation import gettext_lazy as _

from shopflow.core.solid import Chamfer, Fillet, Pocket, Reading

register = template.Library()

MOST = 40
DEEP_POCKET = 3.0
"""A pocket deeper than so many widths wants long cutters (common practice, no source)."""
DEEP_HOLE = 5.0
"""A hole deeper than so many diameters is pecked or drilled with through-coolant (common practice, no source)."""
DEEP_CORNER = 4.0
"""Depth over the width of the largest cutter that fits the corner; beyond it bends (common practice, no source)."""
KINDS = {
    "pocket": _("pocket"),
    "slot": _("slot"),
    "step": _("step"),
    "ring groove": _("ring groove"),
    "through pocket": _("opening through the part"),
}


class HasFaces(Protocol):
    @property
    def faces(self) -> Sequence[int]: ...


One = TypeVar("One", bound=HasFaces)


@dataclass(frozen=True)
class Equal:
    """Features of one size. words: what they are; first: one of them; faces: of all."""

    words: Any
    first: Any
    count: int
    faces: tuple[int, ...]


@dataclass(frozen=True)
class Hard:
    """Something hard about a part. length_mm or times: how much of it, where that is a length or a ratio."""

    words: Any
    faces: tuple[int, ...]
    length_mm: float | None = None
    times: float | None = None
    count: int = 1


@register.simple_tag
def recesses(reading: Reading) -> list[Equal]:
    """Pockets, slots and openings, equal ones together, the deepest first; then steps, which every cutter reaches."""
    pockets = sorted(reading.pockets, key=lambda pocket: (pocket.kind == "step", -pocket.depth_mm))
    return _equal(pockets, _size_of_pocket, lambda pocket: KINDS.get(pocket.kind, pocket.kind))


@register.simple_tag
def studs(reading: Reading) -> list[Equal]:
    """Round studs on a flat face, equal ones together."""
    return _equal(
        reading.bosses, lambda one: (round(one.diameter_mm, 2), round(one.height_mm, 2)), lambda one: _("stud")
    )


@register.simple_tag
def faces_of_solid(reading: Reading, index: int) -> list[int]:
    """Faces of one of several solids, for the row that asks whether it is the part."""
    return [face.index for face in reading.faces if face.solid == index] if len(reading.solids) > 1 else []


@register.simple_tag
def edges_cut(reading: Reading) -> list[Equal]:
    """Chamfers and roundings, equal ones together."""

    def fillet_words(fillet: Fillet) -> Any:
        return _("inside radius") if fillet.inside else _("outside radius")

    def chamfer_size(chamfer: Chamfer) -> Hashable:
        return round(chamfer.size_mm, 2), round(chamfer.other_size_mm, 2), chamfer.is_round

    fillets = sorted(reading.fillets, key=lambda fillet: (fillet.inside, fillet.radius_mm))
    return [
        *_equal(sorted(reading.chamfers, key=lambda one: one.size_mm), chamfer_size, lambda one: _("chamfer")),
        *_equal(fillets, lambda one: (round(one.radius_mm, 2), one.inside), fillet_words),
    ]


@register.simple_tag
def hard_about(reading: Reading) -> list[Hard]:
    """What makes the part hard to cut, equal things together."""
    freeform = tuple(face.index for face in reading.faces if face.kind == "freeform")
    found = [
        *(hard for group in recesses(reading) for hard in _hard_pocket(group)),
        *_deep_holes(reading),
        *_thin_places(reading),
    ]
    if reading.unreached:
        found.append(Hard(_("faces that no side of the part sees: undercuts or hollows"), reading.unreached))
    if freeform:
        found.append(Hard(_("freeform faces, to be surfaced"), freeform))
    return found


def _hard_pocket(group: Equal) -> Iterable[Hard]:
    pocket: Pocket = group.first
    if pocket.depth_to_width and pocket.depth_to_width > DEEP_POCKET:
        words = _("%s, deep for its width") % group.words
        yield Hard(words, group.faces, times=pocket.depth_to_width, count=group.count)
    corner = pocket.depth_mm / (2 * pocket.radius_mm) if pocket.radius_mm else 0.0
    if corner > DEEP_CORNER:
        words = _("%s, deep for the cutter that fits its corners") % group.words
        yield Hard(words, group.faces, times=corner, count=group.count)
    if pocket.sharp_corners:
        words = _("%s with inside corners that have no radius: a round cutter leaves some") % group.words
        yield Hard(words, group.faces, count=group.count)


def _deep_holes(reading: Reading) -> Iterable[Hard]:
    deep = [hole for hole in reading.holes if hole.depth_mm > DEEP_HOLE * hole.diameter_mm]
    for group in _equal(deep, lambda hole: (round(hole.diameter_mm, 2), round(hole.depth_mm, 1)), lambda hole: ""):
        hole = group.first
        times = hole.depth_mm / hole.diameter_mm
        yield Hard(_("hole, deep for its diameter"), group.faces, times=times, count=group.count)


def _thin_places(reading: Reading) -> Iterable[Hard]:
    for group in _equal(reading.thin, lambda place: round(place.thickness_mm, 2), lambda place: ""):
        words = _("thin wall or floor")
        yield Hard(words, group.faces, length_mm=group.first.thickness_mm, count=group.count)


def _size_of_pocket(pocket: Pocket) -> Hashable:
    sizes = (pocket.depth_mm, pocket.width_mm, pocket.length_mm, pocket.radius_mm, pocket.floor_radius_mm)
    return pocket.kind, pocket.sharp_corners, *(None if size is None else round(size, 2) for size in sizes)


def _equal(things: Iterable[One], size: Callable[[One], Hashable], words: Callable[[One], Any]) -> list[Equal]:
    groups: dict[Hashable, list[One]] = {}
    for thing in things:
        groups.setdefault(size(thing), []).append(thing)
    return [
        Equal(words(group[0]), group[0], len(group), tuple(face for one in group for face in one.faces))
        for group in groups.values()
    ]
