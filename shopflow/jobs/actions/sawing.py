"""At the saw: bars leave the rack, what is left of them goes back, and what others have reserved lies on that."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.measure import Measure
from shopflow.jobs import queries
from shopflow.jobs.actions import shared_bars
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import BarPick, Job
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import rack_actions
from shopflow.shop.fields import millimetres


@transaction.atomic
def saw(pick: BarPick, *, by: User, left: Measure | None = None, place: str = "") -> BarPick:
    """The pieces of one job are sawn: its bars leave the rack, and what is left of each goes back to it. left: as it
    was measured. Other jobs' reservations of the same bars lie on what is left; those that it does not hold end."""
    require(by, Act.RUN)
    _job, now = locked_pick(pick)
    _refuse(now, left)
    line = queries.line_of(now)
    others = [one for one in line if one.pk != now.pk]
    if others and left is None:
        raise NotPossible(_measure_it(others))
    sawn_first = next(one for one in line if one.pk == now.pk)
    shared_bars.lay([sawn_first, *others], units=by.units)
    return _sawn([sawn_first], others, by=by, left=left, place=place)[0]


@transaction.atomic
def saw_all(pick: BarPick, *, by: User, left: Measure | None = None, place: str = "") -> list[BarPick]:
    """The pieces of every job that shares the bars are sawn, and one remnant is left of each bar."""
    require(by, Act.RUN)
    _job, now = locked_pick(pick)
    line = queries.line_of(now)
    for one in line:
        open_job(one.job)
        _refuse(one, left)
    return _sawn(line, [], by=by, left=left, place=place)


def locked_pick(pick: BarPick) -> tuple[Job, BarPick]:
    """Its job and itself as they are now, and every bar of the material, held until the transaction ends."""
    job = open_job(pick.job)
    shared_bars.lock_bars(pick.bar.material_id)
    found = BarPick.objects.select_for_update(of=("self",)).select_related("bar").filter(pk=pick.pk).first()
    if found is None:
        raise NotPossible(_("These bars were given back meanwhile. Load the page again."))
    return job, found


def _refuse(pick: BarPick, left: Measure | None) -> None:
    if pick.is_sawn:
        raise NotPossible(_("These bars are sawn already."))
    if pick.to_buy:
        raise NotPossible(_("These bars are still to be bought: note first that they are here."))
    if left and left.mm >= millimetres(pick.bar.length):
        raise NotPossible(_("What is left cannot be as long as the bar, %s.") % pick.bar.length)


def _measure_it(others: Sequence[BarPick]) -> str:
    jobs = ", ".join(dict.fromkeys(one.job.number for one in others))
    return (
        _("Job %s has pieces reserved of what is left: measure it and type its length, 0 where nothing is left.") % jobs
    )


def _sawn(
    picks: Sequence[BarPick], behind: Sequence[BarPick], *, by: User, left: Measure | None, place: str
) -> list[BarPick]:
    """The rows of the jobs' histories come before those of the shop's."""
    bar, bars, last = picks[0].bar, picks[0].bars, picks[-1]
    _pay_for_the_end(picks, left)
    stay, short = shared_bars.fitting(behind, left)
    for pick in picks:
        pick.sawn_at, pick.sawn_by, pick.after = timezone.now(), by, None
        chain, subject = pick.job.chain, ("job", pick.job_id)
        ledger.append("bars_sawn", chain=chain, subject=subject, by=by, bar=bar.pk, bars=bars, pieces=pick.pieces)
    BarPick.objects.filter(pk__in=[pick.pk for pick in (*picks, *behind)]).update(after=None)
    shared_bars.drop_short(short, by=by)
    rack_actions.take_off(bar, bars, by=by)
    for pick in picks[:-1]:
        pick.left = None
    last.left = left
    if left and left.mm > 0:
        last.remnant = rack_actions.put_back(bar, left, bars, place=place.strip() or bar.place, by=by)
        shared_bars.move_onto(last.remnant, stay, units=by.units)
    for pick in picks:
        pick.save()
    return list(picks)


def _pay_for_the_end(picks: Sequence[BarPick], left: Measure | None) -> None:
    """The last that was sawn pays for what is not left, as it was measured."""
    length = millimetres(picks[0].bar.length)
    before = sum(pick.used or 0.0 for pick in picks[:-1])
    picks[-1].used = max(0.0, 1.0 - before - (left.mm if left else 0.0) / length)
