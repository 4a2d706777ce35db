"""A house rule that came with a later version changes no sign-off from before it, until the shop sets it."""

from decimal import Decimal

import pytest

from shopflow.core.review.house_rules import YOUNGER_KEYS, HouseRules
from shopflow.programs.assumptions import _house_rules


@pytest.mark.parametrize("key", sorted(YOUNGER_KEYS))
def test_a_younger_rule_at_its_default_is_not_bound(key):
    assert key not in _house_rules(HouseRules())


def test_a_younger_rule_that_the_shop_set_is_bound():
    assert _house_rules(HouseRules({"general_form": Decimal(1)}))["general_form"] == 1
