"""Which pieces of a lot are measured, by which sampling plan, and what its sample said: as papers print it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any

from django.utils.translation import gettext as _

from shopflow.core.quality.sampling import Sampling, Severity
from shopflow.inspection import queries as inspection
from shopflow.inspection.queries import Sampled
from shopflow.jobs.models import Characteristic, Job

Facts = dict[str, Any]
LEAST_RUN = 3


def groups(rows: Iterable[tuple[Characteristic, Sampled]]) -> list[Facts]:
    """Characteristics that are sampled alike together, by the number of the first; nothing where none says a sampling.

    numbers: of the balloons. rule: in words. severity, letter, lot, size, accept, reject: of an AQL. missed, result:
    once its sample has decided.
    """
    told = [(row.number, _facts(row, sampled)) for row, sampled in rows]
    if not any(facts.get("is_said") for _number, facts in told):
        return []
    found: dict[str, Facts] = {}
    for number, facts in told:
        found.setdefault(str(facts), {**facts, "numbers": []})["numbers"].append(number)
    return [{**facts, "numbers": runs(facts["numbers"])} for facts in found.values()]


def by_sample(rows: Iterable[tuple[Characteristic, Sampled]]) -> list[Facts]:
    """Those that an AQL samples and that its sample has decided."""
    return [facts for facts in groups(rows) if "result" in facts]


def ahead(job: Job, rows: Sequence[Characteristic], lots: Iterable[int]) -> list[tuple[int, list[Facts]]]:
    """What is asked of each lot of the job with its size, alike ones once: of those on the floor as they stand, else of
    those that will come, by their sizes."""
    on_floor = list(job.lots.order_by("number"))
    each = [inspection.sampled_of(lot, rows) for lot in on_floor]
    each = each or [inspection.sampled_next(job.part, rows, size) for size in dict.fromkeys(lots)]
    found: list[tuple[int, list[Facts]]] = []
    for sampled in each:
        told = groups((row, sampled[row.pk]) for row in rows)
        one = (max((sampled[row.pk].lot_size for row in rows), default=0), told)
        if told and one not in found:
            found.append(one)
    return found


def _facts(row: Characteristic, sampled: Sampled) -> Facts:
    rule, plan, result = row.rule, sampled.asked.plan, sampled.result
    severity = sampled.standing.severity if sampled.standing else None
    if result is not None:
        severity = Severity(result.severity)
    facts: Facts = {"is_said": bool(row.sampling), "rule": _words(rule.kind, str(rule)), "severity": ""}
    if severity is not None:
        facts["severity"] = severity.value
    if plan is not None and not (result and result.plan is None):
        facts |= {"letter": plan.letter, "lot": sampled.lot_size}
        facts |= {"size": plan.size, "accept": plan.accept, "reject": plan.reject}
    if result is not None:
        facts |= {"measured": result.measured, "missed": result.missed, "result": _said(result.is_accepted)}
    return facts


def _words(kind: Sampling, text: str) -> str:
    known = {
        Sampling.LOT: _("one piece of the lot"),
        Sampling.FIRST: _("the first piece"),
        Sampling.ALL: _("every piece"),
    }
    return known.get(kind, text)


def _said(is_accepted: bool) -> str:
    return _("accepted") if is_accepted else _("not accepted")


def runs(numbers: Iterable[int]) -> str:
    """1, 2, 3, 7, 8 as "1–3, 7, 8"."""
    ordered = sorted(numbers)
    ends = [0, *(n for n, (one, other) in enumerate(pairwise(ordered), start=1) if other != one + 1), len(ordered)]
    parts = [ordered[start:end] for start, end in pairwise(ends)]
    return ", ".join(_run(part) for part in parts if part)


def _run(part: list[int]) -> str:
    return f"{part[0]}\u2013{part[-1]}" if len(part) >= LEAST_RUN else ", ".join(map(str, part))
