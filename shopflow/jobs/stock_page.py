"""What jobs/stock.html shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.planning.blanks.bars import common_plate_mm, common_round_mm
from shopflow.core.types import Vector
from shopflow.jobs import queries
from shopflow.jobs.forms.stock import CountedForm, DropsForm, HereForm, InsteadForm, SawnForm
from shopflow.jobs.models import BarPick, Job, Stage
from shopflow.people.access import Act, may
from shopflow.people.models import User

WORDS = {
    "on the rack": gettext_lazy("on the rack"),
    "its price is not known": gettext_lazy("its price is not known"),
    "the cheapest": gettext_lazy("the cheapest"),
    "the least to cut away": gettext_lazy("the least to cut away"),
    "too short for a piece": gettext_lazy("too short for a piece"),
    "one to buy": gettext_lazy("one to buy"),
    "shares a bar": gettext_lazy("shares a bar with another job"),
}


@dataclass(frozen=True)
class ShownChoice:
    """One line of the ranking. cost: with two places, "" where unknown. pieces: what one bar gives at most."""

    key: str
    name: str
    has: str
    blank_mm: Vector
    bars: str
    yield_percent: str
    cost: str
    why: str
    is_possible: bool


def context(job: Job, user: User) -> dict[str, Any]:
    """Beside `job`."""
    proposal = queries.proposal_of(job, units=user.units)
    need = queries.need_mm(job, proposal)
    picks = queries.picks_of(job)
    choices = queries.stock_choices(job, proposal)
    return {
        "may_plan": may(user, Act.PLAN) and job.stage not in (Stage.FLOOR, Stage.CLOSED),
        "may_edit": may(user, Act.EDIT_JOB) and job.is_open,
        "may_saw": may(user, Act.RUN) and job.is_open,
        "need_mm": need,
        "why_no_choice": _why_none(job, need),
        "choices": [_shown(choice, job) for choice in choices],
        "picks": picks,
        "without_bar": max(0, job.quantity - sum(pick.pieces for pick in picks)) if picks else 0,
        "is_sawn": any(pick.is_sawn for pick in picks),
        "is_reserved": any(not pick.is_sawn for pick in picks),
        **heats_context(job, picks),
        "not_offered": queries.customers_bars_not_offered(job, choices),
        "supplied": queries.supplied_of(job),
        "blank_file": queries.blank_file_of(job),
        "common_plate_mm": common_plate_mm(need) if need and not choices else None,
        "common_round_mm": common_round_mm(need) if need and not choices else None,
        "sawn_form": SawnForm(unit=user.units),
        "here_form": HereForm(),
        "counted_form": CountedForm(initial={"heat_number": job.heat_number}),
        "drops_form": DropsForm(),
        "instead_form": InsteadForm(),
    }


def heats_context(job: Job, picks: list[BarPick]) -> dict[str, Any]:
    """heats: pieces by heat where there are several. other_heat: what the order says, where the bars say otherwise."""
    heats = {heat: count for heat, count in queries.heats_of(picks).items() if heat}
    differs = bool(heats) and bool(job.heat_number) and not all(heat in job.heat_number for heat in heats)
    return {"heats": heats if len(heats) > 1 else {}, "other_heat": job.heat_number if differs else ""}


def _why_none(job: Job, need: Vector | None) -> str:
    if job.material is None:
        return _("The order does not say the material yet.")
    if need is None:
        return queries.why_not_planned(job) or _("Type the blank's sizes in the first setup.")
    return ""


def _shown(choice: queries.StockChoice, job: Job) -> ShownChoice:
    option = choice.option
    counted: dict[str, int] = {}
    named = {rest.key: str(rest) for rest in choice.rests}
    for pick in option.picks:
        counted[pick.key] = counted.get(pick.key, 0) + pick.bars
    opened = " + ".join(f"{bars} × {named.get(key, key)}" for key, bars in counted.items())
    bought = _("%(n)d to buy") % {"n": option.to_buy} if option.to_buy else ""
    return ShownChoice(
        key=choice.key,
        name=str(choice.row),
        has=", ".join(word for word in (choice.row.heat_number, choice.row.place, choice.row.owner) if word),
        blank_mm=option.way.size_mm,
        bars=" + ".join(word for word in (opened, bought) if word),
        yield_percent=f"{100 * option.yield_share:.0f} %" if option.yield_share else "",
        cost=f"{option.cost:.2f}" if option.cost is not None else "",
        why="; ".join(str(WORDS.get(word, word)) for word in option.why),
        is_possible=bool(option.picks or option.to_buy),
    )
