"""Holes that are the same, taken together: a plan, a tool list and a drawing speak of "4 × 6.6 through"."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.solid.reading import Hole, HoleStep

SAME_MM = 0.005
"""Sizes that differ by less are one size; the geometry library's own noise is far below."""


@dataclass(frozen=True)
class HoleGroup:
    """Holes of one size and depth. first: one that stands for all. holes: all of them, in the model's order."""

    first: Hole
    holes: tuple[Hole, ...]

    @property
    def count(self) -> int:
        return len(self.holes)

    @property
    def faces(self) -> list[int]:
        """Face numbers of all of them, as in the mesh."""
        return [face for hole in self.holes for face in hole.faces]


def group_holes(holes: tuple[Hole, ...]) -> list[HoleGroup]:
    """Holes grouped by what decides how they are made but for place and direction; largest groups first."""
    groups: dict[tuple[object, ...], list[Hole]] = {}
    for hole in holes:
        groups.setdefault(_sizes(hole), []).append(hole)
    grouped = [HoleGroup(first=members[0], holes=tuple(members)) for members in groups.values()]
    return sorted(grouped, key=lambda group: (-group.count, group.first.diameter_mm))


def _sizes(hole: Hole) -> tuple[object, ...]:
    lengths = (
        hole.diameter_mm, hole.depth_mm, hole.countersink_mm, hole.counterbore_mm, hole.counterbore_depth_mm,
        hole.far_countersink_mm, hole.far_counterbore_mm, hole.far_counterbore_depth_mm,
    )  # fmt: skip
    grooves = (size for step in grooves_of(hole) for size in (step.from_mm, step.to_mm, step.from_diameter_mm))
    return (
        hole.through,
        hole.bottom,
        hole.thread_guess,
        *(_rounded(size) for size in grooves),
        *(_rounded(length) for length in lengths),
    )


def _rounded(length_mm: float | None) -> int | None:
    return None if length_mm is None else round(length_mm / (2 * SAME_MM))


def grooves_of(hole: Hole) -> list[HoleStep]:
    """Cylinders in a hole with something narrower before them, and after them or the bottom."""
    return [
        step
        for place, step in enumerate(hole.steps)
        if step.kind == "cylinder"
        and place
        and step.from_diameter_mm > entrance_mm(hole, step) + SAME_MM
        and (not hole.through or any(_least(later) < step.from_diameter_mm for later in hole.steps[place + 1 :]))
    ]


def entrance_mm(hole: Hole, step: HoleStep) -> float:
    """The narrowest place before a stretch of a hole."""
    return min((_least(one) for one in hole.steps if one.to_mm <= step.from_mm + SAME_MM), default=hole.diameter_mm)


def _least(step: HoleStep) -> float:
    return min(step.from_diameter_mm, step.to_diameter_mm)
