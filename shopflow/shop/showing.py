"""What the pages of the shop's tables show of a row."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.forms import ModelForm
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.measure import Measure
from shopflow.core.review.house_rules import DEFAULTS
from shopflow.people.models import User
from shopflow.people.page_access import may_open
from shopflow.records.models import LedgerRow
from shopflow.shop import actions, queries, tool_life
from shopflow.shop.fields import MeasureField
from shopflow.shop.forms import HouseRuleForm
from shopflow.shop.models import HouseRuleChange
from shopflow.shop.rows import KINDS
from shopflow.shop.tables import TABLES, Table
from shopflow.shop.texts import plain_text, text_of

FIGURES = (MeasureField, models.IntegerField, models.DecimalField)


@dataclass(frozen=True)
class Cell:
    label: str
    text: str
    is_figure: bool
    measure: Measure | None = None


@dataclass(frozen=True)
class Row:
    """name: what the row is called, a link for those who may change it. is_off: out of use, such as none on hand."""

    name: Cell
    cells: list[Cell]
    url: str
    is_off: bool


@dataclass(frozen=True)
class Entry:
    """One line of _history.html."""

    at: Any
    text: str
    who: str
    reason: str = ""
    url: str = ""


def label(model: type[models.Model], name: str) -> str:
    return capfirst(str(getattr(model._meta.get_field(name), "verbose_name", name)))


def headings(table: Table) -> list[tuple[str, bool]]:
    """(label, whether its cells are figures) of each column."""
    return [(label(table.model, name), _is_figure(table.model, name)) for name in table.shown]


def _is_figure(model: type[models.Model], name: str) -> bool:
    return isinstance(model._meta.get_field(name), FIGURES)


def row(table: Table, kept: models.Model) -> Row:
    first, *others = [_cell(kept, name) for name in table.shown]
    is_off = getattr(kept, "on_hand", 1) == 0
    return Row(first, others, reverse(f"shop:{table.key}_row", args=[kept.pk]), is_off)


def _cell(kept: models.Model, name: str) -> Cell:
    value = getattr(kept, name)
    return Cell(
        label=label(type(kept), name),
        text=getattr(kept, f"{name}_said", "") or text_of(kept, name),
        is_figure=_is_figure(type(kept), name),
        measure=value if isinstance(value, Measure) else None,
    )


def tabs(current: str, user: User) -> list[dict[str, Any]]:
    """The tables of the shop, the house rules and the shop itself, those that this person may open, for _tabs.html."""
    shown = [(f"shop:{table.key}", table.title, table.key) for table in TABLES.values()]
    shown += [("shop:controls", _("Control profiles"), "controls")]
    shown += [("shop:house_rules", _("House rules"), "house_rules"), ("shop:facts", _("The shop"), "facts")]
    return [
        {"url": reverse(name), "text": text, "current": key == current}
        for name, text, key in shown
        if may_open(user, name)
    ]


def fieldsets(table: Table, form: ModelForm[Any]) -> list[tuple[str, list[Any]]]:
    """(legend, bound fields) as the form is laid out; one group without a legend where the table names none."""
    if not table.fieldsets:
        return [("", list(form))]
    return [(str(legend), [form[name] for name in names.split()]) for legend, names in table.fieldsets]


def history(kept: models.Model) -> list[Entry]:
    """What happened to a row, newest first."""
    return [
        Entry(at=happened.at, text=_told(type(kept), happened), who=str(happened.by or ""))
        for happened in queries.history(KINDS[type(kept)].name, kept.pk)
    ]


def _told(model: type[models.Model], happened: LedgerRow) -> str:
    if happened.kind.endswith("_added"):
        return _("Added")
    before, after = happened.data["before"], happened.data["after"]
    changes = "; ".join(_change(model, name, before.get(name, ""), after[name]) for name in after)
    if happened.kind == tool_life.USED:
        said = {"n": happened.data["pieces"], "op": happened.data["op"], "changes": changes}
        return _("%(n)d pieces reported at op %(op)s. %(changes)s") % said
    if happened.kind == tool_life.EDGE:
        return f"{capfirst(str(tool_life.EDGES[happened.data['how']]))}. {changes}"
    return changes


def _change(model: type[models.Model], name: str, before: str, after: str) -> str:
    if actions.HIDDEN in (before, after):
        return _("%(what)s changed") % {"what": label(model, name)}
    words = {"what": label(model, name), "before": before or _("nothing"), "after": after or _("nothing")}
    return _("%(what)s: %(before)s → %(after)s") % words


def changed(line: Any, table: Table) -> Iterator[str]:
    """What a line of a file would change, in words."""
    for name, after in line.written.after.items():
        yield _change(table.model, name, line.written.before.get(name, ""), after)


@dataclass(frozen=True)
class ShownRule:
    """A house rule on its page. text: as the shop typed it, empty while the default stands."""

    key: str
    title: str
    unit: str
    default: str
    basis: str
    text: str
    last: HouseRuleChange | None
    form: HouseRuleForm

    @property
    def about(self) -> str:
        return str(next((words for start, words in ABOUT.items() if self.key.startswith(start)), PROGRAMS))


ABOUT = {
    "plan_": gettext_lazy("Blanks and setups of a plan"),
    "minutes_": gettext_lazy("Minutes of a plan"),
    "general_": gettext_lazy("Inspection"),
}
"""What rules are about, by how their keys begin, in the order of the page after those about programs."""
PROGRAMS = gettext_lazy("Programs and their review")


def rules(forms: dict[str, HouseRuleForm]) -> list[ShownRule]:
    """Every rule, what is about one thing together; forms: those that were sent and refused, by key."""
    changed = queries.changed_rules()
    last: dict[str, HouseRuleChange] = {}
    for change in queries.rule_changes():
        last.setdefault(change.key, change)
    shown = [
        ShownRule(
            key=rule.key,
            title=rule.title,
            unit=rule.unit,
            default=plain_text(rule.value),
            basis=rule.basis,
            text=changed.get(rule.key, ""),
            last=last.get(rule.key),
            form=forms.get(rule.key) or HouseRuleForm(prefix=rule.key, initial={"text": changed.get(rule.key, "")}),
        )
        for rule in DEFAULTS
    ]
    order = [str(words) for words in (PROGRAMS, *ABOUT.values())]
    return sorted(shown, key=lambda rule: order.index(rule.about))


def told_rule(change: HouseRuleChange) -> Entry:
    titles = {rule.key: rule.title for rule in DEFAULTS}
    words = {"before": change.before or _("the default"), "after": change.after or _("the default")}
    return Entry(
        at=change.changed_at,
        text=_("%(rule)s: %(before)s → %(after)s") % {"rule": titles.get(change.key, change.key), **words},
        who=str(change.changed_by),
        reason=change.reason,
    )
