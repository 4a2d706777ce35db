"""Findings about wear: what is left of a tool's life on the day of the review, against the lot that is to be cut."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible
from shopflow.core.review.life import Edge, Wear, lasts, use_of

_CRIB = "the crib on the day of the review"
SHORT = {"minutes": "min", "holes": "holes"}


def life_short(subject: Subject) -> Iterator[Finding]:
    """Twenty pieces at 4 minutes, and 30 minutes are left of the tool: it runs out after piece 7."""
    if subject.seconds is None:
        return
    pieces = max(subject.on_hand.pieces, 1)
    for wear in _called(subject):
        if wear.left is None or wear.edge is Edge.OUT:
            continue
        rows = np.flatnonzero(subject.program.motions.tool == wear.number)
        each = use_of(subject.program.motions, subject.seconds, rows).of(wear.unit)
        after = lasts(each, wear.left, pieces)
        if after is not None:
            unit = SHORT[wear.unit]
            where = f"after piece {after} of {pieces}" if after else "before the first piece is done"
            message = (
                f"T{wear.number} cuts {each:.3g} {unit} a piece, {each * pieces:.3g} {unit} for {pieces}; "
                f"{wear.left:.3g} {unit} are left of it: it runs out {where}. Have a sharp one ready."
            )
            yield Finding(
                "tool-life-short", Weight.DECIDE, lines_of(subject.program, rows[:1]), message, tool=wear.number,
                measured=sensible(each * pieces), limit=sensible(wear.left), unit=unit, basis=_CRIB,
            )  # fmt: skip


def worn_finishes(subject: Subject) -> Iterator[Finding]:
    """A worn edge leaves a rough, oversize wall."""
    for wear in _called(subject):
        if wear.edge is Edge.WORN and wear.finishes:
            message = f"T{wear.number} is worn, and it finishes here: take a sharp one, or say why this one will do."
            yield _of(subject, "tool-worn-finishes", wear, message)


def used_up(subject: Subject) -> Iterator[Finding]:
    """A tool that somebody put down as used up; the release waits for another one."""
    for wear in _called(subject):
        if wear.edge is Edge.OUT:
            message = f"T{wear.number} is used up: nothing is released until a new or reground one stands in the crib."
            yield _of(subject, "tool-used-up", wear, message)


def _called(subject: Subject) -> list[Wear]:
    return [wear for wear in subject.on_hand.wear if (subject.program.motions.tool == wear.number).any()]


def _of(subject: Subject, code: str, wear: Wear, message: str) -> Finding:
    rows = np.flatnonzero(subject.program.motions.tool == wear.number)
    lines = lines_of(subject.program, rows[:1])
    return Finding(code, Weight.DECIDE, lines, message, tool=wear.number, basis=_CRIB)


RULES = (life_short, worn_finishes, used_up)

OF_THE_DAY = frozenset({"tool-life-short", "tool-worn-finishes", "tool-used-up"})
"""Codes of findings that come and go with what the floor cuts: none of them ends a sign-off."""
