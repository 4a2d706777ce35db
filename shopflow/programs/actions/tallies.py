"""Counting what a review found, so that the page over all jobs need not read the findings themselves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from shopflow.programs.models import ProgramRevision, ReviewTally, RuleTally

AIR_CUT = "air-cut"
"""The rule whose measured value is seconds of a run that takes nothing (core.review.air_rules)."""


def note_review(revision: ProgramRevision, result: Mapping[str, Any]) -> None:
    """Inside the transaction that marks the review done. result: programs.reviewing.review."""
    cycle_s = float((result.get("reading") or {}).get("cycle_s") or 0)
    _note(revision, ReviewTally.Of.REVIEW, result.get("findings", ()), cycle_s=cycle_s)


def note_removal(revision: ProgramRevision, result: Mapping[str, Any]) -> None:
    """result: programs.simulating.simulate."""
    found = list(result.get("findings", ()))
    _note(revision, ReviewTally.Of.REMOVAL, found, air_s=air_seconds(found))


def air_seconds(found: Iterable[Mapping[str, Any]]) -> float:
    return sum(float(row["measured"] or 0) for row in found if row["code"] == AIR_CUT)


def _note(revision: ProgramRevision, of: str, found: Iterable[Mapping[str, Any]], **figures: float) -> None:
    """In place of what an earlier review of the revision found."""
    tally, _is_new = ReviewTally.objects.update_or_create(revision=revision, of=of, defaults=figures)
    tally.rules.all().delete()
    counted = Counter((row["code"], row["weight"]) for row in found)
    RuleTally.objects.bulk_create(
        RuleTally(tally=tally, code=code, weight=weight, count=count) for (code, weight), count in counted.items()
    )
