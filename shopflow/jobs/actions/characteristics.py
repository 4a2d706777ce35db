"""What is to be measured, with its limits as the drawing has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.measure import Measure
from shopflow.core.quality.kinds import Kind, fits
from shopflow.core.quality.sampling import read_rule
from shopflow.jobs import queries
from shopflow.jobs.actions.locked import job_off_the_floor, open_job
from shopflow.jobs.actions.operations import retime_by_hand
from shopflow.jobs.models import Characteristic, Job, Step
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop.models import Gauge

ASIDE = 10_000
"""Balloon numbers are unique in a job: rows step aside while several change at once."""


@dataclass(frozen=True)
class CharacteristicLine:
    """One line as a person typed it. pk: None for a new one. number: None takes the next free balloon."""

    name: str
    pk: int | None = None
    number: int | None = None
    nominal: Measure | None = None
    lower: Measure | None = None
    upper: Measure | None = None
    step: Step | None = None
    gauge: Gauge | None = None
    note: str = ""
    sampling: str = ""
    kind: str = ""
    remove: bool = False


@transaction.atomic
def save_characteristics(job: Job, lines: Sequence[CharacteristicLine], *, by: User) -> list[Characteristic]:
    """Write several lines at once: new ones, changed ones, and those to be removed.

    Raises NotPossible for a limit over the other one or a balloon number used twice, NotASampling for words that say
    none; nothing is written then.
    """
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    there = {row.pk: row for row in now.characteristics.all()}
    kept = [line for line in lines if not line.remove]
    for line in kept:
        _refuse_crossed(line)
    removed = [there[line.pk].number for line in lines if line.remove and line.pk in there]
    now.characteristics.filter(number__in=removed).delete()
    rows = [_row(now, line, there) for line in kept]
    _number(now, rows, kept)
    for row in sorted(rows, key=lambda row: row.pk is None):
        row.save()
    retime_by_hand(now)
    ledger.append(
        "characteristics_saved", chain=now.chain, subject=("job", now.pk), by=by,
        balloons=sorted(row.number for row in rows), removed=sorted(removed),
    )  # fmt: skip
    return rows


def _refuse_crossed(line: CharacteristicLine) -> None:
    typed = [value for value in (line.nominal, line.lower, line.upper) if value]
    kind = Kind(line.kind)
    if kind is Kind.ATTRIBUTE and typed:
        raise NotPossible(_("“%s” is an attribute: it conforms or not, and has no size and no limits.") % line.name)
    if strange := next((value for value in typed if not fits(kind, value.unit)), None):
        what = _("an angle is in degrees") if kind is Kind.ANGLE else _("only an angle is in degrees")
        said = {"name": line.name, "value": strange, "what": what}
        raise NotPossible(_("“%(name)s”: %(value)s, and %(what)s.") % said)
    if line.lower and line.upper and line.lower.in_unit(line.upper.unit) > line.upper.value:
        raise NotPossible(
            _("“%(name)s”: the lower limit %(lower)s is over the upper limit %(upper)s.")
            % {"name": line.name, "lower": line.lower, "upper": line.upper}
        )


def _row(job: Job, line: CharacteristicLine, there: dict[int, Characteristic]) -> Characteristic:
    row = there.get(line.pk or 0) or Characteristic(job=job)
    row.name, row.nominal, row.lower, row.upper = line.name, line.nominal, line.lower, line.upper
    row.step, row.gauge, row.note, row.kind = line.step, line.gauge, line.note, line.kind
    row.sampling = str(read_rule(line.sampling))
    return row


def _number(job: Job, rows: Sequence[Characteristic], lines: Sequence[CharacteristicLine]) -> None:
    """Balloons as typed; new lines without one go on after the highest."""
    typed = [line.number for line in lines if line.number is not None]
    ours = [row.pk for row in rows if row.pk]
    others = set(job.characteristics.exclude(pk__in=ours).values_list("number", flat=True))
    for number in typed:
        if number in others or typed.count(number) > 1:
            raise NotPossible(_("Balloon %d is there twice. Give each characteristic a number of its own.") % number)
    highest = max([*typed, job.characteristics.aggregate(last=Max("number"))["last"] or 0])
    for row, line in zip(rows, lines, strict=True):
        if line.number is None and row.pk is None:
            highest += 1
        row.number = line.number or row.number or highest
    for row in job.characteristics.filter(pk__in=ours):
        Characteristic.objects.filter(pk=row.pk).update(number=row.number + ASIDE)


@transaction.atomic
def place_balloon(row: Characteristic, *, by: User, view: str, across: float, down: float) -> Characteristic:
    """Let a balloon point at a place of a view: shares of its width and height from the upper left. "" takes it off.

    It says where to measure and changes no limit, so that an approved plan stays approved.
    """
    require(by, Act.PLAN)
    job = open_job(row.job)
    now = Characteristic.objects.select_for_update().get(pk=row.pk)
    if view and (view not in queries.view_names() or not (0 <= across <= 1 and 0 <= down <= 1)):
        raise NotPossible(_("A balloon points into one of the views, from 0 to 100 % across and down."))
    now.view = view
    now.across, now.down = (across, down) if view else (None, None)
    now.save(update_fields=["view", "across", "down"])
    ledger.append("balloon_placed", chain=job.chain, subject=("job", job.pk), by=by, balloon=now.number, view=view)
    return now


@transaction.atomic
def take_offers(job: Job, keys: Sequence[str], *, by: User, today: date) -> list[Characteristic]:
    """Add characteristics that the model offers, at the job's inspection step, each with a gauge that resolves it."""
    chosen = [offer for offer in queries.offers_of(job) if offer.key in keys]
    if not chosen:
        raise NotPossible(_("Tick the characteristics that you want to take over."))
    step = job.steps.filter(kind=Step.Kind.INSPECT).first()
    lines = [
        CharacteristicLine(
            name=offer.name,
            nominal=offer.nominal,
            lower=offer.lower,
            upper=offer.upper,
            step=step,
            kind=offer.kind,
            gauge=queries.gauge_for(offer.lower, offer.upper, on=today, kind=offer.kind),
            note=offer.source,
        )
        for offer in chosen
    ]
    return save_characteristics(job, lines, by=by)
