"""What has to be cut, and from which of the six sides a cutter gets to it."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.planning.directions import AXES, SQUARE, along, name_of, names_of
from shopflow.core.planning.holes import grooves_of
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid.reading import FaceFacts, Hole, PlaneGroup, Pocket, Reading

MINUS = "\u2212"


@dataclass(frozen=True)
class FarMouth:
    """The wider other end of a through hole, which is cut from there. axis: out of that end."""

    hole: Hole

    @property
    def axis(self) -> tuple[float, float, float]:
        return _turned(self.hole.axis)


@dataclass(frozen=True)
class Undercut:
    """A face that no side sees. axis: where it looks, where something stands in the way."""

    face: FaceFacts

    @property
    def axis(self) -> tuple[float, float, float]:
        return self.face.normal

    @property
    def faces(self) -> tuple[int, ...]:
        return (self.face.index,)


@dataclass(frozen=True)
class Need:
    """One feature to be cut. what: in words, with its size. sides: axes from which it can be cut, empty for none."""

    what: str
    sides: frozenset[str]
    feature: Hole | Pocket | PlaneGroup | FarMouth | Undercut


def needs_of(reading: Reading, rules: PlanRules) -> list[Need]:
    """Every hole, pocket, slot and plane side of the part that is read.

    A step is not a need of its own: its floor and its wall are planes, each cut with the side that it looks to.
    """
    return [
        *(Need(hole_words(hole, rules), hole_sides(hole), hole) for hole in reading.holes),
        *_far_mouths(reading, rules),
        *(Need(_pocket_words(pocket, rules), names_of(pocket.reach), pocket) for pocket in recesses(reading)),
        *(Need(_plane_words(group), plane_sides(group), group) for group in reading.planes),
    ]


def hidden(reading: Reading) -> list[Need]:
    """Faces that no side sees in a straight line, each as a need of its own: what a T-slot or dovetail cutter is for.

    Grooves in bores are operations of their holes and not among them.
    """
    with_holes = {face for hole in reading.holes if grooves_of(hole) for face in hole.faces}
    by_number = {face.index: face for face in reading.faces}
    faces = [by_number[n] for n in reading.unreached if n in by_number and n not in with_holes]
    return [Need(_hidden_words(face), frozenset(), Undercut(face)) for face in faces]


def _hidden_words(face: FaceFacts) -> str:
    looks = name_of(face.normal)
    kind = {"plane": "flat face", "cylinder": "round face"}.get(face.kind, "rounded face")
    way = f" that looks to {looks.replace('-', MINUS)}" if looks else ""
    return f"undercut {kind}{way}: a T-slot or dovetail cutter, or another process"


def _far_mouths(reading: Reading, rules: PlanRules) -> list[Need]:
    """One looks straight into it from its own end, so that end is all it needs; a slanted one no side reaches."""
    wide = [hole for hole in reading.holes if hole.far_counterbore_mm or hole.far_countersink_mm]
    return [
        Need(f"far end of {hole_words(hole, rules)}", names_of([_turned(hole.axis)]), FarMouth(hole)) for hole in wide
    ]


def recesses(reading: Reading) -> list[Pocket]:
    """Pockets and slots, without steps."""
    return [pocket for pocket in reading.pockets if pocket.kind != "step"]


def hole_sides(hole: Hole) -> frozenset[str]:
    """Sides a drill gets in from; where the reader could not look, the mouth's own, and both for a through hole.

    What is wider at one mouth is cut from there.
    """
    reach = hole.reach or ((hole.axis, _turned(hole.axis)) if hole.through else (hole.axis,))
    sides = names_of(reach)
    mouth = name_of(hole.axis)
    has_wide_mouth = hole.counterbore_mm is not None or hole.countersink_mm is not None
    return sides & {mouth} if has_wide_mouth and mouth in sides else sides


def plane_sides(group: PlaneGroup) -> frozenset[str]:
    """A plane is a floor seen from above, a wall seen from the side, a slope between; only from behind it is hidden."""
    return frozenset(name for name, axis in AXES.items() if along(group.direction, axis) > -SQUARE)


def hole_words(hole: Hole, rules: PlanRules) -> str:
    depth = "through" if hole.through else f"{rules.say(hole.depth_mm)} deep"
    slanted = "" if name_of(hole.axis) else ", slanted"
    return f"hole ⌀{rules.say(hole.diameter_mm)} {depth}{slanted}"


def _pocket_words(pocket: Pocket, rules: PlanRules) -> str:
    slanted = "" if name_of(pocket.axis) else ", its floor slanted"
    return f"{pocket.kind} {rules.say(pocket.depth_mm)} deep{slanted}"


def _plane_words(group: PlaneGroup) -> str:
    name = name_of(group.direction)
    if name:
        return f"faces that look to {name}"
    return "slanted faces that look to " + ", ".join(f"{part:.2f}" for part in group.direction)


def _turned(axis: tuple[float, float, float]) -> tuple[float, float, float]:
    return (-axis[0], -axis[1], -axis[2])
