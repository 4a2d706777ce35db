"""Laying the blanks of several jobs into their bars afresh."""

from __future__ import annotations

from collections import Counter

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.planning.blanks.cutting_stock import Layout
from shopflow.jobs import queries
from shopflow.jobs.actions import shared_bars
from shopflow.jobs.actions.stock import tell_the_saw
from shopflow.jobs.models import BarPick
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes


@transaction.atomic
def lay_together(key: str, *, by: User) -> list[BarPick]:
    """Reserve what the saw list offers under this key, in place of what its jobs have reserved; bars that it does not
    open are free again. Raises NotPossible where anything of it changed since."""
    require(by, Act.PLAN)
    chosen = _offered(key)
    if chosen is not None:
        shared_bars.lock_bars(chosen.bar.material_id)
        chosen = _offered(key)
    if chosen is None:
        raise NotPossible(_("What is reserved changed meanwhile. Look at the saw list again."))
    models = {str(pick.pk): pick for pick in chosen.picks}
    old = BarPick.objects.filter(pk__in=[pick.pk for pick in chosen.picks])
    old.update(after=None)
    old.delete()
    made = [pick for layout, bars in Counter(chosen.layouts).items() for pick in _lay(layout, bars, models, by=by)]
    jobs = {pick.job_id: pick.job for pick in chosen.picks}
    for job_id in sorted(jobs):
        job = jobs[job_id]
        tell_the_saw(job)
        ledger.append(
            "bars_laid_together", chain=job.chain, subject=("job", job.pk), by=by,
            before=chosen.bars_now, after=chosen.bars_then,
        )  # fmt: skip
    changes.announce(by=by, jobs=sorted(jobs))
    return made


def _offered(key: str) -> queries.Together | None:
    return next((one for one in queries.laid_together(queries.saw_rules()) if one.key == key), None)


def _lay(layout: Layout, bars: int, models: dict[str, BarPick], *, by: User) -> list[BarPick]:
    """A line of picks of bars that are cut alike."""
    line: list[BarPick] = []
    rows = {str(pick.bar_id): pick.bar for pick in models.values()}
    for key, count in layout.cuts:
        model = models[key]
        names = ("along", "thick", "blank_x", "blank_y", "blank_z")
        same = {name: getattr(model, name) for name in names}
        pick = BarPick(job=model.job, bar=rows[layout.key], bars=bars, pieces=count * bars, **same)
        pick.after = line[-1] if line else None
        pick.save()
        line.append(pick)
    shared_bars.reckon(line, units=by.units)
    return line
