"""Before a job goes to the floor: intake, plan and program review."""

from __future__ import annotations

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, JobFile
from shopflow.programs import queries as programs
from shopflow.workflow.gates.conditions import Condition


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
