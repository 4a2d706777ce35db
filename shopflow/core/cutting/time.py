"""The time a machine takes: limited acceleration, look-ahead over feeds, corner speed, tool changes, spindle starts.

A rapid starts and ends at rest (the control checks that the axes have arrived). Feeds and arcs run into each other
without stopping as fast as acceleration and the corner between them allow. No jerk limit: with one, real times are a
little longer (a/j a start or stop).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.cutting import time_kernels
from shopflow.core.types import Machine, MotionKind, Motions

Floats = NDArray[np.float64]

TYPICAL_MACHINE = Machine(
    name="typical small mill",
    travel_mm=(760.0, 400.0, 500.0),
    rapid_mm_min=(15_000.0, 15_000.0, 12_000.0),
    acceleration_mm_s2=(1_500.0, 1_500.0, 1_500.0),
    max_feed_mm_min=10_000.0,
    min_rpm=50.0,
    max_rpm=8_000.0,
    power_kw=7.5,
)
"""For a first time when no machine is chosen yet (common practice, no source)."""

COMPILE_FROM = 50_000
"""Feeds from which compiling the look-ahead pays; fewer run faster than the compiler starts."""

_PLANE_AXES = {17: (0, 1), 18: (2, 0), 19: (1, 2)}


@dataclass(frozen=True)
class CycleTime:
    """Seconds, row for row with the motions.

    motion_s, tool_change_s, spindle_s: (n,) float64; a tool change or spindle start counts at the motion it precedes.
    """

    motion_s: Floats
    tool_change_s: Floats
    spindle_s: Floats
    by_tool: dict[int, float]
    by_work_offset: dict[int, float]

    @property
    def row_s(self) -> Floats:
        """(n,) float64, everything that a row takes."""
        return self.motion_s + self.tool_change_s + self.spindle_s

    @property
    def total_s(self) -> float:
        return float(self.row_s.sum())


def cycle_time(motions: Motions, machine: Machine = TYPICAL_MACHINE, *, corner_tolerance_mm: float = 0.01) -> CycleTime:
    """How long each motion takes on this machine.

    corner_tolerance_mm: how far the path may leave a corner between two feeds; 0 stops at every corner (exact stop).
    An axis whose start is not known counts no way.
    """
    seconds = np.where(motions.kind == MotionKind.DWELL, motions.dwell_s, 0.0)
    rapids = np.flatnonzero(motions.kind == MotionKind.RAPID)
    seconds[rapids] = _rapid_seconds(motions, rapids, machine)
    path = _Path.of(motions, machine)
    seconds[path.rows] = path.seconds(corner_tolerance_mm)
    changes = np.where(_changed(motions.tool) & (motions.tool != 0), machine.tool_change_s, 0.0)
    spindle = _spindle_seconds(motions, machine)
    total = seconds + changes + spindle
    return CycleTime(
        motion_s=seconds,
        tool_change_s=changes,
        spindle_s=spindle,
        by_tool=_sum_by(motions.tool, total),
        by_work_offset=_sum_by(motions.work_offset, total),
    )


def rest_to_rest(distance: Floats, speed: Floats, acceleration: Floats) -> Floats:
    """Seconds from rest to rest over a distance: T = d/v + v/a, or 2 √(d/a) where the speed is never reached."""
    short = distance < speed**2 / acceleration
    return np.where(short, 2.0 * np.sqrt(distance / acceleration), distance / speed + speed / acceleration)


def _rapid_seconds(motions: Motions, rows: NDArray[np.intp], machine: Machine) -> Floats:
    way = np.abs(np.where(motions.start_known[rows], motions.end[rows] - motions.start[rows], 0.0))
    speeds = np.array(machine.rapid_mm_min) / 60.0
    accelerations = np.array(machine.acceleration_mm_s2)
    if not machine.control.straight_rapids:
        slowest: Floats = rest_to_rest(way, speeds, accelerations).max(axis=1, initial=0.0)
        return slowest
    length = np.sqrt((way**2).sum(axis=1))
    share = way / np.where(length > 0.0, length, 1.0)[:, None]
    speed = _tightest(speeds, share)
    return np.where(length > 0.0, rest_to_rest(length, speed, _tightest(accelerations, share)), 0.0)


def _tightest(limits: Floats, share: Floats) -> Floats:
    """Limit along a direction, from one an axis and the share of each axis in the direction, (n, 3)."""
    along: Floats = np.where(share > 1e-12, limits / np.maximum(share, 1e-12), np.inf).min(axis=1, initial=np.inf)
    return np.where(np.isfinite(along), along, float(limits.min()))


@dataclass(frozen=True)
class _Path:
    """All feeds and arcs that have a length, m of them, in order.

    rows: index of the motion. length mm, speed mm/s, acceleration mm/s². entry, exit: (m, 3) unit directions.
    rests: whether the motion begins from rest because something other than a feed came before.
    """

    rows: NDArray[np.intp]
    length: Floats
    speed: Floats
    acceleration: Floats
    entry: Floats
    exit: Floats
    rests: NDArray[np.bool_]

    @classmethod
    def of(cls, motions: Motions, machine: Machine) -> _Path:
        fed = motions.feeds
        delta = np.where(motions.start_known, motions.end - motions.start, 0.0)
        length, entry, exit_, radius = _shapes(motions, delta)
        rows = np.flatnonzero(fed & (length > 1e-9))
        breaks = np.cumsum(~fed | (_changed(motions.tool) & (motions.tool != 0)))
        rests = np.diff(breaks[rows], prepend=-1) != 0
        accelerations = np.array(machine.acceleration_mm_s2)
        acceleration = np.minimum(
            _tightest(accelerations, np.abs(entry[rows])), _tightest(accelerations, np.abs(exit_[rows]))
        )
        feed = np.where(np.isnan(motions.feed_mm_min), machine.max_feed_mm_min, motions.feed_mm_min)[rows]
        speed = np.minimum(feed, machine.max_feed_mm_min) / 60.0
        speed = np.minimum(speed, np.sqrt(acceleration * radius[rows]))
        return cls(rows, length[rows], np.maximum(speed, 1e-6), acceleration, entry[rows], exit_[rows], rests)

    def seconds(self, tolerance: float) -> Floats:
        """(m,) float64, seconds of each, with look-ahead over the whole stretch between rests."""
        if not len(self.rows):
            return np.empty(0)
        corner = self._corner_speeds(tolerance)
        plan: Callable[..., Floats] = time_kernels.plan
        if len(self.rows) >= COMPILE_FROM:
            plan = time_kernels.compiled_plan()
        return plan(self.length, self.speed, self.acceleration, corner)

    def _corner_speeds(self, tolerance: float) -> Floats:
        """Speed allowed into each motion: a corner is rounded by an arc that leaves it by the tolerance."""
        speeds = np.zeros(len(self.rows))
        cosine = -(self.exit[:-1] * self.entry[1:]).sum(axis=1)
        half = np.sqrt(np.clip((1.0 - cosine) / 2.0, 0.0, 1.0))
        acceleration = np.minimum(self.acceleration[:-1], self.acceleration[1:])
        straight = half > 1.0 - 1e-9
        rounded = np.sqrt(acceleration * tolerance * half / np.where(straight, 1.0, 1.0 - half))
        limit = np.minimum(self.speed[:-1], self.speed[1:])
        speeds[1:] = np.where(straight, limit, np.minimum(limit, rounded))
        speeds[self.rests] = 0.0
        return speeds


def _shapes(motions: Motions, delta: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Length (n,), direction at start and end (n, 3), and radius (n,), inf for what is straight."""
    length = np.sqrt((delta**2).sum(axis=1))
    entry = delta / np.where(length > 0.0, length, 1.0)[:, None]
    exit_ = entry.copy()
    radius = np.full(len(motions), np.inf)
    for plane, (first, second) in _PLANE_AXES.items():
        rows = np.flatnonzero((motions.kind == MotionKind.ARC) & (motions.plane == plane))
        normal = 3 - first - second
        arm = motions.start[rows][:, (first, second)] - motions.centre[rows][:, (first, second)]
        radius[rows] = np.hypot(arm[:, 0], arm[:, 1])
        flat = np.radians(np.abs(motions.turn_deg[rows])) * radius[rows]
        length[rows] = np.hypot(flat, delta[rows, normal])
        for directions, angle in ((entry, 0.0), (exit_, motions.turn_deg[rows])):
            directions[rows] = _tangents(arm, angle, motions.turn_deg[rows], flat, delta[rows, normal], (first, second))
    return length, entry, exit_, radius


def _tangents(
    arm: Floats, angle: Floats | float, turn: Floats, flat: Floats, rise: Floats, axes: tuple[int, int]
) -> Floats:
    """(n, 3) unit directions along arcs, `angle` degrees after their start."""
    turned = np.arctan2(arm[:, 1], arm[:, 0]) + np.radians(angle)
    way = np.maximum(np.hypot(flat, rise), 1e-12)
    level = np.sign(turn) * flat / way
    directions = np.zeros((len(arm), 3))
    directions[:, axes[0]] = -np.sin(turned) * level
    directions[:, axes[1]] = np.cos(turned) * level
    directions[:, 3 - axes[0] - axes[1]] = rise / way
    return directions


def _changed(values: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Whether a row's value is another than the row's before; the first is compared with 0."""
    changed: NDArray[np.bool_] = np.diff(values, prepend=values.dtype.type(0)) != 0
    return changed


def _spindle_seconds(motions: Motions, machine: Machine) -> Floats:
    """Time to change the speed, as a share of the time from rest to full speed; slowing to a stop costs nothing."""
    signed = motions.spindle * motions.rpm
    change = np.abs(np.diff(signed, prepend=0.0))
    return np.where(signed != 0.0, machine.spindle_start_s * change / machine.max_rpm, 0.0)


def _sum_by(keys: NDArray[np.int32] | NDArray[np.uint8], seconds: Floats) -> dict[int, float]:
    """Seconds for each key, in order of first appearance."""
    return {int(key): float(seconds[keys == key].sum()) for key in dict.fromkeys(keys.tolist())}
