"""Findings about work that comes before the work it needs, whatever tools are called and comments say."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.review.classing import LEAST_TAKEN_MM3, Doing
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of
from shopflow.core.review.paths import Places, places_along
from shopflow.core.review.places import FOLLOWS, straight_down
from shopflow.core.types import Motions, Tool, ToolShape, ToolUse

Rows = NDArray[np.intp]
Flags = NDArray[np.bool_]

_OURS = "common practice, no source"
_FINISHING = frozenset({ToolUse.WALL, ToolUse.FLOOR, ToolUse.SURFACE})
_FINISHES = (Doing.WALL, Doing.FLOOR, Doing.SURFACE)
_ROUGHS = (Doing.ROUGH, Doing.RAMP, Doing.HELICAL, Doing.PLUNGE)
_COMES = (*_ROUGHS, Doing.AIR, Doing.WALL, Doing.FLOOR, Doing.FACE)
_MOST_ASKED, _MOST_MET = 1500, 200_000
"""Places along what one tool finishes, and along what another roughs, that are looked at (our choice)."""
_SHARE = 0.5
"""Of what a tool finishes: a smaller tool that clears corners after it comes back to less (our choice)."""
_SAME_LEVEL_MM = 0.01


@dataclass(frozen=True)
class _Work:
    """Feeds of one tool of one kind, by the places along them."""

    tool: Tool
    along: Places


def finishes_first(subject: Subject) -> Iterator[Finding]:
    """A wall is finished, and only then the tool comes that roughs there: the finisher met all of the stock."""
    if subject.cut is None:
        return
    rough = [work for tool in _tools(subject) if (work := _roughing(subject, tool)) is not None]
    for tool in _tools(subject) if rough else ():
        done = _finishing(subject, tool)
        later = _comes_late(done, [one for one in rough if one.tool.number != tool.number]) if done else None
        if done is not None and later is not None:
            message = (
                f"T{tool.number} finishes here, and T{later.tool.number} comes to rough the same place only afterwards "
                f"(line {_first_after(subject, done, later)}): rough first."
            )
            lines = lines_of(subject.program, np.unique(done.along.row))
            yield Finding("finishes-before-roughing", Weight.DECIDE, lines, message, tool=tool.number, basis=_OURS)


def _tools(subject: Subject) -> list[Tool]:
    used = set(np.unique(subject.program.motions.tool).tolist())
    mills = (ToolShape.FLAT, ToolShape.BULL, ToolShape.BALL, ToolShape.FACE)
    return [tool for number, tool in (subject.tools or {}).items() if number in used and tool.shape in mills]


def _finishing(subject: Subject, tool: Tool) -> _Work | None:
    """What finishes, and all that a tool cuts that is there for nothing else."""
    if tool.uses and not tool.uses & _FINISHING:
        return None  # a rougher's last pass is thin and finishes nothing
    only = bool(tool.uses) and not tool.uses - _FINISHING
    return _work(subject, tool, (*_FINISHES, *_ROUGHS) if only else _FINISHES, _MOST_ASKED)


def _roughing(subject: Subject, tool: Tool) -> _Work | None:
    """What roughs, and all ways through air of a tool that does not finish: it comes too late to find anything."""
    only = ToolUse.ROUGH in tool.uses and not tool.uses & _FINISHING
    return _work(subject, tool, _COMES if only else (Doing.ROUGH,), _MOST_MET)


def _work(subject: Subject, tool: Tool, kinds: tuple[Doing, ...], most: int) -> _Work | None:
    motions, cut = subject.program.motions, subject.cut
    mine = np.isin(subject.doing, kinds) & (motions.tool == tool.number)
    if cut is not None:
        mine &= (cut.removal.unswept == 0) & ~(motions.end[:, 2] > cut.raw_top_mm)
    rows = np.flatnonzero(mine)
    return _Work(tool, places_along(motions, rows, tool.diameter_mm / 8.0, most)) if len(rows) else None


def _comes_late(done: _Work, rough: list[_Work]) -> _Work | None:
    """The rougher that comes to most of what was finished, afterwards; none where another was there before."""
    before = np.zeros(len(done.along.row), bool)
    for one in rough:
        before |= _near(done, one, later=False)
    return next((one for one in rough if (_near(done, one, later=True) & ~before).mean() > _SHARE), None)


def _near(done: _Work, rough: _Work, *, later: bool) -> Flags:
    """(places of `done`,) whether the rougher runs along the same wall or floor after it and no deeper.

    later: False asks whether one ran there before it, down to about there and not only over its top.
    """
    asked, met = _pairs(done.along.places, rough.along.places, _reach_mm(done, rough))
    above = rough.along.places[met, 2] - done.along.places[asked, 2]
    after = rough.along.row[met] > done.along.row[asked]
    fits = after & (above >= -_SAME_LEVEL_MM) if later else ~after & (above <= done.tool.diameter_mm / 2.0)
    found = np.zeros(len(done.along.row), bool)
    found[asked[fits]] = True
    return found


def _reach_mm(done: _Work, rough: _Work) -> float:
    """How far two paths along one wall may be from each other: by their radii, and a quarter of the finisher."""
    apart = abs(rough.tool.diameter_mm - done.tool.diameter_mm) / 2.0
    return apart + done.tool.diameter_mm / 4.0 + rough.along.step_mm / 2.0


def _pairs(asked: NDArray[np.float64], met: NDArray[np.float64], reach: float) -> tuple[Rows, Rows]:
    """Numbers of all pairs of places no farther apart than `reach` mm in the plan, by squares of that size."""
    square = np.floor(met[:, :2] / reach).astype(np.int64)
    key = _key(square[:, 0], square[:, 1])
    order = np.argsort(key, kind="stable")
    mine = np.floor(asked[:, :2] / reach).astype(np.int64)
    pairs = [_within(key[order], _key(mine[:, 0] + dx, mine[:, 1] + dy)) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
    left, right = np.concatenate([one for one, _ in pairs]), order[np.concatenate([one for _, one in pairs])]
    close = np.hypot(*(asked[left, :2] - met[right, :2]).T) <= reach
    return left[close], right[close]


def _key(x: NDArray[np.int64], y: NDArray[np.int64]) -> NDArray[np.int64]:
    found: NDArray[np.int64] = x * (1 << 31) + y
    return found


def _within(keys: NDArray[np.int64], wanted: NDArray[np.int64]) -> tuple[Rows, Rows]:
    """Pairs (number of the wanted, number of the sorted key) that are equal."""
    first, behind = np.searchsorted(keys, wanted, "left"), np.searchsorted(keys, wanted, "right")
    count = behind - first
    left = np.repeat(np.arange(len(wanted)), count)
    return left, np.arange(len(left)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)


def _first_after(subject: Subject, done: _Work, rough: _Work) -> int:
    """Line in which the rougher first comes to what was finished before it."""
    asked, met = _pairs(done.along.places, rough.along.places, _reach_mm(done, rough))
    late = rough.along.row[met] > done.along.row[asked]
    return int(subject.program.motions.line[rough.along.row[met][late].min()])


def hole_made_later(subject: Subject) -> Iterator[Finding]:
    """The tap or reamer comes to a place that is drilled only afterwards."""
    motions = subject.program.motions
    early: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
    for here in _by_place(motions, np.flatnonzero(straight_down(motions))):
        drill = next((row for row in here if _shape(subject, row) is ToolShape.DRILL), None)
        follows = next((row for row in here if _shape(subject, row) in FOLLOWS), None)
        if drill is not None and follows is not None and follows < drill:
            early[int(motions.tool[follows]), int(motions.tool[drill])].append((follows, drill))
    for (tool, drilling), rows in early.items():
        back = int(motions.line[min(drill for _, drill in rows)])
        message = f"T{tool} goes in here before T{drilling} drills the hole (line {back}): drill first."
        lines = lines_of(subject.program, np.array([follows for follows, _ in rows]))
        yield Finding("hole-made-later", Weight.MUST_FIX, lines, message, tool=tool, basis=_OURS)


def spots_late(subject: Subject) -> Iterator[Finding]:
    """A spot drill comes to a hole that is drilled, and touches nothing there: the drill began without it."""
    if subject.cut is None:
        return
    motions, volume = subject.program.motions, subject.cut.removal.volume_mm3
    late: dict[int, list[int]] = defaultdict(list)
    for here in _by_place(motions, np.flatnonzero(straight_down(motions) & (subject.cut.removal.unswept == 0))):
        drilled = False
        for row in here:
            shape = _shape(subject, row)
            if shape is ToolShape.SPOT and drilled and volume[row] < LEAST_TAKEN_MM3:
                late[int(motions.tool[row])].append(row)
            drilled = drilled or shape is ToolShape.DRILL
    for tool, rows in late.items():
        message = f"T{tool} spots where the hole is drilled already, and touches nothing: spot before the drill."
        lines = lines_of(subject.program, np.array(rows))
        yield Finding("spots-after-drilling", Weight.DECIDE, lines, message, tool=tool, basis=_OURS)


def _shape(subject: Subject, row: int) -> ToolShape | None:
    tool = subject.tool(int(subject.program.motions.tool[row]))
    return tool.shape if tool is not None else None


def _by_place(motions: Motions, rows: Rows) -> Iterator[list[int]]:
    """Rows that end over one another in one work offset, in the order in which they run; to a hundredth of a mm."""
    found: dict[tuple[int, float, float], list[int]] = defaultdict(list)
    places = np.round(motions.end[rows, :2], 2) + 0.0
    for row, (x, y), offset in zip(rows.tolist(), places.tolist(), motions.work_offset[rows].tolist(), strict=True):
        found[offset, x, y].append(row)
    yield from found.values()


def edge_before_face(subject: Subject) -> Iterator[Finding]:
    """An edge is chamfered and the face beside it is milled down afterwards: the chamfer goes with the stock."""
    if subject.cut is None:
        return
    motions, removal = subject.program.motions, subject.cut.removal
    faces = np.flatnonzero((subject.doing == Doing.FACE) & (removal.volume_mm3 >= LEAST_TAKEN_MM3))
    edges = np.flatnonzero(np.isin(subject.doing, (Doing.CHAMFER, Doing.DEBURR)))
    for tool in dict.fromkeys(motions.tool[edges].tolist()):
        mine = edges[motions.tool[edges] == tool]
        gone = _faced_away(subject, mine, faces)
        if len(gone):
            later = int(motions.line[faces[faces > gone[0]][0]])
            message = f"T{tool} breaks edges of a face that is milled down only afterwards (line {later}): face first."
            lines = lines_of(subject.program, gone)
            yield Finding("edge-before-face", Weight.DECIDE, lines, message, tool=tool, basis=_OURS)


def _faced_away(subject: Subject, edges: Rows, faces: Rows) -> Rows:
    """Those edges that a later facing pass, lower than the top of what they took, comes over for the most part."""
    motions, cut, tools = subject.program.motions, subject.cut, subject.tools or {}
    if cut is None or not len(faces) or not len(edges):
        return edges[:0]
    top = np.minimum(motions.start[:, 2], motions.end[:, 2]) + cut.removal.axial_mm
    edge = places_along(motions, edges, 2.0, _MOST_ASKED)
    along = places_along(motions, faces, 2.0, _MOST_ASKED)
    reach = np.array([tools[number].diameter_mm / 2.0 for number in motions.tool[along.row].tolist()])
    asked, met = _pairs(edge.places, along.places, float(reach.max()))
    way = np.hypot(*(edge.places[asked, :2] - along.places[met, :2]).T)
    lower = along.places[met, 2] < top[edge.row[asked]] - _SAME_LEVEL_MM
    over = np.zeros(len(edge.row), bool)
    over[asked[(way <= reach[met]) & lower & (along.row[met] > edge.row[asked])]] = True
    rows, number = np.unique(edge.row, return_inverse=True)
    gone: Rows = rows[np.bincount(number, weights=over) > _SHARE * np.bincount(number)]
    return gone


TEXT_RULES = (hole_made_later,)
CUT_RULES = (finishes_first, spots_late, edge_before_face)
