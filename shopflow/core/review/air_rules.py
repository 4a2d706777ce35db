"""Findings about feed that cuts nothing. A spring pass can be wanted: this asks and never blames."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible
from shopflow.core.types import ToolShape

_TAKE_LITTLE = frozenset({ToolShape.TAP, ToolShape.THREAD_MILL, ToolShape.REAMER, ToolShape.PROBE})
"""What these take is less than a simulation sees."""


def air_cut(subject: Subject) -> Iterator[Finding]:
    """A run at feed that takes nothing from any blank of the range, with the seconds that it costs."""
    if subject.cut is None:
        return
    same = _proof(subject.cut.air_difference_mm)
    for one in subject.cut.air:
        known = subject.tool(one.tool)
        if known is not None and known.shape in _TAKE_LITTLE:
            continue
        lines = lines_of(subject.program, np.arange(one.first, one.last + 1))
        lines = (*lines[:-1], max(lines[-1], one.lines[1]))  # a long run names its first lines and its last
        message = (
            f"T{one.tool} feeds for {one.seconds:.1f} s and takes {one.volume_mm3:.2f} mm³ in all.{same} "
            "Is it a wanted spring pass, or can it go?"
        )
        yield Finding(
            "air-cut", Weight.DECIDE, lines, message, tool=one.tool,
            measured=sensible(one.seconds, "s"), unit="s", basis="simulation over the smallest and the largest blank",
        )  # fmt: skip


def _proof(difference: float | None) -> str:
    return "" if difference is None else f" Without all such passes the part would differ by {difference:.3f} mm."


RULES = (air_cut,)
