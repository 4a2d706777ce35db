"""Before a job closes, and before pieces of it ship."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.floor import as_run, read_backs
from shopflow.floor import queries as floor
from shopflow.floor.models import Lot, Place
from shopflow.inspection import queries as inspection
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, Step
from shopflow.papers import queries as papers
from shopflow.workflow.gates.conditions import Condition


def ship_problems(job: Job, lot: Lot) -> list[str]:
    """Why no piece of a lot may leave now, each a sentence: only accepted pieces ship."""
    problems = []
    if job.held_reason:
        problems.append(_("Job %(job)s is held: %(why)s. Resume it first.") % {"job": job, "why": job.held_reason})
    last = job.steps.order_by("-op_number").first()
    if last and last.kind == Step.Kind.INSPECT:
        problems += inspection.open_points(lot, last)
    else:
        problems += inspection.unsettled(lot)
    needs_heat = job.material is not None and job.material.needs_heat_number
    if needs_heat and len(lot.heats) > 1:
        problems.append(
            _("Lot %(lot)s is of several heats (%(heats)s): split it by heat at the station, so that papers say one.")
            % {"lot": lot.number, "heats": lot.heat_number}
        )
    untold = inspection.untold(lot)
    if untold:
        problems.append(
            _("Used as they are, and nobody noted how the customer was told: %(which)s. Note it at the bench.")
            % {"which": "; ".join(map(str, untold))}
        )
    return problems


def close_gate(job: Job) -> list[Condition]:
    """Made, shipped, scrapped, lost, outside and held agree to the piece, and every shipment has its papers."""
    tally = floor.tally(job)
    here = reverse("workflow:job", args=[job.pk]) + "#stage-floor"
    standing = tally[Place.STEP]
    unsettled = tally[Place.HELD] + tally[Place.OUTSIDE]
    undecided = inspection.open_in_job(job)
    return [
        Condition(
            _("no piece stands at a step any more"),
            not standing,
            reason=ngettext("%(n)d piece does", "%(n)d pieces do", standing) % {"n": standing},
            mend=here,
        ),
        Condition(
            _("no piece is held or outside"),
            not unsettled,
            reason=ngettext("%(n)d piece is", "%(n)d pieces are", unsettled) % {"n": unsettled},
            mend=here,
        ),
        Condition(_("every nonconformance has a disposition"), not undecided, mend=reverse("inspection:bench")),
        _read_backs_reviewed(job),
        _as_run_noted(job),
        _runs_are_signed(job),
        _pieces_agree(job, tally, here),
        _shipments_have_papers(job),
        *_drops_returned(job),
        *_bars_settled(job),
    ]


def _read_backs_reviewed(job: Job) -> Condition:
    waiting = read_backs.waiting_for_review(job)
    return Condition(
        _("what was changed at a control is reviewed"),
        not waiting,
        reason="; ".join(map(read_backs.in_words, waiting)),
        mend=reverse("floor:read_backs", args=[job.pk]),
    )


def _runs_are_signed(job: Job) -> Condition:
    """A lead is told here of a sign-off that lapsed while its program runs; the machinist is told at the station."""
    lapsed = floor.lapsed_runs(job)
    said = _("op %(op)s, lot %(lot)s: %(why)s")
    return Condition(
        _("what runs now is signed off"),
        not lapsed,
        reason="; ".join(said % {"op": run.step.op_number, "lot": run.lot.number, "why": why} for run, why in lapsed),
        mend=reverse("programs:list", args=[job.pk]),
    )


def _as_run_noted(job: Job) -> Condition:
    missing = as_run.missing_in(job)
    said = _("op %(op)s, lot %(lot)s")
    return Condition(
        _("what was set at each op that ran a program is noted"),
        not missing,
        reason="; ".join(said % {"op": step.op_number, "lot": lot.number} for lot, step in missing),
        mend=reverse("floor:as_run_of_job", args=[job.pk]),
    )


def _pieces_agree(job: Job, tally: dict[str, int], mend: str) -> Condition:
    """Made is the sum of all places: true unless rows were changed behind the program's back."""
    made = floor.made(job)
    said = {"made": made, "found": sum(tally.values())}
    return Condition(
        _("what was made agrees with where the pieces are, to the piece"),
        made == said["found"],
        reason=_("%(made)s were made, %(found)s are accounted for") % said,
        mend=mend,
    )


def _shipments_have_papers(job: Job) -> Condition:
    bare = papers.shipments_without_papers(job)
    return Condition(
        _("every shipment has its packing slip and certificate"),
        not bare,
        reason=", ".join(_("shipment %(n)s waits for them") % {"n": shipment.number} for shipment in bare),
        mend=reverse("workflow:job", args=[job.pk]) + "#papers",
    )


def _bars_settled(job: Job) -> list[Condition]:
    """Bars that stand on the rack by the records and were sawn long ago make the rack wrong."""
    waiting = [pick for pick in jobs.picks_of(job) if not pick.is_sawn]
    if not waiting:
        return []
    reason = _("not noted as sawn: %s") % "; ".join(str(pick) for pick in waiting)
    mend = reverse("jobs:stock", args=[job.pk])
    return [Condition(_("every bar reserved for it is sawn or given back"), False, reason=reason, mend=mend)]


def _drops_returned(job: Job) -> list[Condition]:
    bars = [
        Condition(
            _("the customer's bar went back: %s") % bar,
            False,
            reason=_("%(n)d on the rack; set it to 0 once it is on its way") % {"n": bar.on_hand},
            mend=reverse("shop:rack_row", args=[bar.pk]),
        )
        for bar in jobs.customers_bars_left(job)
    ]
    supplied = jobs.supplied_of(job)
    if supplied is None:
        return bars
    stock = reverse("jobs:stock", args=[job.pk])
    left = Condition(_("what is left of the customer's material went back"), bool(supplied.returned_at), mend=stock)
    return [*bars, left]
