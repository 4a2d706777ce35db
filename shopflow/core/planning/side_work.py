"""What one setup has to cut, in volumes, areas and lengths; none of it knows a tool."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, degrees, pi

from shopflow.core.planning.blanks.blank import BlankProposal, StockIn
from shopflow.core.planning.directions import AXES, along, flat_axes, height_axis, name_of, opposite
from shopflow.core.planning.orientations import Orientation
from shopflow.core.planning.sights import is_dark
from shopflow.core.planning.slots.side_slot import SideSlot
from shopflow.core.solid.reading import FaceFacts, Hole, Pocket, Reading

WALL_COSINE = 0.1
"""A face whose normal is nearly square to the spindle is a wall of that setup."""
ROUNDS = ("sphere", "torus", "freeform")
"""Faces that no end mill leaves in one pass, however it stands."""


@dataclass(frozen=True)
class SideWork:
    """Lengths mm, areas mm², volumes mm³.

    facing_*: the stock over the part that is faced off, 0 where nothing looks up. depth: how deep end mills go.
    inside_mm: how deep the floors inside the outline lie. outline_mm: round the part, 0 but in the first setup;
    allowance_mm: stock on it. inside_mm3: what is roughed away inside the outline besides pockets and holes. wall_mm2,
    floor_mm2: to finish there. surface_mm2: rounded and freeform faces; hollow_mm: their smallest inside radius.
    slope_mm2: slanted planes, which a ball surfaces as well.
    chamfers: (leg, included angle of the tool, length). far: holes whose wider mouth looks up although the hole itself
    is cut from the other side. side_slots: undercuts that a T-slot cutter makes from here.
    outline_depth_mm: how deep the outline is cut where two setups share it, None for all of depth_mm.
    """

    up: str
    facing_mm2: float
    facing_depth_mm: float
    facing_width_mm: float
    depth_mm: float
    inside_mm: float
    outline_mm: float
    allowance_mm: float
    inside_mm3: float
    wall_mm2: float
    floor_mm2: float
    pockets: tuple[Pocket, ...] = ()
    surface_mm2: float = 0.0
    hollow_mm: float | None = None
    slope_mm2: float = 0.0
    chamfers: tuple[tuple[float, float, float], ...] = ()
    edges_mm: float = 0.0
    edge_count: int = 0
    holes: tuple[Hole, ...] = ()
    far: tuple[Hole, ...] = ()
    side_slots: tuple[SideSlot, ...] = ()
    outline_depth_mm: float | None = None


def side_works(
    reading: Reading, sides: Sequence[Orientation], blank: BlankProposal, stocks: Sequence[StockIn]
) -> list[SideWork]:
    """For each setup what it cuts; every volume, face and edge counts once."""
    over = [_facing_mm2(side, n, reading, blank) for n, side in enumerate(sides)]
    inside = _inside_mm3(reading, sides)
    edges = _edges(reading, sides)
    surfaces = [_surfaces(reading, sides, n) for n in range(len(sides))]
    return [
        SideWork(
            up=side.up,
            facing_mm2=over[n],
            facing_depth_mm=stocks[n].over_mm if over[n] else 0.0,
            facing_width_mm=min(_flat(side.up, blank.size_mm if n == 0 else reading.bbox_mm)),
            depth_mm=depth_mm(reading, side, is_first=n == 0),
            inside_mm=depth_mm(reading, side, is_first=False),
            outline_mm=2 * sum(_flat(side.up, reading.bbox_mm)) if n == 0 else 0.0,
            allowance_mm=_allowance_mm(side.up, reading, blank) if n == 0 else 0.0,
            inside_mm3=inside[n],
            wall_mm2=_walls_mm2(reading, side.up) if n == 0 else 0.0,
            floor_mm2=_floors_mm2(reading, side),
            pockets=side.pockets,
            surface_mm2=surfaces[n][0],
            hollow_mm=surfaces[n][1],
            slope_mm2=_slopes_mm2(reading, sides, n),
            chamfers=_chamfers(reading, sides, n),
            edges_mm=edges[n][0],
            edge_count=edges[n][1],
            holes=side.holes,
            far=_far(reading, side.up),
            side_slots=side.side_slots,
        )
        for n, side in enumerate(sides)
    ]


def depth_mm(reading: Reading, side: Orientation, *, is_first: bool) -> float:
    """How deep end mills go: in the first setup the outline's whole height, later the deepest floor that looks up."""
    height_mm = reading.bbox_mm[height_axis(side.up)]
    if is_first:
        return height_mm
    floors = [
        group.levels[0].level_mm - level.level_mm
        for group in side.planes
        if name_of(group.direction) == side.up and group.levels
        for level in group.levels
    ]
    return max([*floors, *(pocket_depth_mm(pocket, side.up, height_mm) for pocket in side.pockets)], default=0.0)


def pocket_depth_mm(pocket: Pocket, up: str, height_mm: float) -> float:
    """How deep a pocket is from this side: its own depth where it opens upwards, else all of its length at most."""
    return pocket.depth_mm if name_of(pocket.axis) == up else min(pocket.length_mm, height_mm)


def pocket_mm3(pocket: Pocket) -> float:
    """What is cut out of it; of a reading that did not measure it, its box."""
    if pocket.volume_mm3 is not None:
        return pocket.volume_mm3
    return (pocket.width_mm or pocket.length_mm) * pocket.length_mm * pocket.depth_mm


def hole_mm3(hole: Hole) -> float:
    """Its full bore; what is wider at its mouth counts with the counterbore."""
    bore = pi / 4 * hole.diameter_mm**2 * hole.depth_mm
    wide = hole.counterbore_mm or hole.diameter_mm
    return bore + pi / 4 * (wide**2 - hole.diameter_mm**2) * (hole.counterbore_depth_mm or 0.0)


def _flat(up: str, size: Sequence[float]) -> list[float]:
    return [size[axis] for axis in flat_axes(up)]


def _facing_mm2(side: Orientation, index: int, reading: Reading, blank: BlankProposal) -> float:
    """Area of the stock over what looks up; nothing where no plane does, or where the setups before left none."""
    if not any(name_of(group.direction) == side.up for group in side.planes):
        return 0.0
    a, b = _flat(side.up, blank.size_mm if index == 0 else reading.bbox_mm)
    return a * b


def _allowance_mm(up: str, reading: Reading, blank: BlankProposal) -> float:
    flat = zip(_flat(up, blank.size_mm), _flat(up, reading.bbox_mm), strict=True)
    return max((large - small) / 2 for large, small in flat)


def _inside_mm3(reading: Reading, sides: Sequence[Orientation]) -> list[float]:
    """What is left of the part's box after holes and pockets, shared out by the room over each side's floors."""
    x, y, z = reading.bbox_mm
    taken = sum(hole_mm3(hole) for side in sides for hole in side.holes)
    taken += sum(pocket_mm3(pocket) for side in sides for pocket in side.pockets)
    taken += sum(slot.volume_mm3 for side in sides for slot in side.side_slots)
    left = max(x * y * z - reading.volume_mm3 - taken, 0.0)
    shares = [_room_above(reading, side) for side in sides]
    whole = sum(shares)
    return [left * share / whole if whole else left / len(sides) for share in shares]


def _room_above(reading: Reading, side: Orientation) -> float:
    """Volume of the columns between each floor that looks up and the part's top, mm³."""
    up, height = side.up, height_axis(side.up)
    top = reading.box_max_mm[height] if up[0] == "+" else -reading.box_min_mm[height]
    return sum(
        level.area_mm2 * max(top - level.level_mm, 0.0)
        for group in side.planes
        if name_of(group.direction) == up
        for level in group.levels
    )


def _walls_mm2(reading: Reading, up: str) -> float:
    return sum(g.area_mm2 for g in reading.planes if abs(along(g.direction, AXES[up])) < WALL_COSINE)


def _floors_mm2(reading: Reading, side: Orientation) -> float:
    """Planes below the highest that looks up, which facing leaves; those of holes and pockets are cut with them."""
    elsewhere = {face for hole in reading.holes for face in hole.faces}
    elsewhere |= {face for pocket in reading.pockets if pocket.kind != "step" for face in pocket.faces}
    elsewhere |= {face for slot in side.side_slots for face in slot.faces}
    areas = {face.index: face.area_mm2 for face in reading.faces}
    levels = [level for g in side.planes if name_of(g.direction) == side.up for level in g.levels[1:]]
    with_features = sum(areas.get(face, 0.0) for level in levels for face in level.faces if face in elsewhere)
    rings = sum(_ring_mm2(hole) for hole in side.holes)
    return max(sum(level.area_mm2 for level in levels) - with_features - rings, 0.0)


def _ring_mm2(hole: Hole) -> float:
    """The floor of a counterbore."""
    return pi / 4 * (hole.counterbore_mm**2 - hole.diameter_mm**2) if hole.counterbore_mm else 0.0


def _surfaces(reading: Reading, sides: Sequence[Orientation], index: int) -> tuple[float, float | None]:
    """Area and smallest hollow of the rounded faces whose middle looks most to this side; holes are cut as holes."""
    of_holes = {face for hole in reading.holes for face in hole.faces}
    of_chamfers = {face for chamfer in reading.chamfers for face in chamfer.faces}
    faces = [
        face
        for face in reading.faces
        if face.index not in of_holes | of_chamfers and _is_surface(face, sides) and _best(face, sides) == index
    ]
    hollow = min((face.radius_mm for face in faces if face.is_inside and face.radius_mm > 0), default=None)
    return sum(face.area_mm2 for face in faces), hollow


def _slopes_mm2(reading: Reading, sides: Sequence[Orientation], index: int) -> float:
    """Area of the slanted planes that look most to this side, but for walls with a draft and for the faces of recesses,
    which an end mill leaves, and for those that lie flat in a tilted clamping, which no straight setup has."""
    elsewhere = {face for chamfer in reading.chamfers for face in chamfer.faces}
    elsewhere |= {face for hole in reading.holes for face in hole.faces}
    elsewhere |= {face for pocket in reading.pockets if pocket.kind != "step" for face in pocket.faces}
    planes = {
        face
        for side in sides
        for group in side.planes
        if name_of(group.direction) is None
        for level in group.levels
        for face in level.faces
    }
    return sum(
        face.area_mm2
        for face in reading.faces
        if face.index in planes - elsewhere
        and not is_dark(face)
        and _best(face, sides) == index
        and along(face.normal, AXES[sides[index].up]) > WALL_COSINE
    )


def _is_surface(face: FaceFacts, sides: Sequence[Orientation]) -> bool:
    """A ball's work: round in two ways, or a cylinder or cone that lies, so that no setup looks along its axis."""
    if face.kind in ROUNDS:
        return True
    if face.kind not in ("cylinder", "cone"):
        return False
    return all(abs(along(face.normal, AXES[side.up])) > WALL_COSINE for side in sides)


def _best(face: FaceFacts, sides: Sequence[Orientation]) -> int:
    return max(range(len(sides)), key=lambda n: (along(face.normal, AXES[sides[n].up]), -n))


def _chamfers(reading: Reading, sides: Sequence[Orientation], index: int) -> tuple[tuple[float, float, float], ...]:
    """Broken edges that look up, added up by size. The tool's included angle is twice the flank's to the spindle."""
    by_number = {face.index: face for face in reading.faces}
    of_holes = {face for hole in reading.holes for face in hole.faces}
    lengths: dict[tuple[float, float], float] = {}
    for chamfer in reading.chamfers:
        faces = [by_number[face] for face in chamfer.faces if face in by_number and face not in of_holes]
        looking = [face for face in faces if _best(face, sides) == index]
        if looking and (rise := along(looking[0].normal, AXES[sides[index].up])) > WALL_COSINE:
            included = round(2 * _degrees_from_spindle(rise), 0)
            size = (round(chamfer.size_mm, 3), included)
            lengths[size] = lengths.get(size, 0.0) + chamfer.length_mm
    return tuple((size, angle, length) for (size, angle), length in sorted(lengths.items()))


def _degrees_from_spindle(rise: float) -> float:
    """Of a flank whose normal rises so: a normal at 45° is a flank at 45°."""
    return degrees(asin(min(max(rise, -1.0), 1.0)))


def _edges(reading: Reading, sides: Sequence[Orientation]) -> list[tuple[float, int]]:
    """(length, count) of the sharp edges that each setup reaches first; without single edges, equal shares."""
    sharp = reading.sharp_edges
    if not sharp.edges:
        return [(sharp.length_mm / len(sides), -(-sharp.count // len(sides))) for _ in sides]
    lengths, counts = [0.0] * len(sides), [0] * len(sides)
    for edge in sharp.edges:
        names = [name_of(way) for way in edge.reach]
        first = next((n for n, side in enumerate(sides) if side.up in names), None)
        if first is not None:
            lengths[first] += edge.length_mm
            counts[first] += 1
    return list(zip(lengths, counts, strict=True))


def _far(reading: Reading, up: str) -> tuple[Hole, ...]:
    """Holes with something to cut at their other mouth, which looks up here."""
    return tuple(
        hole
        for hole in reading.holes
        if (hole.far_counterbore_mm or hole.far_countersink_mm) and name_of(hole.axis) == opposite(up)
    )
