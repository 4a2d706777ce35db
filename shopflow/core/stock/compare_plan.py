"""What a comparison with the model may expect at the end of one setup: from the model's features, the directions of the
job's other setups, and what the program drilled, tapped and milled with."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.solid import Hole, Mesh, Reading, left_by_tap_drill
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare import Comparison, compare, with_motions
from shopflow.core.stock.compare_expected import THREAD_DEPTH, Bottom, Expected, features_of
from shopflow.core.stock.compare_samples import Samples, samples_of
from shopflow.core.stock.compare_surface import Surface, surface_of
from shopflow.core.stock.from_mesh import from_mesh
from shopflow.core.stock.grid import Grid, other_axes
from shopflow.core.stock.removal import Conditions, Removal
from shopflow.core.stock.turn import seen_from
from shopflow.core.types import MotionKind, Motions, Placement, Tool, ToolShape, Vector

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

FACING_COS = -0.02
"""A wall is seen from the side that it stands square to; what leans over more than a degree is not."""
ON_AXIS_MM = 0.1
"""A tool that goes down this near to a hole's axis works in that hole (our choice)."""
_SAME_WAY = 0.999

_ROUND_MILLS = frozenset({ToolShape.FLAT, ToolShape.BALL, ToolShape.BULL, ToolShape.FACE, ToolShape.SLOT})
_EDGE_BREAKERS = frozenset({ToolShape.CHAMFER, ToolShape.SPOT, ToolShape.COUNTERSINK})
_DRILLS = frozenset({ToolShape.DRILL, ToolShape.REAMER, ToolShape.FLAT, ToolShape.BORE})
_THREADERS = frozenset({ToolShape.TAP, ToolShape.THREAD_MILL})


@dataclass(frozen=True)
class OtherSetups:
    """What looks up in the job's other setups, in the model's axes. later: after this one. known: before it, and their
    cuts are in the material. unknown: before it, cut by hand or by a program that was not simulated.
    """

    later: tuple[Vector, ...] = ()
    known: tuple[Vector, ...] = ()
    unknown: tuple[Vector, ...] = ()


def cut_elsewhere(samples: Samples, model: Columns, placement: Placement, others: OtherSetups) -> Flags:
    """(n,) bool, places where stock at the end of this setup is no matter of this setup.

    A place is a matter of the last setup that looks at it; one that no setup looks at, of the job's last. Where a setup
    whose cuts are not known looks at it, nobody can say. samples: of any material on the model's grid.
    """

    def seen(ways: Sequence[Vector]) -> Flags:
        turned = [_turned(placement, way) for way in ways]
        return np.any([is_seen(samples, model, way) for way in turned], axis=0) if turned else _none(samples)

    here, before = is_seen(samples, model, (0.0, 0.0, 1.0)), seen(others.known)
    elsewhere = seen(others.later) | seen(others.unknown) | (~here & before)
    return elsewhere | ~here if others.later else elsewhere


def is_seen(samples: Samples, model: Columns, way: Vector) -> Flags:
    """(n,) bool, places that a straight line from far along an axis reaches; a wall counts as seen from along it."""
    axis = int(np.abs(way).argmax())
    if abs(way[axis]) < _SAME_WAY:
        return _is_seen_aslant(samples, model, way)
    sign = math.copysign(1.0, way[axis])
    facing = samples.normals[:, axis] * sign
    outside = samples.points + 0.75 * model.pitch * samples.normals
    low, high = model.along(axis).extremes()
    over = high if sign > 0.0 else -low
    first, second = other_axes(axis)
    cells, inside = [], np.ones(len(samples), np.bool_)
    for number in (first, second):
        cell = np.floor((outside[:, number] - model.origin[number]) / model.pitch).astype(np.int64)
        inside &= (cell >= 0) & (cell < model.shape[number])
        cells.append(np.clip(cell, 0, model.shape[number] - 1))
    highest = np.where(inside, over[cells[0], cells[1]], -np.inf)
    seen: Flags = (facing >= FACING_COS) & (highest <= outside[:, axis] * sign + 0.5 * model.pitch)
    return seen


def _is_seen_aslant(samples: Samples, model: Columns, way: Vector) -> Flags:
    """The same from any direction: along columns that stand in it, whose ends are known to a step of the grid."""
    one, grid, rotation = seen_from(model, way)
    outside = (samples.points + 0.75 * model.pitch * samples.normals) @ rotation.T
    cells = np.floor((outside - np.array(grid.origin)) / grid.pitch).astype(np.int64)
    inside = ((cells >= 0) & (cells < np.array(grid.shape)))[:, :2].all(axis=1)
    i, j = (np.clip(cells[:, axis], 0, grid.shape[axis] - 1) for axis in (0, 1))
    highest = np.where(inside, one.extremes()[1][i, j], -np.inf)
    seen: Flags = (samples.normals @ rotation[2] >= FACING_COS) & (highest <= outside[:, 2] + 1.5 * model.pitch)
    return seen


def expected_of(
    reading: Reading,
    placement: Placement,
    motions: Motions,
    tools: Mapping[int, Tool],
    *,
    work_offset: int,
    edge_break_mm: float,
    shows_majors: bool = False,
) -> Expected:
    """From the model's features and the tools that this setup's motions were made with.

    edge_break_mm: a leg of 45° that counts as an edge broken on purpose, where a tool that breaks edges came.
    shows_majors: the model has its threads at the major diameter, so that a tap drill leaves stock in them.
    """
    used = [tools[n] for n in _used(motions, work_offset) if n in tools]
    mills = [tool for tool in used if tool.shape in _ROUND_MILLS]
    radii = sorted({tool.diameter_mm / 2.0 for tool in mills}) or [0.0]
    placed = [(hole, _tools_at(hole, placement, motions, tools, work_offset)) for hole in reading.holes]
    return Expected(
        features=features_of(reading),
        threads=_threads(placed) | (_for_hand_taps(placed) if shows_majors else {}),
        tool_radius_mm=radii[0],
        larger_radii_mm=tuple(radii[1:]),
        corner_radius_mm=min((_corner(tool) for tool in mills), default=0.0),
        edge_break_mm=edge_break_mm if any(tool.shape in _EDGE_BREAKERS for tool in used) else 0.0,
        bottoms=tuple(bottom for hole, found in placed for bottom in _bottom(hole, placement, found)),
    )


def _used(motions: Motions, work_offset: int) -> list[int]:
    cuts = motions.feeds
    found: list[int] = np.unique(motions.tool[cuts & (motions.work_offset == work_offset)]).tolist()
    return found


def _corner(tool: Tool) -> float:
    return tool.diameter_mm / 2.0 if tool.shape is ToolShape.BALL else tool.corner_radius_mm


def _tools_at(
    hole: Hole, placement: Placement, motions: Motions, tools: Mapping[int, Tool], work_offset: int
) -> tuple[Tool, ...]:
    """Tools that went down on this hole's axis in this setup, in order; none where it does not stand upright."""
    if abs(_turned(placement, hole.axis)[2]) < _SAME_WAY:
        return ()
    x, y, _ = _placed(placement, hole.position_mm)
    near = np.hypot(motions.end[:, 0] - x, motions.end[:, 1] - y) <= ON_AXIS_MM
    round_it = (motions.kind == MotionKind.ARC) & (
        np.hypot(np.nan_to_num(motions.centre[:, 0]) - x, np.nan_to_num(motions.centre[:, 1]) - y) <= ON_AXIS_MM
    )
    down = (motions.kind == MotionKind.FEED) & near & (motions.end[:, 2] < motions.start[:, 2])
    rows = np.flatnonzero((down | round_it) & (motions.work_offset == work_offset))
    return tuple(tools[n] for n in dict.fromkeys(motions.tool[rows].tolist()) if n in tools)


def _threads(placed: Sequence[tuple[Hole, tuple[Tool, ...]]]) -> dict[int, float]:
    return {
        face: THREAD_DEPTH * tool.pitch_mm
        for hole, found in placed
        for tool in found
        if tool.shape in _THREADERS and tool.pitch_mm > 0.0
        for face in hole.faces
    }


def _for_hand_taps(placed: Sequence[tuple[Hole, tuple[Tool, ...]]]) -> dict[int, float]:
    """Holes of a thread's major diameter that were drilled and not tapped here, by face: what the tap drill leaves."""
    return {
        face: left_by_tap_drill(hole.diameter_mm)
        for hole, found in placed
        if {tool.shape for tool in found} & _DRILLS and not {tool.shape for tool in found} & _THREADERS
        for face in hole.faces
        if left_by_tap_drill(hole.diameter_mm) > 0.0
    }


def _bottom(hole: Hole, placement: Placement, found: tuple[Tool, ...]) -> tuple[Bottom, ...]:
    """What the point of a drill and the bottom of the model's hole may differ by; nothing where they agree."""
    drills = [tool for tool in found if tool.shape is ToolShape.DRILL]
    if hole.through or not drills:
        return ()
    drawn = _point(hole.diameter_mm, hole.point_angle_deg or 180.0) if hole.bottom == "pointed" else 0.0
    most = max(abs(_point(tool.diameter_mm, tool.point_angle_deg) - drawn) for tool in drills)
    if most < ON_AXIS_MM / 10.0:
        return ()
    axis = _turned(placement, hole.axis)
    return (Bottom(_placed(placement, hole.position_mm), axis, hole.depth_mm, most, hole.diameter_mm / 2),)


def _point(diameter: float, angle_deg: float) -> float:
    """Length of a drill's point, mm."""
    return diameter / 2.0 / math.tan(math.radians(angle_deg) / 2.0) if 0.0 < angle_deg < 180.0 else 0.0


def _turned(placement: Placement, way: Vector) -> Vector:
    x, y, z = (np.array(placement.rotation).reshape(3, 3) @ np.array(way)).tolist()
    return x, y, z


def _placed(placement: Placement, point: Vector) -> Vector:
    x, y, z = (np.array(_turned(placement, point)) + np.array(placement.origin_mm)).tolist()
    return x, y, z


def _none(samples: Samples) -> Flags:
    return np.zeros(len(samples), np.bool_)


@dataclass(frozen=True)
class Part:
    """The model as it stands in one setup. reading: its features. model: its columns on the grid of the material."""

    reading: Reading
    surface: Surface
    model: Columns
    placement: Placement


def part_in(reading: Reading, mesh: Mesh, placement: Placement, grid: Grid) -> Part:
    """The part in a setup; raises Unreadable where its mesh is not closed."""
    surface = surface_of(mesh, placement, chord_mm=reading.mesh_deflection_mm or 0.0)
    return Part(reading, surface, from_mesh(grid, surface.points, surface.triangles), placement)


def compare_setup(
    part: Part,
    before: Columns,
    removal: Removal,
    motions: Motions,
    tools: Mapping[int, Tool],
    conditions: Conditions,
    *,
    others: OtherSetups,
    edge_break_mm: float,
    shows_majors: bool = False,
) -> Comparison:
    """What a setup made of its stock, against the model, with the motion behind each fault. before: its stock."""
    expected = expected_of(
        part.reading, part.placement, motions, tools, work_offset=conditions.work_offset, edge_break_mm=edge_break_mm,
        shows_majors=shows_majors,
    )  # fmt: skip
    elsewhere = cut_elsewhere(samples_of(part.model, part.surface), part.model, part.placement, others)
    found = compare(
        removal.columns,
        part.surface,
        expected=expected,
        elsewhere=elsewhere,
        before=before,
        chord_mm=removal.chord_mm,
    )
    return with_motions(found, motions, tools, conditions)
