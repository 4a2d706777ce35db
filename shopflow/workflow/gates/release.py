"""Before a release: everything from before still holds, and what the floor needs is in its hands."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.floor import queries as floor
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job
from shopflow.programs import queries as programs
from shopflow.workflow.gates.conditions import Condition
from shopflow.workflow.gates.desk import intake_gate, plan_gate, review_gate
from shopflow.workflow.packets import content_hash


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
