"""How the programs of all jobs came in: which rules fired, how often something had to be changed, what was cut in air.

Counted is each program by the first of its revisions, in the month in which that came in, as it stood then; what became
of it is read from the newest one. Programs that were made here, by taking others apart or by repeating proven ones, are
not counted. A fixed number of queries, however many there are.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import Count, OuterRef, Q, Subquery, Sum
from django.utils import timezone

from shopflow.core.review import Weight
from shopflow.people.models import User
from shopflow.programs.models import Decision, Program, ProgramRevision, ReviewTally, RuleTally

MOST_PROGRAMS = 20_000
"""The newest of them; the page says where there are more."""
MONTHS = (3, 6, 12, 24)

Programs = Any
"""Programs annotated as `_programs` does, which the stubs of Django do not follow through functions."""


@dataclass(frozen=True)
class Asked:
    """months: how far back, 0 for all. by: who sent the first revision in; customer, machine: of the job; 0 for all.

    made_with: the generator as it was said of the first revision; "" for all.
    """

    months: int = 12
    by: int = 0
    customer: int = 0
    machine: int = 0
    made_with: str = ""

    def since(self, today: date) -> date | None:
        """The first day of the earliest month asked for."""
        if not self.months:
            return None
        month = today.year * 12 + today.month - self.months
        return date(month // 12, month % 12 + 1, 1)


@dataclass
class Share:
    """Programs counted together. changed: those with a later revision; edited: of these by taken edits. Times in s."""

    name: str
    programs: int = 0
    changed: int = 0
    edited: int = 0
    must_fix: int = 0
    to_decide: int = 0
    cut: int = 0
    air_s: float = 0.0
    taken_out_s: float = 0.0
    cycle_s: float = 0.0
    month: date | None = None

    @property
    def as_they_came(self) -> int:
        return self.programs - self.changed

    @property
    def by_other_means(self) -> int:
        return self.changed - self.edited

    @property
    def air_left_s(self) -> float:
        return max(0.0, self.air_s - self.taken_out_s)


@dataclass(frozen=True)
class Rule:
    """One rule: the programs in which it fired, how often, and what people decided about it."""

    code: str
    weight: str
    programs: int
    times: int
    accepted: int = 0
    mended: int = 0
    sent_back: int = 0


@dataclass(frozen=True)
class CameIn:
    """left_out: programs beyond MOST_PROGRAMS. unreviewed: whose first revision has no finished review."""

    all: Share
    months: list[Share]
    people: list[Share]
    makers: list[Share]
    rules: list[Rule]
    unreviewed: int = 0
    left_out: int = 0


@dataclass
class _One:
    """One program: its first revision and its newest."""

    first: int
    newest: int
    month: date
    by: int
    edited: bool
    made: str = ""
    tallies: dict[str, dict[str, Any]] = field(default_factory=dict)
    heaviest: set[str] = field(default_factory=set)


def came_in(asked: Asked, *, today: date | None = None) -> CameIn:
    programs = _programs(asked, today or timezone.localdate())
    found = [_one(row) for row in programs.values(*_ROW)[: MOST_PROGRAMS + 1]]
    left_out = programs.count() - MOST_PROGRAMS if len(found) > MOST_PROGRAMS else 0
    found = found[:MOST_PROGRAMS]
    _read_tallies(programs, found)
    months = _shares((one.month.strftime("%Y-%m"), one) for one in found)
    for share in months:
        share.month = date.fromisoformat(f"{share.name}-01")
    return CameIn(
        all=_shares(("", one) for one in found)[0] if found else Share(""),
        months=sorted(months, key=lambda share: share.name),
        people=_people(found),
        makers=sorted(_shares((one.made, one) for one in found), key=lambda share: (-share.programs, share.name)),
        rules=_rules(programs),
        unreviewed=sum(not one.tallies for one in found),
        left_out=left_out,
    )


_ROW = ("first", "newest", "came_at", "by", "edits", "made_with", "made_settings")


def _programs(asked: Asked, today: date) -> Programs:
    own = ProgramRevision.objects.filter(program=OuterRef("pk"))
    first, newest = own.order_by("number"), own.order_by("-number")
    rows: Programs = Program.objects.annotate(
        first=Subquery(first.values("pk")[:1]),
        newest=Subquery(newest.values("pk")[:1]),
        came_at=Subquery(first.values("uploaded_at")[:1]),
        by=Subquery(first.values("uploaded_by")[:1]),
        made_with=Subquery(first.values("made_with")[:1]),
        made_settings=Subquery(first.values("made_settings")[:1]),
        first_by=Subquery(first.values("came_by")[:1]),
        edits=Count("revisions", filter=Q(revisions__came_by=ProgramRevision.CameBy.EDITS)),
    ).filter(first_by=ProgramRevision.CameBy.UPLOAD)
    since = asked.since(today)
    if since:
        begin = timezone.make_aware(datetime(since.year, since.month, 1))
        rows = rows.filter(came_at__gte=begin)
    if asked.by:
        rows = rows.filter(by=asked.by)
    if asked.made_with:
        rows = rows.filter(made_with=asked.made_with)
    if asked.customer:
        rows = rows.filter(job__revision__part__customer=asked.customer)
    if asked.machine:
        rows = rows.filter(pk__in=Program.setups.through.objects.filter(setup__machine=asked.machine).values("program"))
    return rows.order_by("-came_at", "-pk")


def _one(row: Mapping[str, Any]) -> _One:
    day = timezone.localtime(row["came_at"]).date()
    made = ", ".join(filter(None, (row["made_with"], row["made_settings"])))
    return _One(row["first"], row["newest"], day.replace(day=1), row["by"], row["edits"] > 0, made)


def _read_tallies(programs: Programs, found: list[_One]) -> None:
    """Of first and newest revisions, in two queries."""
    wanted = Q(revision__in=programs.values("first")) | Q(revision__in=programs.values("newest"))
    tallies = ReviewTally.objects.filter(wanted).values("revision", "of", "cycle_s", "air_s")
    by_revision: dict[int, dict[str, dict[str, Any]]] = {}
    for row in tallies:
        by_revision.setdefault(row["revision"], {})[row["of"]] = dict(row)
    heavy = RuleTally.objects.filter(
        tally__revision__in=programs.values("first"), weight__in=(Weight.MUST_FIX, Weight.DECIDE)
    )
    weights: dict[int, set[str]] = {}
    for revision, weight in heavy.values_list("tally__revision", "weight").distinct():
        weights.setdefault(revision, set()).add(weight)
    for one in found:
        first, newest = by_revision.get(one.first, {}), by_revision.get(one.newest, {})
        one.tallies = {f"first {of}": row for of, row in first.items()} | {f"new {of}": r for of, r in newest.items()}
        one.heaviest = weights.get(one.first, set())


def _shares(named: Iterable[tuple[str, _One]]) -> list[Share]:
    shares: dict[str, Share] = {}
    for name, one in named:
        _count(shares.setdefault(name, Share(name)), one)
    return list(shares.values())


def _count(share: Share, one: _One) -> None:
    share.programs += 1
    share.changed += one.first != one.newest
    share.edited += one.edited
    share.must_fix += Weight.MUST_FIX in one.heaviest
    share.to_decide += Weight.MUST_FIX not in one.heaviest and Weight.DECIDE in one.heaviest
    review, removal = one.tallies.get("first review"), one.tallies.get("first removal")
    after = one.tallies.get("new removal")
    share.cycle_s += review["cycle_s"] if review else 0.0
    if removal:
        share.cut += 1
        share.air_s += removal["air_s"]
        share.taken_out_s += max(0.0, removal["air_s"] - after["air_s"]) if after else 0.0


def _people(found: list[_One]) -> list[Share]:
    names = {user.pk: str(user) for user in User.objects.filter(pk__in={one.by for one in found})}
    shares = _shares((str(one.by), one) for one in found)
    for share in shares:
        share.name = names.get(int(share.name), share.name)
    return sorted(shares, key=lambda share: (-share.programs, share.name))


def _rules(programs: Programs) -> list[Rule]:
    """By the first revisions, most frequent first; a rule that fires with several weights counts under the heaviest."""
    first = RuleTally.objects.filter(tally__revision__in=programs.values("first"))
    counted = first.values("code").annotate(programs=Count("tally__revision", distinct=True), times=Sum("count"))
    weights: dict[str, str] = {}
    for code, weight in first.values_list("code", "weight").distinct():
        if code not in weights or Weight(weight).rank >= Weight(weights[code]).rank:
            weights[code] = weight
    decided = _decided(programs)
    rules = [
        Rule(row["code"], weights[row["code"]], row["programs"], row["times"], *decided.get(row["code"], (0, 0, 0)))
        for row in counted
    ]
    return sorted(rules, key=lambda rule: (-rule.programs, -rule.times, rule.code))


def _decided(programs: Programs) -> dict[str, tuple[int, int, int]]:
    """How often people accepted, wanted mended, sent back; carried decisions are nobody's new one."""
    verdicts = Decision.Verdict
    rows = Decision.objects.filter(revision__program__in=programs.values("pk"), carried_from=None)
    counted = rows.values("code").annotate(
        accepted=Count("pk", filter=Q(verdict=verdicts.ACCEPT)),
        mended=Count("pk", filter=Q(verdict=verdicts.MEND)),
        sent_back=Count("pk", filter=Q(verdict=verdicts.SEND_BACK)),
    )
    return {row["code"]: (row["accepted"], row["mended"], row["sent_back"]) for row in counted}
