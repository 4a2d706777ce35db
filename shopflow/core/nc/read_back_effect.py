"""What changes made at a control do to the motions, so that harmless words cannot hide a different cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc.blocks import split_comments
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.program import Program
from shopflow.core.nc.read_back_kinds import EditKind
from shopflow.core.nc.read_back_lines import LineChange
from shopflow.core.nc.run import read
from shopflow.core.types import MotionKind, Motions

SAME_MM = 1e-6
SAME_SHARE = 1e-6
_TAPS = (74, 84)
_DRILLS = (73, 81, 82, 83)
_WORK = (
    "kind", "end", "centre", "plane", "turn_deg", "dwell_s", "spindle", "tool", "length_offset", "radius_offset",
    "radius_side", "work_offset",
)  # fmt: skip


def same_work(one: Program, two: Program) -> bool:
    """Whether both do exactly the same: every motion in every column, every stop, the end, and what they state."""
    if one.stated != two.stated or not (one.complete and two.complete):
        return False
    if (one.program_ends is None) != (two.program_ends is None):
        return False
    if [(stop.kind, stop.after_motion) for stop in one.stops] != [(s.kind, s.after_motion) for s in two.stops]:
        return False
    return same_motions(one, two)


def same_motions(one: Program, two: Program) -> bool:
    """Whether both move the same way in every column, from whichever lines."""
    names = [name for name in one.motions.__dataclass_fields__ if name != "line"]
    if len(one.motions) != len(two.motions):
        return False
    return not any(_differs(one.motions, two.motions, name).any() for name in names)


def effects(copy: Program, returned: Program, kinds: frozenset[EditKind]) -> Iterator[LineChange]:
    """Changes of the motions that the kinds found in the words do not allow; each kind once, at its first line."""
    if (copy.program_ends is None) != (returned.program_ends is None) or not returned.complete:
        yield LineChange(EditKind.OTHER, (), ())
    if same_work(copy, returned):
        return
    old, new = copy.motions, returned.motions
    loose = bool(kinds & {EditKind.PECK, EditKind.HIGHER_R})
    plain = [np.flatnonzero(m.cycle == 0) if loose else np.arange(len(m)) for m in (old, new)]
    if len(plain[0]) != len(plain[1]):
        yield LineChange(EditKind.GEOMETRY, (), ())
        return
    was, now = _Rows(old, plain[0]), _Rows(new, plain[1])
    yield from _first(EditKind.GEOMETRY, _moves_otherwise(was, now, may_be_higher=EditKind.HIGHER_R in kinds), was, now)
    yield from _rates(was, now)
    if loose:
        yield from _holes_compared(_holes(old), _holes(new), higher=EditKind.HIGHER_R in kinds)


@dataclass(frozen=True)
class _Rows:
    """Some motions of a program."""

    motions: Motions
    rows: NDArray[np.intp]

    def of(self, name: str) -> NDArray[np.generic]:
        values: NDArray[np.generic] = getattr(self.motions, name)[self.rows]
        return values


def _first(kind: EditKind, differs: NDArray[np.bool_], was: _Rows, now: _Rows) -> Iterator[LineChange]:
    found = np.flatnonzero(differs)
    if len(found):
        at = found[0]
        yield LineChange(kind, (int(was.of("line")[at]),), (int(now.of("line")[at]),))


def _unequal(old: NDArray[np.generic], new: NDArray[np.generic]) -> NDArray[np.bool_]:
    differs = ~((old == new) | ((old != old) & (new != new)))
    result: NDArray[np.bool_] = differs.any(axis=1) if differs.ndim > 1 else differs
    return result


def _differs(old: Motions, new: Motions, name: str) -> NDArray[np.bool_]:
    return _unequal(getattr(old, name), getattr(new, name))


def _moves_otherwise(was: _Rows, now: _Rows, *, may_be_higher: bool) -> NDArray[np.bool_]:
    """Which motions are not the same; behind a higher R plane, rapids may run higher and feeds down begin higher."""
    differs = np.zeros(len(was.rows), dtype=np.bool_)
    for name in _WORK:
        if name != "end":
            differs |= _unequal(was.of(name), now.of(name))
    rapid = was.of("kind") == MotionKind.RAPID
    straight = was.of("kind") != MotionKind.ARC
    for name, loose in (("end", rapid), ("start", straight)):
        old, new = was.of(name), now.of(name)
        sideways = _unequal(old[:, :2], new[:, :2])
        height = _unequal(old[:, 2], new[:, 2])
        higher = np.greater(new[:, 2], old[:, 2]) & loose & may_be_higher
        differs |= sideways | (height & ~higher)
    return differs


def _rates(was: _Rows, now: _Rows) -> Iterator[LineChange]:
    """Feeds, speeds and coolant: more of the first two, or less of the last."""
    old_feed, new_feed = was.motions.feed_mm_min[was.rows], now.motions.feed_mm_min[now.rows]
    old_rpm, new_rpm = was.motions.rpm[was.rows], now.motions.rpm[now.rows]
    cuts = np.isfinite(old_feed)
    faster = cuts & ~(new_feed <= old_feed * (1.0 + SAME_SHARE))
    yield from _first(EditKind.FASTER_FEED, faster, was, now)
    yield from _first(EditKind.OTHER, cuts & (new_feed <= 0.0), was, now)
    turns = cuts & (was.of("spindle") != 0)
    yield from _first(EditKind.FASTER_SPEED, turns & (new_rpm > old_rpm * (1.0 + SAME_SHARE)), was, now)
    yield from _first(EditKind.OTHER, turns & (old_rpm > 0.0) & (new_rpm <= 0.0), was, now)
    less = (was.motions.coolant[was.rows] & ~now.motions.coolant[now.rows]) != 0
    yield from _first(EditKind.LESS_COOLANT, cuts & less, was, now)
    taps = cuts & np.isin(was.of("cycle"), _TAPS) & (old_rpm > 0.0) & (new_rpm > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        slips = ~np.isclose(new_feed / new_rpm, old_feed / old_rpm, rtol=SAME_SHARE, atol=0.0)
    yield from _first(EditKind.PITCH, taps & slips, was, now)


@dataclass(frozen=True)
class _Hole:
    """One hole of a canned cycle. what: all that must stay. approach, retract: where it feeds from and ends, mm."""

    line: int
    what: tuple[object, ...]
    dwell_s: float
    approach: float
    retract: float
    feed: float
    rpm: float
    coolant: int
    is_tap: bool


def _holes(motions: Motions) -> list[_Hole]:
    """The holes in order; motions of one cycle that follow on each other over one place are one hole."""
    holes: list[_Hole] = []
    rows = np.flatnonzero(motions.cycle != 0)
    before = np.cumsum(motions.cycle == 0)
    group: list[int] = []
    last: tuple[object, ...] | None = None
    for row in rows.tolist():
        cycle = int(motions.cycle[row])
        name = "drill" if cycle in _DRILLS else cycle
        key = (
            int(before[row]), name, int(motions.tool[row]), int(motions.length_offset[row]),
            int(motions.work_offset[row]), *motions.end[row, :2].round(6).tolist(),
        )  # fmt: skip
        if key != last and group and last is not None:
            holes.append(_hole(motions, group, last))
            group = []
        last = key
        group.append(row)
    if group and last is not None:
        holes.append(_hole(motions, group, last))
    return holes


def _hole(motions: Motions, group: list[int], key: tuple[object, ...]) -> _Hole:
    feeds = [row for row in group if np.isfinite(motions.feed_mm_min[row])]
    first = feeds[0] if feeds else group[-1]
    return _Hole(
        line=int(motions.line[group[0]]),
        what=(*key, int(motions.spindle[first]), round(float(motions.end[group, 2].min()), 6)),
        dwell_s=float(motions.dwell_s[group].sum()),
        approach=float(motions.start[first, 2]),
        retract=float(motions.end[group[-1], 2]),
        feed=max((float(motions.feed_mm_min[row]) for row in feeds), default=0.0),
        rpm=float(motions.rpm[first]),
        coolant=int(motions.coolant[first]),
        is_tap=int(motions.cycle[first]) in _TAPS,
    )


def _holes_compared(old: list[_Hole], new: list[_Hole], *, higher: bool) -> Iterator[LineChange]:
    if len(old) != len(new):
        yield LineChange(EditKind.GEOMETRY, (), ())
        return
    found: dict[EditKind, LineChange] = {}
    for was, now in zip(old, new, strict=True):
        for kind in _hole_kinds(was, now, higher=higher):
            found.setdefault(kind, LineChange(kind, (was.line,), (now.line,)))
    yield from found.values()


def _hole_kinds(was: _Hole, now: _Hole, *, higher: bool) -> Iterator[EditKind]:
    rises = now.approach - was.approach
    same_level = abs(rises) <= SAME_MM and abs(now.retract - was.retract) <= SAME_MM
    goes_higher = higher and rises >= -SAME_MM and now.retract >= was.retract - SAME_MM
    if was.what != now.what or not (same_level or goes_higher):
        yield EditKind.GEOMETRY
    if now.feed > was.feed * (1.0 + SAME_SHARE):
        yield EditKind.FASTER_FEED
    if now.rpm > was.rpm * (1.0 + SAME_SHARE):
        yield EditKind.FASTER_SPEED
    if now.feed <= 0.0 < was.feed or now.rpm <= 0.0 < was.rpm:
        yield EditKind.OTHER
    if was.coolant & ~now.coolant:
        yield EditKind.LESS_COOLANT
    if was.is_tap and abs(now.feed * was.rpm - was.feed * now.rpm) > SAME_SHARE * was.feed * now.rpm:
        yield EditKind.PITCH


def skips_leave_out_whole_cuts(program: Program) -> bool:
    """Whether, with the block skip on, what is left cuts exactly as before: no cut starts elsewhere, and what is new
    between the cuts is a rapid above everything fed through."""
    rest = b"\n".join(
        b"" if _is_skipped(program, line) else _raw(program, line) for line in range(1, program.lines + 1)
    )
    left = read(rest, control=program.control, name=program.name, tools=program.tools_known)
    if len(left.unread) > len(program.unread):
        return False
    known = set(_keys(program.motions))
    top = _highest_fed(program.motions)
    for row, key in enumerate(_keys(left.motions)):
        if key in known:
            continue
        low = float(min(left.motions.start[row, 2], left.motions.end[row, 2]))
        if left.motions.kind[row] != MotionKind.RAPID or left.motions.work_offset[row] == 0 or low < top - SAME_MM:
            return False
    return True


def _raw(program: Program, line: int) -> bytes:
    source = program.source
    return source.data[source.starts[line - 1] : source.ends[line - 1]]


def _is_skipped(program: Program, line: int) -> bool:
    try:
        return split_comments(program.text(line), program.control)[0].startswith("/")
    except Fault:
        return False


def _keys(motions: Motions) -> Iterator[tuple[object, ...]]:
    columns = np.column_stack(
        [motions.kind, motions.start.round(6), motions.end.round(6), motions.tool, motions.length_offset,
         motions.work_offset, motions.spindle, motions.rpm, np.nan_to_num(motions.feed_mm_min), motions.turn_deg]
    )  # fmt: skip
    yield from map(tuple, columns.tolist())


def _highest_fed(motions: Motions) -> float:
    """The highest place, mm, from which a cut goes down or sideways; infinite where nothing is cut."""
    feeds = motions.feeds
    down = feeds & (motions.end[:, 2] <= motions.start[:, 2]) & (motions.work_offset != 0)
    heights = motions.start[down, 2]
    return float(heights.max()) if len(heights) else np.inf
