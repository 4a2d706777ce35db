"""An op is set up: said when it begins, closed by the start of the op. Nobody has to say so."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.planning import set_up_minutes
from shopflow.floor import queries, reported
from shopflow.floor.actions.reports import NotNow, act_for, refuse_when_held, report
from shopflow.floor.models import Lot, OpRun, SettingUp
from shopflow.jobs import actions as jobs
from shopflow.jobs.models import Stage, Step
from shopflow.people.access import require
from shopflow.people.models import User


@transaction.atomic
def begin_setting_up(lot: Lot, step: Step, *, by: User, key: str | None = None, anew: bool = False) -> SettingUp | None:
    """Say that setting up a milling op begins now. Said again it changes nothing, unless it begins anew: then what was
    said before was a mistake. None where a report that is sent again was of a set-up that has ended since."""
    require(by, act_for(step))
    begun = queries.setting_up(lot, step)
    if begun and not anew:
        return begun
    machine = step.setup.machine if step.setup else None
    row = report(
        "setup_begun", lot, by=by, key=key, op=step.op_number, machine=machine.name if machine else "", anew=anew
    )
    if row.repeated:
        return begun
    refuse_when_held(lot.job)
    problem = _problem(lot, step)
    if problem:
        raise NotNow(problem)
    said = {"machine": machine, "begun_at": reported.moment(), "begun_by": by}
    return SettingUp.objects.update_or_create(lot=lot, step=step, run=None, defaults=said)[0]


def _problem(lot: Lot, step: Step) -> str:
    op = {"op": step.op_number}
    if lot.job.stage != Stage.FLOOR:
        return _("Job %(job)s is not released.") % {"job": lot.job}
    if step.setup is None:
        return _("Op %(op)s has no setup.") % op
    if queries.open_run(lot, step):
        return _("Op %(op)s of this lot is already started.") % op
    if not queries.standing_up_to(lot, step):
        return _("No piece of this lot is still to come to op %(op)s.") % op
    return ""


def end_setting_up(run: OpRun) -> None:
    """The op has started, so it is set up. Part of the report that starts it; keeps what setting up took."""
    begun = queries.setting_up(run.lot, run.step)
    if begun is None:
        return
    begun.run = run
    begun.save(update_fields=["run"])
    minutes = set_up_minutes(timezone.localtime(begun.begun_at), timezone.localtime(run.started_at))
    if minutes is not None:
        jobs.note_set_up_taken(run.step, lot=run.lot.number, minutes=minutes)
