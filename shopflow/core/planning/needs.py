"""What has to be cut, and from which of the six sides a cutter gets to it."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.planning.directions import AXES, SQUARE, along, name_of, names_of
from shopflow.core.planning.holes import grooves_of
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.sights import Glimpsed, asking, is_dark
from shopflow.core.planning.slots.side_slot import SideSlot
from shopflow.core.planning.slots.undercuts import side_slots
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
class Aslant:
    """A face that is in sight only with the part tilted. reach: from where, towards the spindle."""

    face: FaceFacts

    @property
    def axis(self) -> tuple[float, float, float]:
        return self.face.normal

    @property
    def reach(self) -> tuple[tuple[float, float, float], ...]:
        return self.face.aslant

    @property
    def faces(self) -> tuple[int, ...]:
        return (self.face.index,)


@dataclass(frozen=True)
class Need:
    """One feature to be cut. what: in words, with its size. sides: axes from which it can be cut, empty for none."""

    what: str
    sides: frozenset[str]
    feature: Hole | Pocket | PlaneGroup | FarMouth | Undercut | Aslant | Glimpsed | SideSlot


def needs_of(reading: Reading, rules: PlanRules) -> list[Need]:
    """Every hole, pocket, slot and plane side of the part that is read.

    A step is not a need of its own: its floor and its wall are planes, each cut with the side that it looks to. Faces
    that few sides see ask for one of them where nothing else does.
    """
    slots = side_slots(reading)
    of_slots = {face for slot in slots for face in slot.faces}
    planes = [one for one in reading.planes if not all(of_slots.issuperset(level.faces) for level in one.levels)]
    made = [
        *(Need(hole_words(hole, rules), hole_sides(hole), hole) for hole in reading.holes),
        *_far_mouths(reading, rules),
        *(Need(_pocket_words(pocket, rules), names_of(pocket.reach), pocket) for pocket in recesses(reading)),
        *(Need(_plane_words(group), plane_sides(group), group) for group in planes),
    ]
    made += [Need(side_slot_words(slot, rules), frozenset({slot.up, *slot.others}), slot) for slot in slots]
    elsewhere = _with_holes(reading) | of_slots | {face for need in hidden(reading) for face in _faces(need)}
    looks = asking(reading, elsewhere, [need.sides for need in made])
    return [*made, *(Need(_glimpsed_words(look), look.sides, look) for look in looks)]


def _with_holes(reading: Reading) -> set[int]:
    return {face for hole in reading.holes for face in hole.faces}


def _faces(need: Need) -> tuple[int, ...]:
    return need.feature.faces if isinstance(need.feature, Undercut | Aslant) else ()


def hidden(reading: Reading) -> list[Need]:
    """Faces that no side sees in a straight line, each as a need of its own: what is cut with the part tilted, or what
    a T-slot or dovetail cutter is for.

    Grooves in bores are operations of their holes and not among them.
    """
    with_holes = {face for hole in reading.holes if grooves_of(hole) for face in hole.faces}
    of_holes = _with_holes(reading)
    of_slots = {face for slot in side_slots(reading) for face in slot.faces}
    unreached = set(reading.unreached) - with_holes
    faces = [
        face
        for face in reading.faces
        if face.index not in of_slots
        and (is_dark(face) and face.index not in of_holes - unreached if face.seen else face.index in unreached)
    ]
    return [
        Need(_aslant_words(face), frozenset(), Aslant(face))
        if face.aslant
        else Need(_hidden_words(face), frozenset(), Undercut(face))
        for face in faces
    ]


def side_slot_words(slot: SideSlot, rules: PlanRules) -> str:
    """As "T-slot 16 mm wide under a neck of 8 mm, 5 mm high"."""
    if slot.kind == "groove":
        return f"groove round ⌀{rules.say(slot.across_mm)}, {rules.say(slot.high_mm)} wide"
    return (
        f"{slot.kind} {rules.say(slot.across_mm)} wide under {rules.say(slot.neck_mm)}, {rules.say(slot.high_mm)} high"
    )


def _hidden_words(face: FaceFacts) -> str:
    return f"undercut {_face_words(face)}: a T-slot or dovetail cutter, or another process"


def _aslant_words(face: FaceFacts) -> str:
    return f"{_face_words(face)} in sight only with the part tilted"


def _glimpsed_words(look: Glimpsed) -> str:
    from_where = " or ".join(name.replace("-", MINUS) for name in AXES if name in look.sides)
    count = len(look.looks)
    return f"{_face_words(look.looks[0]) if count == 1 else f'{count} faces'} in sight only from {from_where}"


def _face_words(face: FaceFacts) -> str:
    looks = name_of(face.normal)
    kind = {"plane": "flat face", "cylinder": "round face"}.get(face.kind, "rounded face")
    return kind + (f" that looks to {looks.replace('-', MINUS)}" if looks else "")


def why_out(need: Need) -> str:
    """What no clamping reaches, with why."""
    if isinstance(need.feature, Undercut):
        return need.what
    return f"{need.what}: in the way of every straight line to it stands the part itself"


def _far_mouths(reading: Reading, rules: PlanRules) -> list[Need]:
    """One looks straight into it from its own end, so that end is all it needs; a slanted one no side reaches."""
    wide = [hole for hole in reading.holes if hole.far_counterbore_mm or hole.far_countersink_mm]
    return [
        Need(f"far end of {hole_words(hole, rules)}", names_of([_turned(hole.axis)]), FarMouth(hole)) for hole in wide
    ]


def recesses(reading: Reading) -> list[Pocket]:
    """Pockets and slots, without steps, and without those that are part of a T-slot, dovetail or groove."""
    of_slots = {face for slot in side_slots(reading) for face in slot.faces}
    return [one for one in reading.pockets if one.kind != "step" and not of_slots.intersection(one.faces)]


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
