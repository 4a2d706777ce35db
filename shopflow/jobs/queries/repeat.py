"""A part that was made before: whose plan can be copied, and what changed in the shop since that plan was approved."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Model
from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.jobs.models import Characteristic, Job, JobFile, Setup, Stage
from shopflow.jobs.queries.intake import current_file
from shopflow.jobs.queries.plan import approval_of, characteristics_of, setups_of
from shopflow.shop import queries as shop
from shopflow.shop import showing
from shopflow.shop.models import HouseRuleChange, StockBar
from shopflow.shop.rows import KINDS

MOST_SAID = 3
TABLE_OF = {"tool": "crib", "machine": "machines", "material": "materials", "gauge": "gauges", "fixture": "fixtures",
            "bar": "rack"}  # fmt: skip


@dataclass(frozen=True)
class Since:
    """One thing that is not as it was. what: in words. look: what to look at. url: where it stands."""

    what: str
    look: str
    url: str


def earlier_jobs(job: Job) -> list[Job]:
    """Other jobs of the part that have steps, those that were made first, newest first."""
    others = Job.objects.filter(revision__part=job.part, steps__isnull=False).exclude(pk=job.pk).distinct()
    rows = list(others.select_related("revision__part__customer", "material").order_by("-pk"))
    return sorted(rows, key=lambda row: row.stage not in (Stage.FLOOR, Stage.CLOSED))


def changed_since(job: Job, *, today: date) -> list[Since]:
    """What differs between the order whose plan was copied and now; none where no plan was copied."""
    source = job.plan_from
    if source is None:
        return []
    approval = approval_of(source)
    since = approval.approved_at if approval else source.created_at
    setups, sizes = setups_of(job), characteristics_of(job)
    return [
        *_of_order(job, source),
        *_of_rows(_machines(setups), since, _("every setup on it, its minutes and its programs")),
        *_of_rows(_tools(setups), since, _("what it is picked for, and the programs that call it")),
        *_of_rows(_fixtures(setups), since, _("whether it still fits, and where it lies")),
        *_of_rows([row.gauge for row in sizes if row.gauge], since, _("whether it still resolves what it measures")),
        *_of_rows([job.material] if job.material else [], since, _("speeds, and what asks for a heat number")),
        *_of_rows([pick.bar for pick in source.bar_picks.all()], since, _("what the blanks cost now")),
        *_prices(source),
        *_of_rules(since),
        *_not_at_hand(setups, sizes, today=today),
    ]


def _of_order(job: Job, source: Job) -> Iterator[Since]:
    order, plan = reverse("jobs:edit", args=[job.pk]), reverse("jobs:plan", args=[job.pk])
    if job.revision_id != source.revision_id:
        said = {"was": source.revision.revision, "now": job.revision.revision}
        look = _("every size that the new revision changes")
        yield Since(_("revision %(was)s → %(now)s") % said, look, reverse("jobs:changes", args=[job.pk]))
    if _model(source) and not _model(job):
        look = _("whether the customer's model is still the one that was planned from")
        yield Since(_("no model in this job yet"), look, reverse("jobs:intake", args=[job.pk]))
    elif _model(job) != _model(source):
        look = _("the faces that differ, and the setups that cut them")
        yield Since(_("another model"), look, reverse("jobs:changes", args=[job.pk]))
    if job.material_id != source.material_id:
        said = {"was": str(source.material or _("none")), "now": str(job.material or _("none"))}
        look = _("tools, speeds and the blank")
        yield Since(_("material %(was)s → %(now)s") % said, look, plan)
    if job.quantity != source.quantity:
        said = {"was": str(source.quantity), "now": str(job.quantity)}
        look = _("the stock, and samples that follow the size of the lot")
        yield Since(_("quantity %(was)s → %(now)s") % said, look, order)


def _model(job: Job) -> str:
    model = current_file(job, JobFile.Kind.MODEL)
    return model.stored.sha256 if model else ""


def _machines(setups: Iterable[Setup]) -> list[Model]:
    return list(dict.fromkeys(setup.machine for setup in setups if setup.machine))


def _tools(setups: Iterable[Setup]) -> list[Model]:
    return list(dict.fromkeys(row.tool for setup in setups for row in setup.setup_tools.all()))


def _fixtures(setups: Iterable[Setup]) -> list[Model]:
    return list(dict.fromkeys(setup.fixture for setup in setups if setup.fixture))


def _of_rows(rows: Iterable[Model], since: datetime, look: str) -> Iterator[Since]:
    """What the shop's history says of each row since then, the newest first."""
    for row in dict.fromkeys(rows):
        told = [entry.text for entry in showing.history(row) if entry.at > since]
        if told:
            more = f"; {_('and more')}" if len(told) > MOST_SAID else ""
            said = {"row": row, "told": "; ".join(told[:MOST_SAID]) + more}
            yield Since(_("%(row)s: %(told)s") % said, look, _address(row))


def _address(row: Model) -> str:
    return reverse(f"shop:{TABLE_OF[KINDS[type(row)].name]}_row", args=[row.pk])


def _prices(source: Job) -> Iterator[Since]:
    """What bars of the same material and size cost now, by their newest row: each delivery is a row of its own."""
    for bar in dict.fromkeys(pick.bar for pick in source.bar_picks.select_related("bar__material")):
        size = {name: getattr(bar, name) for name in ("material", "shape", "thickness", "width", "length")}
        alike = StockBar.objects.filter(**size, owner="").exclude(price=None)
        newest = alike.order_by("-pk").first()
        if newest and newest.pk != bar.pk and bar.price is not None and newest.price != bar.price:
            said = {"bar": bar.size_words, "was": bar.price, "now": newest.price, "number": newest.number}
            what = _("%(bar)s: price %(was)s → %(now)s (%(number)s)") % said
            yield Since(what, _("what the blanks cost now"), _address(newest))


def _of_rules(since: datetime) -> Iterator[Since]:
    for change in HouseRuleChange.objects.filter(changed_at__gt=since).select_related("changed_by"):
        told = showing.told_rule(change)
        look = _("what the plan takes from it: propose again, or leave it as it was")
        yield Since(f"{told.text} ({change.reason})", look, reverse("shop:house_rules"))


def _not_at_hand(setups: list[Setup], sizes: list[Characteristic], *, today: date) -> Iterator[Since]:
    """What a repeat order needs and does not have today."""
    for row in dict.fromkeys(one.tool for setup in setups for one in setup.setup_tools.all()):
        if not row.on_hand:
            yield Since(_("%s: none on hand") % row, _("buy one, or pick another"), _address(row))
    for fixture in dict.fromkeys(setup.fixture for setup in setups if setup.fixture):
        if fixture.is_used_up:
            yield Since(_("%s: no re-cut left") % fixture, _("make new jaws before the setup"), _address(fixture))
    able = set(shop.gauges_in_calibration(today))
    for gauge in dict.fromkeys(row.gauge for row in sizes if row.gauge):
        if gauge not in able:
            yield Since(_("%s: out of calibration") % gauge, _("have it calibrated, or use another"), _address(gauge))
