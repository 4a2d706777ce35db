"""Reads of the shop's tables, as rows and as values of the core."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Model, QuerySet
from django.utils.translation import gettext as _

from shopflow.core import types
from shopflow.core.cutting.data import ALONG_AXIS, Cut, DataRow, Suggestion, suggest
from shopflow.core.measure import Measure, parse
from shopflow.core.nc import CONTROLS, control_values
from shopflow.core.review.house_rules import DEFAULTS, HouseRules
from shopflow.core.review.house_rules import HouseRule as Rule
from shopflow.people.models import User
from shopflow.records.ledger import SHOP
from shopflow.records.models import LedgerRow
from shopflow.shop.models import (
    ControlProfile,
    ControlProfileChange,
    CuttingData,
    Gauge,
    HouseRule,
    HouseRuleChange,
    Machine,
    Material,
    StockBar,
    Tool,
)
from shopflow.shop.texts import text_of

DEFAULT_CONTROL = "calculator"


def tools() -> QuerySet[Tool]:
    return Tool.objects.select_related("holder")


def core_tools() -> dict[int, types.Tool]:
    """The whole crib by number, in order."""
    return {tool.number: tool.as_core() for tool in tools()}


def core_machine(machine: Machine) -> types.Machine:
    """A machine with its control profile."""
    return machine.as_core(control_profile(machine.control))


def control_profile(name: str) -> types.ControlProfile:
    """A known profile or one of the shop's own; the default one where the name is empty. LookupError if unknown."""
    name = name or DEFAULT_CONTROL
    if name in CONTROLS:
        return CONTROLS[name]
    return core_control(own_control(name))


def own_control(name: str) -> ControlProfile:
    """A profile of the shop's own; LookupError if there is none of this name."""
    own = ControlProfile.objects.filter(name=name).first()
    if own is None:
        raise LookupError(f"there is no control profile named {name!r}")
    return own


def core_control(own: ControlProfile) -> types.ControlProfile:
    """The built-in profile that it is based on, with what the shop changed."""
    changed = {name: control_values.load(name, value) for name, value in own.changes.items()}
    return replace(CONTROLS[own.based_on], name=own.name, title=own.title, **changed)


def own_controls() -> list[ControlProfile]:
    return list(ControlProfile.objects.all())


def control_choices() -> list[tuple[str, list[tuple[str, str]]]]:
    """Every profile that a machine can have as (name, title), the shop's own apart from the built-in ones."""
    known = [(profile.name, profile.title) for profile in CONTROLS.values()]
    own = [(profile.name, profile.title) for profile in own_controls()]
    return [group for group in ((_("This shop's own"), own), (_("Built in"), known)) if group[1]]


def machines_by_control() -> dict[str, list[str]]:
    """The names of the machines that use each profile."""
    used: dict[str, list[str]] = {}
    for machine in Machine.objects.all():
        used.setdefault(machine.control or DEFAULT_CONTROL, []).append(machine.name)
    return used


def control_changes(own: ControlProfile) -> QuerySet[ControlProfileChange]:
    """Every change of one of the shop's profiles, under whatever name, newest first."""
    return ControlProfileChange.objects.filter(of=own.pk).select_related("changed_by")


def own_cutting_data() -> list[DataRow]:
    """The shop's own speeds and feeds, as core.cutting.data.suggest takes them."""
    return [row.as_core() for row in CuttingData.objects.all()]


def suggestion(
    *,
    material: Material,
    tool: Tool,
    use: str,
    machine: Machine | None,
    depth: Measure | None = None,
    width: Measure | None = None,
) -> Suggestion | None:
    """Speed and feed of a tool of the crib, the shop's own numbers first; None where no table says anything."""
    deep, wide = (length.mm if length else 0.0 for length in (depth, width))
    cut = Cut(depth_mm=deep) if use in ALONG_AXIS else Cut(axial_mm=deep, radial_mm=wide)
    on = core_machine(machine) if machine else None
    own = own_cutting_data()
    return suggest(material.as_core(), tool.as_core(), types.ToolUse(use), on, cut=cut, own=own)


def next_cutting_number() -> int:
    last = CuttingData.objects.order_by("-number").values_list("number", flat=True).first()
    return (last or 0) + 1


def rows_of(model: type[Model]) -> QuerySet[Any]:
    """A whole table in its order."""
    rows = model._default_manager.all()
    related = {Tool: "holder", StockBar: "material"}.get(model)
    return rows.select_related(related) if related else rows


def history(kind: str, pk: int) -> QuerySet[LedgerRow]:
    """What the ledger says of one row of the shop, newest first."""
    rows = LedgerRow.objects.filter(chain=SHOP, subject_kind=kind, subject_id=pk)
    return rows.select_related("by").order_by("-seq")


def last_by(kind: str, pk: int) -> User | None:
    """Who changed a row of the shop last."""
    last = history(kind, pk).first()
    return last.by if last else None


def house_rules() -> HouseRules:
    """The rules in force, for a review."""
    return HouseRules({key: rule_value(rule_of(key), text) for key, text in changed_rules().items()})


def house_rule_values() -> dict[str, Decimal]:
    """The value in force of every rule."""
    rules = house_rules()
    return {rule.key: rules.value(rule.key) for rule in DEFAULTS}


def changed_rules() -> dict[str, str]:
    """What the shop set differently from the defaults, as it was typed. A row of a rule that is gone is left alone."""
    known = {rule.key for rule in DEFAULTS}
    return {row.key: row.value for row in HouseRule.objects.filter(key__in=known)}


def rule_text(key: str, *, lock: bool = False) -> str:
    """What the shop typed for a rule, empty while the default stands. lock: until the transaction ends."""
    rows = HouseRule.objects.select_for_update() if lock else HouseRule.objects.all()
    row = rows.filter(key=key).first()
    return row.value if row else ""


def rule_changes() -> QuerySet[HouseRuleChange]:
    """Every change of a rule, newest first."""
    return HouseRuleChange.objects.select_related("changed_by")


def rule_of(key: str) -> Rule:
    """A rule with its default; LookupError for an unknown key."""
    for rule in DEFAULTS:
        if rule.key == key:
            return rule
    raise LookupError(f"there is no house rule {key!r}")


def rule_value(rule: Rule, text: str) -> Decimal:
    """What was typed, in the rule's unit; a length may be typed in inches. Raises NotALength or ArithmeticError."""
    if rule.unit == "mm":
        return parse(text, default_unit="mm").in_unit("mm")
    return Decimal(text.strip().replace(",", "."))


def gauges_in_calibration(on: date) -> QuerySet[Gauge]:
    """Gauges that may be measured with on a day; one without a date is never in calibration."""
    return Gauge.objects.filter(calibrated_until__gte=on)


def find(rows: QuerySet[Any], words: str, fields: tuple[str, ...]) -> list[Any]:
    """The rows in which every word stands: "T10", or "10 drill" for what is 10 wide or numbered 10, but not T100."""
    patterns = [_whole_number_or_part(word) for word in words.split()]
    return [row for row in rows if all(any(p.search(text) for text in _texts(row, fields)) for p in patterns)]


def find_tools(words: str) -> list[Tool]:
    """The tools of the crib that fit what somebody typed into a search box, such as "T12", "6 mm drill" or "1/4"."""
    return find(tools(), words, TOOL_WORDS)


TOOL_WORDS = ("number", "name", "shape", "diameter", "material", "holder", "note")


def _whole_number_or_part(word: str) -> re.Pattern[str]:
    number = word[0].isdigit() or word[-1].isdigit()
    return re.compile(rf"(?<![\d.]){re.escape(word)}(?![\d])" if number else re.escape(word), re.IGNORECASE)


def _texts(row: Any, fields: tuple[str, ...]) -> list[str]:
    """What can be found of a row; a tool also by its T number."""
    return [str(row), *(text_of(row, name) for name in fields if hasattr(row, name))]
