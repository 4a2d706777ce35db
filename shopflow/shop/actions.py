"""The only writes to the shop's tables. Each stands in the shop's ledger; what a sign-off depends on is announced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext as _

from shopflow.core.measure import NotALength
from shopflow.core.review.house_rules import HouseRule as Rule
from shopflow.core.review.minutes_habits import RATES
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes, queries
from shopflow.shop.models import HouseRule, HouseRuleChange, Machine
from shopflow.shop.rows import KINDS
from shopflow.shop.texts import text_of

LARGEST_RULE = 1_000_000
HIDDEN = "…"
"""Stands in the ledger for a text that it does not keep."""


class InUse(Exception):
    """A row that something refers to stays; the text says what to do instead."""


@dataclass
class Written:
    """What a write did to one row; before and after by field, as texts, and only where they differ."""

    row: models.Model
    is_new: bool
    before: dict[str, str] = field(default_factory=dict)
    after: dict[str, str] = field(default_factory=dict)

    @property
    def changed(self) -> list[str]:
        return list(self.after)


def save(row: models.Model, *, by: User) -> Written:
    """Add or change one row of the crib, machines, materials or gauges; saved unchanged it leaves no trace.

    Raises ValidationError by field.
    """
    return save_all([row], by=by)[0]


@transaction.atomic
def save_all(rows: Sequence[models.Model], *, by: User) -> list[Written]:
    """Several rows at once, all or none, and announced once."""
    written = [_write(row, by=by) for row in rows]
    changed = [one for one in written if one.is_new or one.changed]
    if any(KINDS[type(one.row)].bound for one in changed):
        changes.announce(by=by)
    # The shop's chain comes last: whoever was told may have written to the chains of jobs.
    for one in changed:
        _record(one, by=by)
    return written


def _write(row: models.Model, *, by: User) -> Written:
    kind = KINDS[type(row)]
    require(by, kind.act)
    check(row)
    written = compare(row)
    if written.is_new or written.changed:
        row.save()
    return written


def check(row: models.Model) -> None:
    """Raise ValidationError, field by field, for a row that could not be."""
    row.full_clean()
    if isinstance(row, Machine):
        try:
            queries.control_profile(row.control)
        except LookupError as unknown:
            raise ValidationError({"control": _("There is no control profile of this name.")}) from unknown


def compare(row: models.Model) -> Written:
    """How a row differs from what is kept of it."""
    kept = type(row)._default_manager.filter(pk=row.pk).first() if row.pk else None
    names = [one.name for one in row._meta.concrete_fields if not one.primary_key]
    after = {name: text_of(row, name) for name in names}
    if kept is None:
        return Written(row, is_new=True, after={name: text for name, text in after.items() if text})
    before = {name: text_of(kept, name) for name in names}
    differ = [name for name in names if before[name] != after[name]]
    return Written(row, False, {name: before[name] for name in differ}, {name: after[name] for name in differ})


def _record(written: Written, *, by: User) -> None:
    kind = KINDS[type(written.row)]
    done = "added" if written.is_new else "changed"
    ledger.append(
        f"{kind.name}_{done}",
        chain=ledger.SHOP,
        subject=(kind.name, written.row.pk),
        by=by,
        before=_without_notes(written.before),
        after=_without_notes(written.after),
    )


def _without_notes(texts: dict[str, str]) -> dict[str, str]:
    """Free text may name people, and the ledger cannot forget: of a note it only says that it changed."""
    return {name: HIDDEN if name in ("note", "caution") else text for name, text in texts.items()}


@transaction.atomic
def remove(row: models.Model, *, by: User) -> None:
    """Take a row away that nothing refers to; InUse otherwise."""
    kind = KINDS[type(row)]
    require(by, kind.act)
    pk = row.pk
    try:
        row.delete()
    except ProtectedError as refusal:
        raise InUse(_("Plans or reports refer to this: set what is on hand to 0, or change it.")) from refusal
    if kind.bound:
        changes.announce(by=by)
    ledger.append(f"{kind.name}_removed", chain=ledger.SHOP, subject=(kind.name, pk), by=by, was=text_of(row, kind.key))


@transaction.atomic
def change_house_rule(key: str, *, text: str, reason: str, by: User) -> None:
    """Set a rule to what was typed, or back to its default with an empty text; a reason is asked for either way."""
    require(by, Act.EDIT_RULES)
    rule = queries.rule_of(key)
    text, reason = text.strip(), reason.strip()
    _check_rule(rule, text, reason)
    before = queries.changed_rules().get(key, "")
    if text == before:
        raise ValidationError({"text": _("It stands at this value already.")})
    if text:
        HouseRule.objects.update_or_create(key=key, defaults={"value": text})
    else:
        HouseRule.objects.filter(key=key).delete()
    change = HouseRuleChange(key=key, before=before, after=text, reason=reason, changed_by=by)
    change.full_clean()
    change.save()
    changes.announce(by=by)
    ledger.append(
        "house_rule_changed", chain=ledger.SHOP, subject=("rule", change.pk), by=by, rule=key, before=before, after=text
    )


def _check_rule(rule: Rule, text: str, reason: str) -> None:
    if not reason:
        raise ValidationError({"reason": _("Say why: the next one who meets this rule will want to know.")})
    if not text:
        return
    try:
        value = queries.rule_value(rule, text)
    except NotALength as refusal:
        raise ValidationError({"text": str(refusal)}) from refusal
    except ArithmeticError as refusal:
        raise ValidationError({"text": _("Type a number.")}) from refusal
    if not value.is_finite() or not 0 <= value <= LARGEST_RULE:
        raise ValidationError({"text": _("Type a number from 0 to a million.")})
    if rule.key == "plan_sine_bar" and not value:
        raise ValidationError({"text": _("No sine bar is 0 long: type the way between its rolls.")})
    if rule.key in RATES and not value:
        raise ValidationError({"text": _("Nothing done in a minute would take for ever: type more than 0.")})
