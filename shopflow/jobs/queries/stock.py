"""What a job's blanks can be sawn from, and what was picked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from zlib import crc32

from django.utils.translation import gettext as _

from shopflow.core.planning.blanks.bars import Bar
from shopflow.core.planning.blanks.options import StockOption, stock_options
from shopflow.core.types import Vector
from shopflow.jobs.models import BarPick, Job, SuppliedBlanks
from shopflow.jobs.queries.shared_bars import (
    SIZES,
    Rest,
    SawRules,
    lines_of,
    reserved,
    rests_for,
    saw_rules,
    without,
)
from shopflow.shop.fields import millimetres
from shopflow.shop.models import StockBar

if TYPE_CHECKING:
    from shopflow.core.planning import Proposal


@dataclass(frozen=True)
class StockChoice:
    """One option with its row. key: what the page sends back; the same while rack and plan are. rests: of bars that
    other jobs have begun on, where it shares some."""

    key: str
    row: StockBar
    option: StockOption
    rests: tuple[Rest, ...] = ()


def picks_of(job: Job) -> list[BarPick]:
    return list(job.bar_picks.select_related("bar__material", "remnant", "sawn_by", "after__job", "behind__job"))


def supplied_of(job: Job) -> SuppliedBlanks | None:
    """Where the customer sends the blanks."""
    return SuppliedBlanks.objects.filter(job=job).first()


def heats_of(picks: list[BarPick]) -> dict[str, int]:
    """Pieces by heat number, of bars that are here."""
    found: dict[str, int] = {}
    for pick in picks:
        if not pick.to_buy:
            found[pick.bar.heat_number] = found.get(pick.bar.heat_number, 0) + pick.pieces
    return found


def sawn_mm(job: Job) -> Vector | None:
    """The blank along the model's axes as it comes off the bars that were picked; None where none were.

    Of bars of several sizes the largest in each direction: what is clamped is never larger.
    """
    picks = list(job.bar_picks.all())
    if not picks:
        return None
    x, y, z = (max(millimetres(getattr(pick, name)) for pick in picks) for name in SIZES)
    return x, y, z


def need_mm(job: Job, proposal: Proposal | None) -> Vector | None:
    """The least blank: as a person typed it in the first setup, else as proposed; None where nobody knows."""
    first = job.setups.first()
    if first and (proposal is None or set(SIZES) <= set(first.fixed)):
        x, y, z = (millimetres(getattr(first, name)) for name in SIZES)
        return (x, y, z) if x and y and z else None
    return proposal.blank.need_mm if proposal and proposal.blank else None


def is_for(row: StockBar, job: Job) -> bool:
    """Whether a bar may be cut for the job: the shop's own, or of this customer and sent for this job or for any."""
    is_ours = not row.owner.strip() or is_owned_by(row, job)
    return is_ours and row.for_job.strip() in ("", job.number)


def is_owned_by(row: StockBar, job: Job) -> bool:
    """Names of customers are typed on the rack: spaces and capitals do not count."""
    return " ".join(row.owner.split()).casefold() == " ".join(job.customer.name.split()).casefold()


def free_bars(job: Job) -> list[tuple[StockBar, int]]:
    """Bars of the job's material that may be cut for it, and how many of each no other job has begun on."""
    rows = [
        row for row in StockBar.objects.filter(material=job.material).select_related("material") if is_for(row, job)
    ]
    taken: dict[int, int] = {}
    for line in lines_beside(job):
        taken[line[0].bar_id] = taken.get(line[0].bar_id, 0) + line[0].bars
    return [(row, max(0, row.on_hand - taken.get(row.pk, 0))) for row in rows]


def lines_beside(job: Job) -> list[list[BarPick]]:
    """How the bars of its material are shared out among the other jobs."""
    return without(job, lines_of(reserved().filter(bar__material=job.material)))


def free_rests(job: Job, rules: SawRules) -> list[Rest]:
    """What other jobs leave of bars that may be cut for this one too."""
    return [rest for rest in rests_for(lines_beside(job), rules) if is_for(rest.row, job)]


@dataclass(frozen=True)
class NotOffered:
    """A bar of the customer's that is not offered for the job, with why."""

    row: StockBar
    why: str


def customers_bars_not_offered(job: Job, choices: list[StockChoice]) -> list[NotOffered]:
    """What stands on the rack of this customer and is not used: other material, another job's, another section."""
    offered = {(one.row.shape, str(one.row.thickness), str(one.row.width)) for one in choices}
    found = []
    for row in StockBar.objects.filter(on_hand__gt=0).exclude(owner="").select_related("material"):
        if not is_owned_by(row, job):
            continue
        if row.material_id != job.material_id:
            found.append(NotOffered(row, _("it is %s: ask the customer whether it may be used") % row.material))
        elif not is_for(row, job):
            found.append(NotOffered(row, _("it was sent for job %s") % row.for_job))
        elif (row.shape, str(row.thickness), str(row.width)) not in offered:
            found.append(NotOffered(row, _("its section does not give the blank")))
    return found


def customers_bars_left(job: Job) -> list[StockBar]:
    """Bars that were sent for this job alone and still stand on the rack, ends of them among them."""
    return list(StockBar.objects.filter(for_job=job.number, on_hand__gt=0).exclude(owner=""))


def stock_choices(job: Job, proposal: Proposal | None) -> list[StockChoice]:
    """Every section of the rack's list that gives the blanks, best first; none where material or size is unknown."""
    need = need_mm(job, proposal)
    if need is None or job.material is None:
        return []
    rules = saw_rules()
    free, rests = free_bars(job), free_rests(job, rules)
    bars: list[Bar] = [row.as_core(kerf_mm=rules.kerf_mm, on_rack=count) for row, count in free]
    bars += [rest.as_core(rules.kerf_mm) for rest in rests]
    volume = proposal.part_mm3 if proposal else 0.0
    rows = {row.number: row for row, _count in free} | {rest.key: rest.row for rest in rests}
    named = {rest.key: rest for rest in rests}
    return [
        StockChoice(
            _key(option),
            rows[option.bar.key],
            option,
            tuple(named[pick.key] for pick in option.picks if pick.key in named),
        )
        for option in stock_options(need, volume, job.quantity, bars, rules.sawing)
    ]


def _key(option: StockOption) -> str:
    """Another one as soon as it would open other bars."""
    opened = [(pick.key, pick.bars, pick.pieces) for pick in option.picks]
    digits = crc32(repr((option.way, opened, option.buy, option.to_buy, option.missing)).encode())
    return f"{option.bar.key}/{option.way.along}{option.way.thick}/{digits:08x}"
