"""Findings about what is left of the part: gouges, stock that nothing removes, features that nobody cut."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from shopflow.core.review.cut import one_cause
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible
from shopflow.core.stock.compare_expected import Cause

if TYPE_CHECKING:
    from shopflow.core.stock.compare import Comparison, Patch

MOST_FACES = 6
"""Face numbers that a message lists."""


def gouged(subject: Subject) -> Iterator[Finding]:
    """Material that the part needs is gone; named by the motions that took it."""
    if subject.cut is None or subject.cut.comparison is None:
        return
    comparison = subject.cut.comparison
    decide, most = subject.house_rules.limit("gouge_decide"), subject.house_rules.limit("gouge_most")
    for patches in _causes(subject, comparison.of(Cause.GOUGE)):
        worst = min(patches, key=lambda patch: patch.most_mm)
        deep = sensible(-worst.most_mm)
        if deep <= decide:
            continue
        key, limit, weight = ("gouge_most", most, Weight.MUST_FIX) if deep > most else (
            "gouge_decide", decide, Weight.DECIDE
        )  # fmt: skip
        message = (
            f"Cuts {deep:.3f} mm into the part at {_place(worst)} ({_faces(patches)}), {_area(patches)}. "
            f"{comparison.error}"
        )
        yield Finding(
            "gouge", weight, _lines(subject, patches), message, tool=_tool(subject, worst),
            measured=deep, limit=limit, unit="mm", basis=subject.house_rules.basis(key),
        )  # fmt: skip


def stock_left(subject: Subject) -> Iterator[Finding]:
    """Stock that neither this setup nor a later one removes; named by the motions that passed over it."""
    if subject.cut is None or subject.cut.comparison is None:
        return
    comparison = subject.cut.comparison
    limit = subject.house_rules.limit("stock_left_decide")
    for patches in _causes(subject, comparison.of(Cause.LEFT)):
        worst = max(patches, key=lambda patch: patch.most_mm)
        left = sensible(worst.most_mm)
        if left <= limit:
            continue
        message = (
            f"Leaves {left:.3f} mm on the part at {_place(worst)} ({_faces(patches)}), {_area(patches)}, "
            f"and nothing later removes it. {comparison.error}"
        )
        yield Finding(
            "stock-left", Weight.DECIDE, _lines(subject, patches), message, tool=_tool(subject, worst),
            measured=left, limit=limit, unit="mm", basis=subject.house_rules.basis("stock_left_decide"),
        )  # fmt: skip


def feature_untouched(subject: Subject) -> Iterator[Finding]:
    """There is no line to name: the last one of the program stands for what should have come before it."""
    if subject.cut is None or subject.cut.comparison is None:
        return
    for feature in subject.cut.comparison.untouched:
        left = sensible(_most_over(subject.cut.comparison, feature.faces))
        message = f"Nobody cuts the {feature.name}: up to {left:.2f} mm of stock stands there, and nothing later does."
        yield Finding(
            "feature-untouched", Weight.MUST_FIX, (subject.program.lines,), message,
            measured=left, limit=0.0, unit="mm", basis="the model",
        )  # fmt: skip


def _most_over(comparison: Comparison, faces: Sequence[int]) -> float:
    return max((one.highest_mm for one in comparison.faces if one.face in faces), default=0.0)


def _causes(subject: Subject, patches: Sequence[Patch]) -> Iterator[list[Patch]]:
    """Patches of neighbouring motions together; those of no motion by face."""
    for face in sorted({patch.face for patch in patches if patch.motion < 0}):
        yield [patch for patch in patches if patch.motion < 0 and patch.face == face]
    rows = np.unique(np.array([patch.motion for patch in patches if patch.motion >= 0], dtype=np.intp))
    for group in one_cause(rows, subject.program.motions.tool):
        motions = set(group.tolist())
        yield [patch for patch in patches if patch.motion in motions]


def _lines(subject: Subject, patches: Sequence[Patch]) -> tuple[int, ...]:
    rows = np.unique(np.array([patch.motion for patch in patches if patch.motion >= 0], dtype=np.intp))
    return lines_of(subject.program, rows) if len(rows) else (subject.program.lines,)


def _tool(subject: Subject, patch: Patch) -> int:
    return int(subject.program.motions.tool[patch.motion]) if patch.motion >= 0 else 0


def _place(patch: Patch) -> str:
    return "X{:.2f} Y{:.2f} Z{:.2f}".format(*patch.at)


def _faces(patches: Sequence[Patch]) -> str:
    numbers = sorted({patch.face for patch in patches})
    shown = ", ".join(str(number) for number in numbers[:MOST_FACES])
    more = f" and {len(numbers) - MOST_FACES} more" if len(numbers) > MOST_FACES else ""
    return f"face{'s' if len(numbers) > 1 else ''} {shown}{more}"


def _area(patches: Sequence[Patch]) -> str:
    return f"over {sum(patch.area_mm2 for patch in patches):.1f} mm²"


def blank_lacks(subject: Subject) -> Iterator[Finding]:
    """The smallest blank does not hold the part: material is missing before the first cut. No line is to blame."""
    if subject.cut is None or subject.cut.lacking is None:
        return
    patches = subject.cut.lacking.of(Cause.BEFORE)
    limit = subject.house_rules.limit("gouge_decide")
    worst = min(patches, key=lambda patch: patch.most_mm, default=None)
    if worst is None or sensible(-worst.most_mm) <= limit:
        return
    short = sensible(-worst.most_mm)
    message = (
        f"The smallest blank of the plan is {short:.2f} mm short of the part at {_place(worst)} ({_faces(patches)}), "
        f"{_area(patches)}: it does not clean up. Take a larger blank, or place the part otherwise in it."
    )
    yield Finding(
        "blank-short", Weight.DECIDE, (1,), message,
        measured=short, limit=limit, unit="mm", basis=subject.house_rules.basis("gouge_decide"),
    )  # fmt: skip


RULES = (gouged, stock_left, feature_untouched, blank_lacks)
