"""Keeping the lines of picks true: joined, split, shortened, and moved onto the remnant once others are sawn.

Whoever changes what is reserved locks the bars of the material first (`lock_bars`), after the job and before any row of
the ledger, so that of two people who take the same rest the second sees that it is gone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shopflow.core.measure import Measure
from shopflow.jobs import queries
from shopflow.jobs.actions.lengths import typed_length
from shopflow.jobs.models import BarPick, Job, Stage
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop.fields import millimetres
from shopflow.shop.models import StockBar

RECKONED = ("left", "used")


def lock_bars(material_id: int | None) -> None:
    """Hold every bar of a material until the transaction ends; in one order, so that two never wait for each other."""
    list(StockBar.objects.select_for_update().filter(material=material_id).order_by("pk").values_list("pk"))


def join(pick: BarPick, line: Sequence[BarPick], *, by: User) -> None:
    """Lay a new pick behind others in their bars. Where it takes fewer bars than they have, theirs are split."""
    before = split(line, pick.bars) if line[0].bars > pick.bars else list(line)
    pick.after = before[-1]
    pick.save(update_fields=["after"])
    reckon([*before, pick], units=by.units)
    for job in {one.job_id: one.job for one in line}.values():
        ledger.append(
            "bar_shared", chain=job.chain, subject=("job", job.pk), by=by, bar=pick.bar_id, other=pick.job.number
        )


def split(line: Sequence[BarPick], bars: int) -> list[BarPick]:
    """Two lines out of one of bars that are cut alike; what comes back is the new one, of so many bars."""
    made: list[BarPick] = []
    for pick in line:
        each = pick.pieces // pick.bars
        twin = BarPick.objects.get(pk=pick.pk)
        twin.pk, twin._state.adding = None, True
        twin.bars, twin.pieces, twin.after = bars, each * bars, made[-1] if made else None
        twin.save(force_insert=True)
        pick.bars, pick.pieces = pick.bars - bars, pick.pieces - twin.pieces
        pick.save(update_fields=["bars", "pieces"])
        made.append(twin)
    return made


def cut_alike(pick: BarPick, *, units: str) -> None:
    """Bars that came in: the full ones, and apart the last, which gives only what is still wanted and leaves a rest."""
    most = queries.most_of_one(pick, queries.saw_rules())
    full, last = divmod(pick.pieces, most) if most else (0, 0)
    if full and last and pick.bars == full + 1:
        twin = BarPick.objects.get(pk=pick.pk)
        twin.pk, twin._state.adding = None, True
        twin.bars, twin.pieces = 1, last
        twin.save(force_insert=True)
        pick.bars, pick.pieces = full, pick.pieces - last
        pick.save(update_fields=["bars", "pieces"])
        reckon([twin], units=units)
    reckon([pick], units=units)


def reckon(line: Sequence[BarPick], *, units: str) -> None:
    """What each pick of a line leaves behind it and uses up. A line that does not come out of its bars stays as it
    was: the saw list says so."""
    found = queries.shares_of(line, queries.saw_rules())
    if found is None:
        return
    length = millimetres(line[0].bar.length)
    for pick, share in zip(line, found, strict=True):
        pick.left = typed_length(share.left_mm, units) if share.left_mm else None
        pick.used = share.used_mm / length
        pick.save(update_fields=list(RECKONED))


def lay(line: Sequence[BarPick], *, units: str) -> None:
    """Make this the order in which they are sawn."""
    BarPick.objects.filter(pk__in=[pick.pk for pick in line]).update(after=None)
    before = None
    for pick in line:
        pick.after = before
        pick.save(update_fields=["after"])
        before = pick
    if line:
        reckon(line, units=units)


def let_go(job: Job, *, units: str) -> list[BarPick]:
    """Take what a job has reserved and not sawn out of its bars; those who come behind it move up. What they have
    reserved stays theirs, since nothing gets shorter by that."""
    picks = list(job.bar_picks.filter(sawn_at=None))
    lines = [queries.line_of(pick) for pick in picks if not pick.to_buy]
    for line in lines:
        others = [one for one in line if one.job_id != job.pk]
        BarPick.objects.filter(pk__in=[one.pk for one in line]).update(after=None)
        lay(others, units=units)
    BarPick.objects.filter(pk__in=[pick.pk for pick in picks]).delete()
    return picks


def fitting(behind: Sequence[BarPick], left: Measure | None) -> tuple[list[BarPick], list[BarPick]]:
    """Those who still find their pieces in what was left, in their order, and those who do not."""
    rules = queries.saw_rules()
    stay: list[BarPick] = []
    short: list[BarPick] = []
    for pick in behind:
        rest = queries.left_in(left.mm if left else 0.0, [*stay, pick], rules)
        (stay if rest is not None else short).append(pick)
    return stay, short


def drop_short(picks: Iterable[BarPick], *, by: User) -> None:
    """Reservations that a bar does not hold any more: their jobs want material again, and their histories say why."""
    for pick in picks:
        job = pick.job
        ledger.append(
            "stock_fell_short", chain=job.chain, subject=("job", job.pk), by=by, bar=pick.bar_id, pieces=pick.pieces
        )
        if job.stage != Stage.FLOOR and job.material_received:
            job.material_received = False
            job.save(update_fields=["material_received"])
        pick.delete()


def move_onto(remnant: StockBar, line: Sequence[BarPick], *, units: str) -> None:
    """What is still to be sawn lies on the remnant now."""
    for pick in line:
        pick.bar = remnant
        pick.save(update_fields=["bar"])
    lay(line, units=units)
