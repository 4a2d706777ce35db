"""Findings of a review with what was decided about each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.core.review import Weight
from shopflow.programs.models import Decision, ProgramRevision

SAME = 1e-9
"""Two measured values closer than this share are the same."""


@dataclass(frozen=True)
class Found:
    """One finding as a page shows it.

    lines: first and last line of the program, (0, 0) where it is about the program as a whole. measured, limit: texts
    in `unit`, "" where there is none. decision: the newest, None where nobody decided.
    """

    key: str
    code: str
    weight: Weight
    first_line: int
    last_line: int
    tool: int
    setup: int
    measured: str
    limit: str
    unit: str
    message: str
    basis: str
    mend: str = ""
    decision: Decision | None = None
    revision_id: int = 0

    @property
    def is_must_fix(self) -> bool:
        return self.weight is Weight.MUST_FIX

    @property
    def is_open(self) -> bool:
        """Whether it keeps the program from being signed."""
        if self.weight is Weight.NOTE:
            return self.decision is not None and self.decision.verdict != Decision.Verdict.ACCEPT
        return self.is_must_fix or self.decision is None or self.decision.verdict != Decision.Verdict.ACCEPT

    @property
    def excess(self) -> float | None:
        """How far the measured value is from the limit; None where either is no number."""
        try:
            return abs(float(self.measured) - float(self.limit))
        except ValueError:
            return None

    def is_worse_than(self, other: Found) -> bool:
        """Heavier, or further past its limit."""
        if self.weight is not other.weight:
            return self.weight.rank > other.weight.rank
        if self.excess is None or other.excess is None:
            return False
        return self.excess > other.excess * (1 + SAME) + SAME

    @cached_property
    def lines(self) -> str:
        if not self.first_line:
            return ""
        return str(self.first_line) if self.first_line == self.last_line else f"{self.first_line}\u2013{self.last_line}"

    @property
    def limit_from(self) -> str:
        return self.basis if self.limit else ""

    @property
    def line_url(self) -> str:
        page = reverse("programs:revision", args=[self.revision_id])
        return f"{page}?line={self.first_line}#line-{self.first_line}" if self.first_line else ""

    @property
    def pk(self) -> str:
        """Its name on the page."""
        return self.key.replace(".", "-")


def found_in(rows: Iterable[Mapping[str, Any]]) -> list[Found]:
    """Findings as they were kept with a review or a sign-off."""
    return [Found(**{name: row[name] for name in _KEPT} | {"weight": Weight(row["weight"])}) for row in rows]


COUNTED_IN_MATERIAL = frozenset({"plunge-too-deep"})
"""Found from the text as well as it can be, and again, better, where the material is known."""


def merged(text: Sequence[Mapping[str, Any]], cut: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Findings of a program's text and of its removal of material, each once.

    What is counted in material keeps the key that the text gave it, so that decisions and edits stay with it; where
    nothing is found in material, the text was too careful.
    """
    better = [row for row in cut if row["code"] in COUNTED_IN_MATERIAL]
    rows: list[Mapping[str, Any]] = []
    taken = set[str]()
    for row in text:
        if row["code"] not in COUNTED_IN_MATERIAL:
            rows.append(row)
            continue
        same = next((one for one in better if _same_lines(one, row)), None)
        if same is not None and same["key"] not in taken:
            taken.add(same["key"])
            rows.append({**same, "key": row["key"], "setup": row["setup"]})
    return [*rows, *(row for row in cut if row["key"] not in taken)]


def _same_lines(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    overlap = one["first_line"] <= other["last_line"] and other["first_line"] <= one["last_line"]
    return bool(overlap and one["code"] == other["code"] and one["tool"] == other["tool"])


_KEPT = ("key", "code", "weight", "first_line", "last_line", "tool", "setup", "measured", "limit", "unit", "message",
         "basis")  # fmt: skip


def as_kept(finding: Found) -> dict[str, Any]:
    """The finding as it is kept with a sign-off; found_in gives it back."""
    return {name: getattr(finding, name) for name in _KEPT}


def with_decisions(
    found: list[Found], decisions: Mapping[str, Decision], revision_id: int, with_edits: frozenset[str]
) -> list[Found]:
    """The findings with what was decided about each. with_edits: keys of those that a proposed edit mends."""
    return [
        replace(
            finding,
            decision=decisions.get(finding.key),
            revision_id=revision_id,
            mend=_("An edit that mends this is proposed below.") if finding.key in with_edits else "",
        )
        for finding in found
    ]


def newest_decisions(revision: ProgramRevision) -> dict[str, Decision]:
    """The decision that counts for each finding of the revision, by key."""
    return counting(revision.decisions.select_related("decided_by", "carried_from__revision__program__job"))


def counting(decisions: Iterable[Decision]) -> dict[str, Decision]:
    """Of all decisions of a revision, newest first, the one that counts for each finding, by key."""
    found: dict[str, Decision] = {}
    for row in decisions:
        found.setdefault(row.finding_key, row)
    return found
