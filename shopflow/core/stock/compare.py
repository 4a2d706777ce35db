"""Material against the model: stock left and gouges along the surface normal, face by face, and why they are there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import compare_reasons
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare_expected import Cause, Expected, Feature
from shopflow.core.stock.compare_lines import cut_by
from shopflow.core.stock.compare_samples import Samples, samples_of
from shopflow.core.stock.compare_surface import Surface
from shopflow.core.stock.grid import Grid
from shopflow.core.stock.removal import Conditions
from shopflow.core.types import Motions, Tool, Vector

__all__ = ["Cause", "Comparison", "FaceDeviation", "Patch", "compare", "with_motions"]

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

TOLERANCE_MM = 0.02
"""Differences under it are none: columns end to 1e-5 mm, and no mill cuts truer (our choice)."""

_SAME_MM = 1e-6

UNTOUCHED_SHARE, UNTOUCHED_STANDING = 0.9, 0.5
"""A feature is untouched where this share of its area is under stock, whose mean is at least this share of what stands
over a feature that nobody cut (our choice)."""


@dataclass(frozen=True)
class Patch:
    """Samples of one face with one cause, from one motion. most_mm: the largest deviation with its sign; at: its place
    in the setup, mm; area_mm2: beyond the tolerance. motion: the one that cut here last, -1 not known or none did.
    """

    face: int
    cause: Cause
    most_mm: float
    at: Vector
    area_mm2: float
    samples: int
    motion: int = -1


@dataclass(frozen=True)
class FaceDeviation:
    """One face. highest_mm, lowest_mm: largest stock and deepest gouge with their places in the setup (0 and above, 0
    and below). mean_mm: over its area. over_mm2, under_mm2: area with stock, with gouges beyond the tolerance.
    """

    face: int
    area_mm2: float
    samples: int
    mean_mm: float
    highest_mm: float
    highest_at: Vector
    lowest_mm: float
    lowest_at: Vector
    over_mm2: float
    under_mm2: float


@dataclass(frozen=True)
class Comparison:
    """samples: with cause, (n,) uint8 `Cause`, and motion, (n,) int64, row for row. faces: those with samples.

    untouched: features that nobody cut. unmeasured: faces without a sample, smaller than the grid sees or too slanted
    for the sets kept. tolerance_mm: on flat faces; curved_mm: to be added on curved ones, the chords of mesh and arcs.
    turned_mm: to be added on what was there before a turn by no right angle.
    """

    samples: Samples = field(repr=False)
    cause: NDArray[np.uint8] = field(repr=False)
    motion: Numbers = field(repr=False)
    faces: tuple[FaceDeviation, ...]
    patches: tuple[Patch, ...]
    untouched: tuple[Feature, ...]
    unmeasured: tuple[int, ...]
    tolerance_mm: float
    curved_mm: float
    turned_mm: float
    grid: Grid

    @property
    def stock_left_mm(self) -> float:
        """The most stock that nothing removes, untouched features among it; 0 for none."""
        return max((patch.most_mm for patch in self.of(Cause.LEFT, Cause.UNTOUCHED)), default=0.0)

    @property
    def gouge_mm(self) -> float:
        """Depth of the deepest gouge, 0 for none."""
        return max((-patch.most_mm for patch in self.of(Cause.GOUGE)), default=0.0)

    @property
    def error(self) -> str:
        """The error of grid and chords as a sentence, to be shown wherever the result is."""
        turned = f" What was there before a turn is known to {self.turned_mm:.2f} mm." if self.turned_mm else ""
        return (
            f"Distances are exact on flat faces and known to {self.curved_mm:.3f} mm on curved ones; places lie "
            f"{self.grid.pitch:.3g} mm apart, so that what is narrower than {2 * self.grid.pitch:.3g} mm may be missed."
            f"{turned}"
        )

    def of(self, *causes: Cause) -> tuple[Patch, ...]:
        return tuple(patch for patch in self.patches if patch.cause in causes)


def compare(
    columns: Columns,
    surface: Surface,
    *,
    expected: Expected | None = None,
    elsewhere: NDArray[np.bool_] | None = None,
    before: Columns | None = None,
    tolerance_mm: float = TOLERANCE_MM,
    chord_mm: float = 0.0,
) -> Comparison:
    """Compare material with the model, both in the coordinates of one setup.

    elsewhere: for each sample, whether stock there is no matter of this setup (`compare_plan.cut_elsewhere`). before:
    the material that the setup began with, on the same grid: what was missing from it already is no gouge.
    chord_mm: of the arcs that were swept (`Removal.chord_mm`); the mesh's own is added where a face is curved.
    """
    meant = expected or Expected()
    samples = samples_of(columns, surface)
    curved = surface.chord_mm + chord_mm
    at = np.searchsorted(surface.numbers, samples.face)
    was = samples_of(before, surface).deviation if before is not None else samples.deviation
    is_as_turned = np.abs(samples.deviation - was) < _SAME_MM  # nothing was cut here since the turn
    limits = tolerance_mm + np.where(surface.is_flat, 0.0, curved)[at] + np.where(is_as_turned, columns.turned_mm, 0.0)
    over, under = samples.deviation > limits, samples.deviation < -limits
    cause = np.zeros(len(samples), np.uint8)
    cause[over], cause[under] = Cause.LEFT, Cause.GOUGE
    slack = tolerance_mm + curved
    _explain(cause, Cause.LATER, over & np.isin(samples.face, sorted(meant.later)))
    if elsewhere is not None:
        _explain(cause, Cause.LATER, over & elsewhere)
    if before is not None:
        _explain(cause, Cause.BEFORE, under & (samples.deviation - was > -tolerance_mm))
    left = cause == Cause.LEFT
    _explain(cause, Cause.CORNER, compare_reasons.left_in_corners(samples, surface, columns, left, meant, slack))
    _explain(cause, Cause.EDGE, compare_reasons.broken_edges(samples, surface, under, meant, slack))
    _explain(cause, Cause.THREAD, compare_reasons.threads(samples, over | under, meant, slack))
    _explain(cause, Cause.POINT, compare_reasons.drilled_bottoms(samples, over | under, meant, slack))
    untouched = tuple(one for one in meant.features if _is_untouched(one, samples, cause, over))
    bare = np.isin(samples.face, [face for feature in untouched for face in feature.faces])
    cause[bare & (cause == Cause.LEFT)] = Cause.UNTOUCHED
    motion = np.full(len(samples), -1, np.int64)
    return Comparison(
        samples=samples,
        cause=cause,
        motion=motion,
        faces=_faces(samples, surface, over, under),
        patches=_patches(samples, cause, motion),
        untouched=untouched,
        unmeasured=tuple(np.setdiff1d(surface.numbers, samples.face).tolist()),
        tolerance_mm=tolerance_mm,
        curved_mm=curved,
        turned_mm=columns.turned_mm,
        grid=columns.grid,
    )


def with_motions(
    comparison: Comparison, motions: Motions, tools: Mapping[int, Tool], conditions: Conditions
) -> Comparison:
    """The same with the motion behind each fault: for a gouge the first that went in, for stock left the one that cut
    closest over it.
    """
    motion = comparison.motion.copy()
    for cause in (Cause.GOUGE, Cause.LEFT):
        rows = np.flatnonzero(comparison.cause == cause)
        motion[rows] = cut_by(comparison.samples, rows, motions, tools, conditions, comparison.grid.pitch)
    patches = _patches(comparison.samples, comparison.cause, motion)
    return replace(comparison, motion=motion, patches=patches)


def _explain(cause: NDArray[np.uint8], why: Cause, rows: NDArray[np.bool_]) -> None:
    """Only what has no better reason yet."""
    cause[rows & ((cause == Cause.LEFT) | (cause == Cause.GOUGE))] = why


def _is_untouched(feature: Feature, samples: Samples, cause: NDArray[np.uint8], over: NDArray[np.bool_]) -> bool:
    rows = np.flatnonzero(np.isin(samples.face, feature.faces))
    area = samples.area_mm2[rows]
    if not len(rows) or (cause[rows] == Cause.LATER).any():
        return False
    covered = area[over[rows]].sum() >= UNTOUCHED_SHARE * area.sum()
    mean = (samples.deviation[rows] * area).sum() / area.sum()
    return bool(covered and mean >= UNTOUCHED_STANDING * feature.standing_mm)


def _faces(
    samples: Samples, surface: Surface, over: NDArray[np.bool_], under: NDArray[np.bool_]
) -> tuple[FaceDeviation, ...]:
    found = []
    for rows in _groups(samples.face):
        deviation, area = samples.deviation[rows], samples.area_mm2[rows]
        high, low = rows[deviation.argmax()], rows[deviation.argmin()]
        face = int(samples.face[rows[0]])
        found.append(
            FaceDeviation(
                face=face,
                area_mm2=float(surface.areas[np.searchsorted(surface.numbers, face)]),
                samples=len(rows),
                mean_mm=float((deviation * area).sum() / area.sum()),
                highest_mm=max(float(samples.deviation[high]), 0.0),
                highest_at=_place(samples.points[high]),
                lowest_mm=min(float(samples.deviation[low]), 0.0),
                lowest_at=_place(samples.points[low]),
                over_mm2=float(area[over[rows]].sum()),
                under_mm2=float(area[under[rows]].sum()),
            )
        )
    return tuple(found)


def _patches(samples: Samples, cause: NDArray[np.uint8], motion: Numbers) -> tuple[Patch, ...]:
    rows = np.flatnonzero(cause)
    keys = np.stack([samples.face[rows], cause[rows].astype(np.int64), motion[rows]], axis=1)
    _, which = np.unique(keys, axis=0, return_inverse=True)
    return tuple(_patch(samples, cause, motion, rows[group]) for group in _groups(which.reshape(-1)))


def _patch(samples: Samples, cause: NDArray[np.uint8], motion: Numbers, rows: NDArray[np.intp]) -> Patch:
    deepest = rows[np.abs(samples.deviation[rows]).argmax()]
    return Patch(
        face=int(samples.face[deepest]),
        cause=Cause(int(cause[deepest])),
        most_mm=float(samples.deviation[deepest]),
        at=_place(samples.points[deepest]),
        area_mm2=float(samples.area_mm2[rows].sum()),
        samples=len(rows),
        motion=int(motion[deepest]),
    )


def _groups(keys: Numbers) -> list[NDArray[np.intp]]:
    """Rows of each value, by rising value."""
    if not len(keys):
        return []
    order = np.argsort(keys, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(keys[order])) + 1)


def _place(point: Floats) -> Vector:
    return float(point[0]), float(point[1]), float(point[2])
