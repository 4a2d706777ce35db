"""Which house rules a review went by: a short name for the set, since when it was in force, and what was in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from shopflow.core.review.house_rules import DEFAULTS
from shopflow.programs.inputs import from_plain
from shopflow.programs.models import Review
from shopflow.records.canonical import digest
from shopflow.shop import queries as shop
from shopflow.shop.models import HouseRuleChange

NAME_LENGTH = 8


@dataclass(frozen=True)
class RuleUsed:
    """One rule as a review used it. change: how the shop set it, None where the default stood."""

    key: str
    title: str
    unit: str
    used: Decimal
    now: Decimal
    basis: str
    change: HouseRuleChange | None

    @property
    def differs(self) -> bool:
        return self.used != self.now


@dataclass(frozen=True)
class RuleSet:
    """name: the first digits of a hash of every value, so that equal names mean equal rules. since: the last change of
    a rule before the review was asked for, None where the shop had changed none. version: of reader and rules."""

    name: str
    since: datetime | None
    asked_at: datetime
    version: str
    rules: list[RuleUsed]

    @property
    def differing(self) -> int:
        """How many of them are otherwise today."""
        return sum(rule.differs for rule in self.rules)


def rule_set_of(review: Review) -> RuleSet:
    """Read from what the review was asked with; nothing that was changed later reaches it."""
    inputs = from_plain(review.work.data)
    bound = {key: Decimal(str(value)) for key, value in inputs.assumptions.get("house_rules", {}).items()}
    before = list(shop.rule_changes().filter(changed_at__lte=review.asked_at))
    now = shop.house_rule_values()
    rules = [
        RuleUsed(
            rule.key, rule.title, rule.unit, inputs.changed_rules.get(rule.key, bound.get(rule.key, rule.value)),
            now[rule.key], rule.basis, _last(before, rule.key) if rule.key in inputs.changed_rules else None,
        )
        for rule in DEFAULTS
    ]  # fmt: skip
    name = digest({rule.key: str(rule.used.normalize()) for rule in rules})[:NAME_LENGTH]
    return RuleSet(name, before[0].changed_at if before else None, review.asked_at, review.work.version, rules)


def _last(changes: Iterable[HouseRuleChange], key: str) -> HouseRuleChange | None:
    return next((change for change in changes if change.key == key), None)
