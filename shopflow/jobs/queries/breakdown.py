"""Where the minutes of each step come from, as the plan page says it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from shopflow.core import planning
from shopflow.jobs.models import Job, Operation, Setup, Step
from shopflow.jobs.queries.habits import plan_rules
from shopflow.jobs.queries.model import reading_of
from shopflow.jobs.queries.operations import correction_now
from shopflow.jobs.queries.plan import measurements_each
from shopflow.jobs.queries.setting_up import held_in, setting_up_of
from shopflow.shop import queries as shop

SAME_MIN = 0.02
"""Minutes are kept in hundredths."""
EDGES = str(planning.OperationKind.EDGES)


@dataclass(frozen=True)
class StepMinutes:
    """Parts of a step's minutes: to set up, and a piece. ratio, set_up_ratio: what corrects those of a piece, and those
    to set up.

    typed: which of the two a person typed, so that the parts are beside it.
    """

    step: Step
    to_set_up: tuple[planning.MinutesPart, ...]
    each: tuple[planning.MinutesPart, ...]
    ratio: planning.Ratio = planning.Ratio()
    set_up_ratio: planning.Ratio = planning.Ratio()

    @property
    def is_setup_typed(self) -> bool:
        return "minutes_setup" in self.step.fixed

    @property
    def is_each_typed(self) -> bool:
        return "minutes_each" in self.step.fixed

    @property
    def is_overtaken(self) -> bool:
        """Whether the plan counts with other minutes: habits or times changed since it was proposed."""
        setting_up, each = (float(sum(part.minutes for part in parts)) for parts in (self.to_set_up, self.each))
        stands = (
            (self.step.minutes_setup, self.is_setup_typed, setting_up * self.set_up_ratio.ratio),
            (self.step.minutes_each, self.is_each_typed, each * self.ratio.ratio),
        )
        return any(
            now and not is_typed and abs(float(planned or 0) - now) > SAME_MIN for planned, is_typed, now in stands
        )


def breakdown_of(job: Job, steps: list[Step], setups: list[Setup]) -> list[StepMinutes]:
    """Of every step whose minutes the plan computes. setups: with tools and operations, as setups_of gives them."""
    found, known = [], correction_now()
    by_id = {setup.pk: setup for setup in setups}
    group, rules = job.material.group if job.material else "", plan_rules()
    for step in steps:
        if setup := by_id.get(step.setup_id or 0):
            ratio = known.of(setup.machine.name, group) if setup.machine else planning.Ratio()
            set_up_ratio = known.of_setting_up(held_in(setup))
            parts = setting_up_of(setup, rules), _cutting(setup, rules)
            found.append(StepMinutes(step, *parts, ratio, set_up_ratio))
        elif step.kind == Step.Kind.DEBURR and (deburring := deburring_of(job, rules)):
            found.append(StepMinutes(step, (), deburring))
        elif step.kind == Step.Kind.INSPECT:
            found.append(StepMinutes(step, (), inspecting_of(job, rules)))
    return found


def _cutting(setup: Setup, rules: planning.PlanRules) -> tuple[planning.MinutesPart, ...]:
    rows = list(setup.operations.all())
    if setup.machine is None or not rows:
        return ()
    changing = planning.changing_minutes([row.as_core() for row in rows], shop.core_machine(setup.machine))
    cut = float(sum((row.minutes or Decimal(0)) for row in rows))
    return (
        planning.MinutesPart(_("one piece for the next"), planning.load_minutes(rules, held=held_in(setup))),
        planning.MinutesPart(_("%(n)d operations") % {"n": len(rows)}, cut),
        planning.MinutesPart(_("tools changed"), changing),
    )


def sharp_by_hand_mm(job: Job) -> float | None:
    """Length of the sharp outside edges that no operation of the plan breaks on the machine; None without a model."""
    reading = reading_of(job)
    if reading is None:
        return None
    rows = Operation.objects.filter(setup__job=job, kind=EDGES, setup__manual_reason="").exclude(tool=None)
    return max(reading.sharp_edges.length_mm - sum(float(row.facts.get("length_mm", 0)) for row in rows), 0.0)


def deburring_of(job: Job, rules: planning.PlanRules) -> tuple[planning.MinutesPart, ...]:
    """From the length of the edges that are left to hands; nothing where no model says it."""
    length = sharp_by_hand_mm(job)
    if length is None:
        return ()
    minutes = planning.deburr_minutes(length, rules)
    said = _("%(length)s mm of sharp edges by hand") % {"length": f"{length:.0f}"}
    handled = planning.deburr_minutes(0, rules)
    return planning.MinutesPart(_("taken in hand"), handled), planning.MinutesPart(said, minutes - handled)


def inspecting_of(job: Job, rules: planning.PlanRules) -> tuple[planning.MinutesPart, ...]:
    """From the characteristics and how many pieces are measured for each."""
    count, handled = measurements_each(job), planning.inspect_minutes(0, rules)
    rows = job.characteristics.count()
    said = _("%(each)s measurements a piece on the average: %(rows)d characteristics by their samples")
    words = said % {"each": f"{count:.2f}", "rows": rows}
    measuring = planning.inspect_minutes(count, rules) - handled
    return planning.MinutesPart(_("taken in hand"), handled), planning.MinutesPart(words, measuring)
