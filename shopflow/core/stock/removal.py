"""Running the motions of a program over material: what each cut, what it touched, what it left.

The order is that of the program. A state after any number of motions can be kept and taken up again: run the motions up
to it, then the rest from it; the parts joined are the same as the whole run at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import holding_kernels
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.grid import Grid
from shopflow.core.stock.moves import Moves, Unswept, moves_of, why_unswept
from shopflow.core.stock.profile import Body, Part, bodies_of, rows_of
from shopflow.core.stock.returns import returning
from shopflow.core.stock.sweep import Batch, Sweep, Sweeping, ToolTable
from shopflow.core.types import Box, Machine, MotionKind, Motions, Tool

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]
Flags = NDArray[np.bool_]

STRETCH, STRETCH_STEPS = 0.5, 10.0
"""A stretch of a motion's way: this share of the tool's diameter, and so many pitches at least (our choice)."""

LEAST_CHORD_MM, MOST_CHORD_MM = 0.001, 0.005


@dataclass(frozen=True)
class Conditions:
    """What a run depends on besides material, motions and tools.

    work_offset: the one whose motions are run, 1 is G54. workholding: boxes in the coordinates of the motions, mm.
    rapid_clearance_mm: gaps at rapid under it are measured (house rule), 0 for none. rapid_skin_mm: a rapid that would
    take off less does not count as touching. chord_mm: how far a chord may lie from its arc; 0 for a fiftieth of the
    pitch. threads: 0 for one a core.
    """

    machine: Machine
    work_offset: int = 1
    workholding: tuple[Box, ...] = ()
    rapid_clearance_mm: float = 0.0
    rapid_skin_mm: float = 0.005
    chord_mm: float = 0.0
    threads: int = 0

    def chord_for(self, pitch: float) -> float:
        """The chord error in force on a grid, mm."""
        return self.chord_mm or min(max(pitch / 50.0, LEAST_CHORD_MM), MOST_CHORD_MM)


@dataclass(frozen=True)
class Removal:
    """What each of n motions did, row for row with the motions that were run; lengths mm, volumes mm³.

    unswept: (n,) uint8 `Unswept`, why a motion was not swept; its row is then empty.
    way_mm: (n,) how far the tool went. volume_mm3: (n,) taken away, as the set of columns has it that saw most of it.
    section_mm2: (n,) the largest section through what it took, across its way: volume a mm of way, over a stretch of
    `STRETCH` of the tool's diameter; straight down over the way in material.
    thickest_mm: (n,) longest piece out of one column of any set: 0 where a motion cut nothing at all.
    axial_mm: (n,) largest depth along the tool, from the tip at that moment up to the top of what it took.
    radial_mm: (n,) largest width of what it took across its way, in the plan, to within a pitch; for a cut thinner than
    two pitches as the columns across it have it.
    plunge_mm: (n,) way straight down through material.
    shank_mm, holder_mm: (n,) how deep a shank or neck, a holder went into material.
    past_flutes_mm: (n,) at feed, how far material within a pitch of a cutter that is as wide above as at its flutes
    reaches above them; from the lowest place of the tip.
    holding_mm, holding_box: (n,) overlap with workholding and the number of the box, -1 none.
    rapid_gap_mm, holding_gap_mm: (n,) smallest gap of a rapid to material and to workholding, inf beyond the asked
    clearance and for one that goes back where its tool has just cut (`returns`); to material never too small, and in
    the plan too large by `grid.across_error_mm` at the most. columns_seen: columns looked at.
    """

    unswept: NDArray[np.uint8]
    way_mm: Floats
    volume_mm3: Floats
    section_mm2: Floats
    thickest_mm: Floats
    axial_mm: Floats
    radial_mm: Floats
    plunge_mm: Floats
    shank_mm: Floats
    holder_mm: Floats
    past_flutes_mm: Floats
    holding_mm: Floats
    holding_box: Numbers
    rapid_gap_mm: Floats
    holding_gap_mm: Floats
    columns: Columns = field(repr=False)
    chord_mm: float
    columns_seen: int

    def __len__(self) -> int:
        return len(self.unswept)

    @property
    def grid(self) -> Grid:
        return self.columns.grid

    def rapid_touched(self, motions: Motions) -> Flags:
        """(n,) bool, rapids that took material with them."""
        touched: Flags = (motions.kind == MotionKind.RAPID) & (self.thickest_mm > 0.0)
        return touched


def remove(
    columns: Columns,
    motions: Motions,
    tools: Mapping[int, Tool],
    conditions: Conditions,
    *,
    begin: int = 0,
    end: int | None = None,
    left_out: Flags | None = None,
) -> Removal:
    """Run motions begin to end (end excluded) over a copy of the columns.

    columns: the state before motion `begin`, in the coordinates of the work offset. left_out: (all motions,) bool, not
    swept. Raises NotPossible for a tool that contradicts itself and LimitReached where columns grow too rich.
    """
    rows = np.arange(begin, len(motions) if end is None else end)
    table, numbers = tool_table(tools)
    reasons = why_unswept(motions, conditions.work_offset, frozenset(tools), left_out)
    swept = rows[reasons[rows] == Unswept.SWEPT]
    chord = conditions.chord_for(columns.pitch)
    stretch = stretch_mm(motions, swept, tools, columns.pitch)
    moves = moves_of(motions, swept, conditions.machine, chord, stretch)
    batch = Batch(moves.points, numbers[motions.tool[moves.motion]], moves.is_rapid)
    how = Sweeping(conditions.rapid_clearance_mm, conditions.rapid_skin_mm, conditions.threads)
    with Sweep(columns, table, how).working() as sweep:
        done = sweep.run(batch)
        after = sweep.columns
    facts = _Facts(moves, batch, table, len(rows), begin, columns.pitch)
    return Removal(
        unswept=reasons[rows],
        columns=after,
        chord_mm=chord,
        columns_seen=int(sum(one[:, 10].sum() for one in done.values())),
        **facts.cut(done),
        **facts.touched(done[2], tools, motions),
        **facts.held(done[2], conditions, returning(motions)[rows]),
    )


def stretch_mm(motions: Motions, rows: Numbers, tools: Mapping[int, Tool], pitch: float) -> Floats:
    """(rows,) how long a stretch of each motion is."""
    by_tool = {number: max(STRETCH * tool.diameter_mm, STRETCH_STEPS * pitch) for number, tool in tools.items()}
    return np.array([by_tool[number] for number in motions.tool[rows].tolist()], dtype=np.float64)


def joined(parts: Sequence[Removal]) -> Removal:
    """Runs that follow one another as one."""
    arrays: dict[str, Any] = {
        one.name: np.concatenate([getattr(part, one.name) for part in parts])
        for one in fields(Removal)
        if isinstance(getattr(parts[0], one.name), np.ndarray)
    }
    return replace(parts[-1], **arrays, columns_seen=sum(part.columns_seen for part in parts))


def tool_table(tools: Mapping[int, Tool]) -> tuple[ToolTable, Numbers]:
    """Bodies of all tools, and the row of the table of each tool number (0 to the highest; 0 where there is none)."""
    bodies: list[tuple[Body, ...]] = [bodies_of(tools[number]) for number in sorted(tools)]
    numbers = np.zeros(max(tools, default=0) + 1, np.int64)
    numbers[sorted(tools)] = np.arange(len(bodies))
    begins = np.cumsum([0, *(len(one) for one in bodies)]).astype(np.int64)
    return ToolTable(begins, rows_of(tuple(body for one in bodies for body in one))), numbers


@dataclass(frozen=True)
class _Facts:
    """From what moves did in each set to what motions did. rows: motions run, from motion `begin` on."""

    moves: Moves
    batch: Batch
    table: ToolTable
    rows: int
    begin: int
    pitch: float

    def cut(self, done: dict[int, Floats]) -> dict[str, Any]:
        vertical = done[2]
        thick = {axis: one[:, 9] for axis, one in done.items()}
        width = self._width(vertical, thick)
        thickest = np.max(list(thick.values()), axis=0, initial=0.0)
        points = self.batch.points
        level = np.hypot(points[:, 3] - points[:, 0], points[:, 4] - points[:, 1])
        down = np.maximum(points[:, 2] - points[:, 5], 0.0)
        plunge = np.where((level < 1e-3 * down) & (thickest > 0.0), np.minimum(down, vertical[:, 2]), 0.0)
        volume, plunged = self._volume(done, self._at, self.rows), self._sum(plunge)
        return {
            "way_mm": self._sum(self.moves.lengths),
            "volume_mm3": volume,
            "section_mm2": np.where(plunged > 0.0, volume / np.maximum(plunged, self.pitch), self._section(done)),
            "thickest_mm": self._most(thickest),
            "axial_mm": self._most(vertical[:, 2]),
            "radial_mm": self._most(width),
            "plunge_mm": plunged,
        }

    def touched(self, vertical: Floats, tools: Mapping[int, Tool], motions: Motions) -> dict[str, Any]:
        rows = slice(self.begin, self.begin + self.rows)
        tip = np.minimum(self.batch.points[:, 2], self.batch.points[:, 5])
        beside = self._most(np.where(self.batch.is_rapid == 0, vertical[:, 5] - tip, 0.0))
        return {
            "shank_mm": self._most(vertical[:, 5 + Part.SHANK]),
            "holder_mm": self._most(vertical[:, 5 + Part.HOLDER]),
            "past_flutes_mm": np.maximum(beside - _flutes_of(motions.tool[rows], tools), 0.0),
        }

    def held(self, vertical: Floats, conditions: Conditions, returns: Flags) -> dict[str, Any]:
        count = len(self.batch)
        depth, which, gap = np.zeros(count), np.full(count, -1, np.int64), np.full(count, np.inf)
        boxes = np.array([(*low, *high) for low, high in conditions.workholding]).reshape(-1, 6)
        batch, table = self.batch, self.table
        holding_kernels.against_boxes(
            batch.points, batch.tool, batch.is_rapid, table.begins, table.bodies, boxes,
            conditions.rapid_clearance_mm, depth, which, gap,
        )  # fmt: skip
        deepest = self._most(depth)
        box = np.full(self.rows, -1, np.int64)
        hits = np.flatnonzero((depth > 0.0) & (depth >= deepest[self._at]))
        box[self._at[hits]] = which[hits]
        return {
            "holding_mm": deepest,
            "holding_box": box,
            "rapid_gap_mm": np.where(returns, np.inf, self._least(vertical[:, 8])),
            "holding_gap_mm": np.where(returns, np.inf, self._least(gap)),
        }

    @property
    def _at(self) -> Numbers:
        return self.moves.motion - self.begin

    def _most(self, values: Floats) -> Floats:
        most = np.zeros(self.rows)
        np.maximum.at(most, self._at, values)
        return most

    def _least(self, values: Floats) -> Floats:
        least = np.full(self.rows, np.inf)
        np.minimum.at(least, self._at, values)
        return least

    def _sum(self, values: Floats) -> Floats:
        total: Floats = np.bincount(self._at, weights=values, minlength=self.rows).astype(np.float64)
        return total

    def _section(self, done: dict[int, Floats]) -> Floats:
        """The largest of each motion's stretches; one that is shorter than a pitch counts as a pitch long."""
        stretch = self.moves.stretch
        count = int(stretch.max(initial=-1)) + 1
        length = np.bincount(stretch, weights=self.moves.lengths, minlength=count)
        section = self._volume(done, stretch, count) / np.maximum(length, self.pitch)
        return self._most(section[stretch])

    def _volume(self, done: dict[int, Floats], at: Numbers, count: int) -> Floats:
        """Of what moves did, put together by `at` (m,). From the set in which most columns lost something: it looks
        most squarely at what was cut."""

        def total(values: Floats) -> Floats:
            return np.bincount(at, weights=values, minlength=count).astype(np.float64)

        axes = [2, *sorted(done.keys() - {2})]
        lost = np.array([total(done[axis][:, 1]) for axis in axes])
        gone = np.array([total(done[axis][:, 0]) for axis in axes]) * self.pitch**2
        best: Floats = np.take_along_axis(gone, lost.argmax(axis=0)[None, :], axis=0)[0]
        return best

    def _width(self, vertical: Floats, thick: dict[int, Floats]) -> Floats:
        """Width across the way: from the outermost columns, or, where that is thin, along columns that lie across
        it."""
        radius = self.table.bodies[self.table.begins[self.batch.tool], 2]
        seen = np.where(vertical[:, 4] >= vertical[:, 3], vertical[:, 4] - vertical[:, 3] + self.pitch, 0.0)
        width: Floats = np.minimum(seen, 2.0 * radius)
        if len(thick) < 3:
            return width
        points = self.batch.points
        way = points[:, 3:5] - points[:, 0:2]
        length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)
        across = np.abs(way[:, ::-1]) / length[:, None]
        sides = np.stack([thick[0] * across[:, 0], thick[1] * across[:, 1]], axis=1)
        exact = np.where(across >= np.sqrt(0.5) - 1e-9, sides, np.inf).min(axis=1, initial=np.inf)
        thin = (width <= 2.0 * self.pitch) & np.isfinite(exact)
        finer: Floats = np.where(thin, np.minimum(exact, 2.0 * radius), width)
        return finer


def _flutes_of(numbers: NDArray[np.int32], tools: Mapping[int, Tool]) -> Floats:
    """Length of cut of each motion's tool; inf where it is not known or the tool is thinner above it."""
    lengths = {number: _flutes(tool) for number, tool in tools.items()}
    return np.array([lengths.get(int(number), np.inf) for number in numbers], dtype=np.float64)


def _flutes(tool: Tool) -> float:
    is_straight = not np.isfinite(bodies_of(tool)[0].top)
    return tool.flute_length_mm if tool.flute_length_mm > 0.0 and is_straight else np.inf
