"""What must hold before a job may leave a stage: a plain list that page, action and test all read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.errors import CoreError
from shopflow.floor import as_run, read_backs
from shopflow.floor import queries as floor
from shopflow.floor.models import Lot, Place
from shopflow.inspection import queries as inspection
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, JobFile, Stage, Step
from shopflow.papers import queries as papers
from shopflow.programs import queries as programs
from shopflow.workflow.packets import content_hash


@dataclass(frozen=True)
class Condition:
    """One thing that must hold. reason: what is missing, in words. mend: the address that mends it."""

    text: str
    met: bool
    reason: str = ""
    mend: str = ""


class GateClosed(CoreError):
    """The job may not move on; `unmet` says which conditions fail."""

    def __init__(self, unmet: list[Condition]) -> None:
        self.unmet = unmet
        super().__init__(_("Still missing: %(list)s.") % {"list": "; ".join(c.text for c in unmet)})


def intake_gate(job: Job) -> list[Condition]:
    intake, edit = reverse("jobs:intake", args=[job.pk]), reverse("jobs:edit", args=[job.pk])
    return [
        *(_without_model(job, edit) if job.no_model_reason else _with_model(job, intake)),
        Condition(_("print or model named as governing"), bool(job.governing), mend=edit),
        _revisions(job, intake),
        Condition(_("material set"), job.material_id is not None, mend=edit),
        _questions_answered(job),
    ]


def _questions_answered(job: Job) -> Condition:
    questions = jobs.open_questions(job).filter(holds_job=True).count()
    return Condition(
        _("no open question to the customer holds the job"),
        not questions,
        reason=ngettext("%(count)d question is open", "%(count)d questions are open", questions) % {"count": questions},
        mend=reverse("jobs:questions", args=[job.pk]),
    )


def _revisions(job: Job, mend: str) -> Condition:
    found = jobs.revisions_of(job)
    return Condition(
        _("order, print and model are of one revision, or a person said why not"),
        not found.differ or bool(job.revisions_settled),
        reason=found.in_words if found.differ else "",
        mend=f"{mend}#print-and-model",
    )


def _with_model(job: Job, mend: str) -> list[Condition]:
    reading = jobs.reading_of(job)
    if reading is None:
        return [Condition(_("the model was read"), False, reason=jobs.why_not_read(job), mend=mend)]
    unit_is_clear = job.unit_confirmed or not reading.unit_doubtful
    solid_is_clear = len(reading.solids) == 1 or job.solid_index is not None
    return [
        Condition(_("the model was read"), True, mend=mend),
        Condition(_("its unit is clear, or a person confirmed it"), unit_is_clear, mend=mend),
        Condition(_("one solid, or a person chose which"), solid_is_clear, mend=mend),
    ]


def _without_model(job: Job, mend: str) -> list[Condition]:
    has_print = job.files.filter(kind__in=[JobFile.Kind.DRAWING, JobFile.Kind.PHOTO]).exists()
    return [
        Condition(
            _("a drawing, a photo or a note stands in for the model"),
            has_print or bool(job.notes.strip()),
            mend=mend,
        )
    ]


def plan_gate(job: Job) -> list[Condition]:
    plan = reverse("jobs:plan", args=[job.pk])
    missing = jobs.setups_missing(job)
    loose = list(jobs.unassigned_characteristics(job))
    return [
        Condition(_("the routing has steps"), job.steps.exists(), mend=plan),
        Condition(
            _("every setup has machine, workholding, orientation, work offset, part zero, stock and tools"),
            not missing,
            reason="; ".join(missing),
            mend=plan,
        ),
        *_tools_planned(job),
        Condition(
            _("every characteristic is assigned to an inspection step"),
            not loose,
            reason=", ".join(map(str, loose)),
            mend=reverse("jobs:characteristics", args=[job.pk]),
        ),
        _questions_answered(job),
        Condition(_("a person approved the plan as it is now"), jobs.is_plan_approved(job), mend=plan),
    ]


def _tools_planned(job: Job) -> list[Condition]:
    """One line for each tool that is not in the crib; one that a lead counts on does not hold the plan."""
    lines = [line for line in jobs.tools_lacking(job) if line.tool is None]
    if not lines:
        return [Condition(_("its tools exist in the crib"), True)]
    return [_tool_planned(line) for line in lines]


def _tool_planned(line: jobs.ToBuy) -> Condition:
    mend = f"{reverse('jobs:to_buy')}#{line.anchor}"
    if line.order is not None and line.is_counted_on:
        said = {"tool": line, "day": date_format(line.order.due_on, "j M Y"), "lead": line.order.accepted_by}
        return Condition(_("%(tool)s: on order, comes %(day)s, which %(lead)s accepted") % said, True)
    return Condition(_("in the crib: %s") % line, False, reason=line.why_not, mend=mend)


def review_gate(job: Job) -> list[Condition]:
    mend = reverse("programs:list", args=[job.pk])
    bare = list(programs.setups_without_program(job))
    unsigned = programs.unsigned(job)
    return [
        Condition(
            _("every milling setup has a program, or is a manual op with a reason"),
            not bare,
            reason=", ".join(_("setup %(number)s has none") % {"number": setup.number} for setup in bare),
            mend=mend,
        ),
        Condition(
            _("every program is signed off, and the sign-off holds"),
            not unsigned,
            reason="; ".join(f"{row.program}: {row.reason}" for row in unsigned),
            mend=mend,
        ),
    ]


def release_gate(job: Job) -> list[Condition]:
    """All of the above still true now, and what the floor needs in its hands."""
    return [*_still_true(job), *_on_hand(job), _packet_printed(job)]


def _still_true(job: Job) -> list[Condition]:
    earlier = [(gate, condition) for gate in (intake_gate, plan_gate, review_gate) for condition in gate(job)]
    unmet = list(dict.fromkeys(condition for _gate, condition in earlier if not condition.met))
    return unmet or [Condition(_("intake, plan and sign-offs still hold"), True)]


def _on_hand(job: Job) -> list[Condition]:
    edit = reverse("workflow:job", args=[job.pk]) + "#release"
    conditions = [Condition(_("material received"), job.material_received, mend=edit), *_supplied(job)]
    if job.material and job.material.needs_heat_number:
        conditions.append(Condition(_("heat or lot number of the material noted"), bool(job.heat_number), mend=edit))
        conditions += _heats_apart(job, edit)
    return conditions + _tools_on_hand(job)


def _tools_on_hand(job: Job) -> list[Condition]:
    """What was planned with while it was on order has to be here now."""
    lines = jobs.tools_lacking(job)
    buying = reverse("jobs:to_buy")
    waiting = [
        Condition(_("on hand: %s") % line, False, reason=line.how_it_stands, mend=f"{buying}#{line.anchor}")
        for line in lines
    ]
    waiting += [
        Condition(
            _("sharp: %s") % tool,
            False,
            reason=_("used up; say so at the tool when a new or reground one is in"),
            mend=reverse("shop:crib_row", args=[tool.pk]),
        )
        for tool in programs.tools_used_up(job)
    ]
    short = [Condition(f"{one.tool}: {one}", True) for one in programs.tools_short(job)]
    return (waiting or [Condition(_("tools on hand"), True)]) + short


def _heats_apart(job: Job, mend: str) -> list[Condition]:
    """With several heats, how many pieces are of each: the floor gets a lot for each."""
    named = jobs.heats_named(job)
    if len(named) < 2:
        return []
    shown = ", ".join(one.heat or _("none") for one in named)
    text = _("each piece's heat is known: %s") % shown
    if without := sum(one.pieces or 0 for one in named if not one.heat):
        reason = _("%d pieces are of bars on the rack without a heat number") % without
        return [Condition(text, False, reason=reason, mend=reverse("jobs:stock", args=[job.pk]))]
    reason = _("several heats: type how many pieces are of each, such as “%(first)s × 8, %(second)s × 4”")
    said = {"first": named[0].heat, "second": named[1].heat}
    return [Condition(text, not jobs.has_mixed_heats(job), reason=reason % said, mend=mend)]


def _supplied(job: Job) -> list[Condition]:
    """The customer's blanks are counted: there is no spare to find out with later."""
    supplied = jobs.supplied_of(job)
    if supplied is None:
        return []
    said = {"counted": supplied.counted, "ordered": job.quantity}
    reason = _("%(counted)s came, %(ordered)s are ordered") % said if supplied.counted is not None else ""
    is_met = supplied.counted is not None and supplied.counted >= job.quantity
    return [
        Condition(_("the customer's blanks are counted in, one for each piece"), is_met, reason=reason,
                  mend=reverse("jobs:stock", args=[job.pk]))
    ]  # fmt: skip


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


def _packet_printed(job: Job) -> Condition:
    mend = reverse("workflow:job", args=[job.pk]) + "#release"
    packet = floor.packet_of(job)
    text = _("packet printed")
    if packet is None:
        return Condition(text, False, reason=_("no packet is made yet"), mend=mend)
    if packet.content_hash != content_hash(job):
        return Condition(
            text, False, reason=_("something changed since packet %(n)s") % {"n": packet.number}, mend=mend
        )
    return Condition(text, packet.traveler_id is not None, reason=_("the traveler is being printed"), mend=mend)


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


GATES: dict[str, Callable[[Job], list[Condition]]] = {
    Stage.INTAKE: intake_gate,
    Stage.PLAN: plan_gate,
    Stage.REVIEW: review_gate,
    Stage.RELEASE: release_gate,
    Stage.FLOOR: close_gate,
    Stage.CLOSED: lambda job: [],
}


def gate_of(job: Job) -> list[Condition]:
    """The gate ahead of the job."""
    return GATES[job.stage](job)


def unmet(conditions: list[Condition]) -> list[Condition]:
    return [condition for condition in conditions if not condition.met]
