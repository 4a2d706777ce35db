"""How long a tool's edge lasts: what one piece asks of each tool, and when a lot outlasts it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from shopflow.core.review.places import SAME_PLACE_MM, STRAIGHT_MM
from shopflow.core.types import MotionKind, Motions


class Edge(StrEnum):
    """How a person last found a tool."""

    SHARP = "sharp"
    WORN = "worn"
    OUT = "out"


class LifeUnit(StrEnum):
    MINUTES = "minutes"
    HOLES = "holes"


@dataclass(frozen=True)
class Wear:
    """One tool as the crib has it today. left: in `unit`, None where nobody said how long it lasts.

    finishes: whether the plan, or what the crib allows, has it finish.
    """

    number: int
    edge: Edge = Edge.SHARP
    left: float | None = None
    unit: LifeUnit = LifeUnit.MINUTES
    finishes: bool = False


@dataclass(frozen=True)
class OnHand:
    """What holds on the day of a review and no sign-off binds. pieces: of the lot, 0 where not known."""

    pieces: int = 0
    wear: tuple[Wear, ...] = ()


@dataclass(frozen=True)
class Use:
    """What one piece asks of a tool. minutes: at feed."""

    minutes: float = 0.0
    holes: int = 0

    def of(self, unit: LifeUnit) -> float:
        return float(self.holes) if unit is LifeUnit.HOLES else self.minutes


def use_of(motions: Motions, seconds: NDArray[np.float64], rows: NDArray[np.intp] | slice) -> Use:
    """Of some motions, seconds: (n,) of all of them. A place where it goes straight down at feed is one hole."""
    kind, end = motions.kind[rows], motions.end[rows]
    feeding = (kind == MotionKind.FEED) | (kind == MotionKind.ARC)
    minutes = float(seconds[rows][feeding].sum()) / 60.0
    way = end - motions.start[rows]
    down = (kind == MotionKind.FEED) & (np.hypot(way[:, 0], way[:, 1]) < STRAIGHT_MM) & (way[:, 2] < 0.0)
    places = np.column_stack([motions.work_offset[rows][down], end[down, :2] / SAME_PLACE_MM])
    return Use(minutes, len(np.unique(np.round(places), axis=0)) if len(places) else 0)


def lasts(each: float, left: float, pieces: int) -> int | None:
    """After which of `pieces` it runs out; 0 inside the first one. None where it lasts, or nothing is asked of it."""
    if each <= 0.0 or each * pieces <= left * (1.0 + 1e-9):
        return None
    return max(math.floor(left / each * (1.0 + 1e-9)), 0)
