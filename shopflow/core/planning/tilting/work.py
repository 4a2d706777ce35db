"""What a tilted clamping cuts: its features seen as if they looked up, and a flat where a drill would wander.

A drill that meets a slope runs off, so a flat end mill no wider than the hole first cuts a flat seat, square to the
hole's axis and within the hole (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import acos, ceil, degrees, pi, radians, sqrt, tan

from shopflow.core.planning import picking
from shopflow.core.planning.directions import SQUARE, along, is_same_way
from shopflow.core.planning.hole_operations import HoleFacts, drilling
from shopflow.core.planning.holes import group_holes
from shopflow.core.planning.mill_operations import FACE_WIDTH, LEAST_FLOOR_MM2, merged, milling
from shopflow.core.planning.minutes import CLEAR_MM, ENTER_SHARE, timed
from shopflow.core.planning.needs import Aslant, FarMouth, recesses
from shopflow.core.planning.operations import Operation, OperationKind, Speeds, Wanted
from shopflow.core.planning.ordering import in_order
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.side_work import SideWork
from shopflow.core.planning.tilting.tilts import Tilt
from shopflow.core.solid.reading import FaceFacts, Hole, PlaneGroup, Pocket, Reading
from shopflow.core.types import Tool, ToolUse, Vector

UP: Vector = (0.0, 0.0, 1.0)
DOWN: Vector = (0.0, 0.0, -1.0)
AT_MOUTH_MM = 0.05
SLOPE_PASS_MM = 1.5
"""Of a facing pass over a slope that was roughed with the part square."""
MOST_SLANT_DEG = 80.0


def tilted_operations(
    tilt: Tilt, reading: Reading, crib: Sequence[Tool], rules: PlanRules, speeds: Speeds, facts: HoleFacts
) -> tuple[Operation, ...]:
    """In the order of the work, each with tool, speed and minutes as far as they are known."""
    work = tilted_work(tilt, reading)
    made = [
        *merged([*_facing(tilt, reading, crib, rules)]),
        *milling(work, crib, rules, speeds.material),
        *merged([*_seats(tilt, reading, crib, rules)]),
        *drilling(work, crib, rules, facts, speeds.material),
    ]
    return tuple(timed(one, speeds) for one in in_order(made))


def tilted_work(tilt: Tilt, reading: Reading) -> SideWork:
    """Its holes and pockets as they look from the spindle. The outline and all straight faces are cut before."""
    features = [need.feature for need in tilt.needs]
    area, hollow = _rounded(tilt, reading)
    return SideWork(
        up="+Z", facing_mm2=0.0, facing_depth_mm=0.0, facing_width_mm=0.0, depth_mm=0.0, inside_mm=0.0, outline_mm=0.0,
        allowance_mm=0.0, inside_mm3=0.0, wall_mm2=0.0, floor_mm2=0.0, surface_mm2=area, hollow_mm=hollow,
        pockets=tuple(_pocket_up(one, tilt.direction) for one in features if isinstance(one, Pocket)),
        holes=tuple(replace(one, axis=UP) for one in features if isinstance(one, Hole)),
        far=tuple(replace(one.hole, axis=DOWN) for one in features if isinstance(one, FarMouth)),
    )  # fmt: skip


def mouths(tilt: Tilt) -> list[Vector]:
    """Places of the model where something is cut, holes first."""
    features = [need.feature for need in tilt.needs]
    holes: list[Vector] = [one.position_mm for one in features if isinstance(one, Hole)]
    holes += [_far_end(one.hole) for one in features if isinstance(one, FarMouth)]
    holes += [one.position_mm for one in features if isinstance(one, Pocket)]
    return holes + [one.face.centre_mm for one in features if isinstance(one, Aslant)]


def stood_beside(tilt: Tilt) -> list[Vector]:
    """The lowest places of the model at which a tool stands beside the part: mouths, and the foot of each face."""
    features = [need.feature for need in tilt.needs]
    levels = [level.level_mm for one in features if isinstance(one, PlaneGroup) for level in one.levels]
    x, y, z = tilt.direction
    feet = [_foot(one.face, tilt.direction) for one in features if isinstance(one, Aslant)]
    return [*mouths(tilt), *((level * x, level * y, level * z) for level in levels), *feet]


def _foot(face: FaceFacts, way: Vector) -> Vector:
    """The lowest corner of the box round a face; its middle where the reading does not say how far it reaches."""
    if face.low_mm is None or face.high_mm is None:
        return face.centre_mm
    x, y, z = (a if part > 0 else b for a, b, part in zip(face.low_mm, face.high_mm, way, strict=True))
    return x, y, z


def slant_of_mouth(hole: Hole, tilt: Tilt, reading: Reading) -> float:
    """Degrees between the hole's axis and the face it opens in; 0 where that is square to it.

    From the sharp edge at its mouth; without one, as if it opened in the side nearest to up.
    """
    if any(
        is_same_way(group.direction, tilt.direction)
        and any(abs(level.level_mm - along(hole.position_mm, tilt.direction)) <= AT_MOUTH_MM for level in group.levels)
        for group in reading.planes
    ):
        return 0.0
    normals = {face.index: face.normal for face in reading.faces}
    own = set(hole.faces)
    rims = [edge for edge in reading.sharp_edges.edges if len(own & set(edge.faces)) == 1]
    rim = min(rims, key=lambda edge: _apart(edge.midpoint_mm, hole.position_mm), default=None)
    if rim is None:
        return tilt.degrees
    (opens_in,) = set(rim.faces) - own
    cosine = along(normals.get(opens_in, tilt.direction), tilt.direction)
    return degrees(acos(max(min(abs(cosine), 1.0), 0.0)))


def _seats(tilt: Tilt, reading: Reading, crib: Sequence[Tool], rules: PlanRules) -> Iterator[Operation]:
    """A flat in the slope for each hole; as deep as the slope falls over the hole's width."""
    holes = [need.feature for need in tilt.needs if isinstance(need.feature, Hole)]
    for group in group_holes(tuple(holes)):
        slants = [slant for hole in group.holes if (slant := slant_of_mouth(hole, tilt, reading)) > degrees(SQUARE)]
        if slants:
            yield _seat(group.first, len(slants), min(max(slants), MOST_SLANT_DEG), crib, rules)


def _seat(hole: Hole, count: int, slant: float, crib: Sequence[Tool], rules: PlanRules) -> Operation:
    wide = hole.counterbore_mm or hole.diameter_mm
    deep = wide * tan(radians(slant))
    mills = picking.end_mills(crib, ToolUse.HELICAL, deep)
    mill = picking.largest([tool for tool in mills if tool.centre_cutting], wide)
    mill = mill or picking.largest(mills, rules.hole_share * wide)
    what = f"{count} × flat seat for ⌀{rules.say(hole.diameter_mm)} in a slope of {slant:.3g}°"
    need = f"a flat end mill of at most ⌀{rules.say(wide)} that cuts over its centre and reaches {rules.say(deep)} deep"
    own = mill.diameter_mm if mill else wide
    layers = max(1, ceil(deep / (0.5 * own)))
    down = 2 * (deep + CLEAR_MM) / ENTER_SHARE
    around = layers * pi * max(wide - own, 0.0)
    return Operation(
        OperationKind.FACE, f"seat {hole.diameter_mm:.3f} {hole.depth_mm:.3f} {slant:.1f}", what, mill,
        None if mill else Wanted(need, what), family="seat", count=count, depth_mm=deep,
        length_mm=count * (down / layers + around / layers), axial_mm=deep / layers, radial_mm=own, passes=layers,
    )  # fmt: skip


def _flats(tilt: Tilt, reading: Reading) -> Iterator[tuple[float, str]]:
    """Area and words of the plane faces that are slanted in the part and lie flat here, but for the rings in holes and
    the floors of recesses, which are cut with those."""
    holes = [need.feature for need in tilt.needs if isinstance(need.feature, Hole)]
    of_pockets = {face for need in tilt.needs if isinstance(need.feature, Pocket) for face in need.feature.faces}
    for need in tilt.needs:
        match need.feature:
            case PlaneGroup() as group:
                if (area := _open_mm2(group, reading)) > LEAST_FLOOR_MM2:
                    yield area, f"slope of {tilt.degrees:.3g}°, flat here"
            case Aslant(face) if is_flat_here(face, tilt) and face.index not in of_pockets:
                if not any(_is_inside(face.centre_mm, hole) for hole in holes):
                    yield face.area_mm2, "flat face, in sight here only"


def _open_mm2(group: PlaneGroup, reading: Reading) -> float:
    """Area of a group's faces that belong to no hole and no pocket."""
    taken = {face for hole in reading.holes for face in hole.faces}
    taken |= {face for pocket in recesses(reading) for face in pocket.faces}
    inside = sum(
        face.area_mm2
        for face in reading.faces
        if face.index in taken and any(face.index in level.faces for level in group.levels)
    )
    return group.area_mm2 - inside


def _is_inside(point: Vector, hole: Hole) -> bool:
    """Whether it lies nearer to the hole's axis than the hole is wide."""
    way = [a - b for a, b in zip(point, hole.position_mm, strict=True)]
    deep = sum(a * b for a, b in zip(way, hole.axis, strict=True))
    widest = max(hole.diameter_mm, hole.counterbore_mm or 0.0, hole.countersink_mm or 0.0) / 2
    return sum(a * a for a in way) - deep * deep < widest**2


def is_flat_here(face: FaceFacts, tilt: Tilt) -> bool:
    return face.kind == "plane" and is_same_way(face.normal, tilt.direction)


def _facing(tilt: Tilt, reading: Reading, crib: Sequence[Tool], rules: PlanRules) -> Iterator[Operation]:
    """Slopes faced with an end mill; what stands over them was roughed with the part square."""
    able = picking.end_mills(crib, ToolUse.FACE, SLOPE_PASS_MM)
    for area, what in _flats(tilt, reading):
        side = sqrt(area)
        mill = picking.largest(able, side) or min(able, key=picking.size_then_number, default=None)
        wide = min(FACE_WIDTH * mill.diameter_mm, side) if mill else side
        rows = max(1, ceil(side / wide - 1e-9))
        yield Operation(
            OperationKind.FACE, f"slope {area:.0f}", what, mill, None if mill else Wanted("an end mill", what),
            count=rows, depth_mm=SLOPE_PASS_MM, width_mm=side,
            length_mm=rows * (side + (mill.diameter_mm if mill else 0.0)), axial_mm=SLOPE_PASS_MM, radial_mm=wide,
        )  # fmt: skip


def _rounded(tilt: Tilt, reading: Reading) -> tuple[float, float | None]:
    """Area and smallest hollow of the faces that are seen here only and are not flat here: a ball's work."""
    of_holes = {face for hole in reading.holes for face in hole.faces}
    faces = [need.feature.face for need in tilt.needs if isinstance(need.feature, Aslant)]
    balls = [face for face in faces if not is_flat_here(face, tilt) and face.index not in of_holes]
    hollow = min((face.radius_mm for face in balls if face.is_inside and face.radius_mm > 0), default=None)
    return sum(face.area_mm2 for face in balls), hollow


def _pocket_up(pocket: Pocket, direction: Vector) -> Pocket:
    """Open upwards where its floor looks this way; else it stays on its side."""
    return replace(pocket, axis=UP) if is_same_way(pocket.axis, direction) else replace(pocket, axis=(1.0, 0.0, 0.0))


def _far_end(hole: Hole) -> Vector:
    x, y, z = (at - hole.depth_mm * part for at, part in zip(hole.position_mm, hole.axis, strict=True))
    return x, y, z


def _apart(a: Vector, b: Vector) -> float:
    return sum((p - q) ** 2 for p, q in zip(a, b, strict=True))
