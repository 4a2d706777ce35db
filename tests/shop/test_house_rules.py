"""House rules: typed text, reasons, defaults."""

import itertools
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from shopflow.core.review.house_rules import DEFAULTS
from shopflow.records.models import LedgerRow
from shopflow.shop import actions, changes, queries, showing
from shopflow.shop.models import HouseRule, HouseRuleChange

PLUNGE = "hss_plunge_most"
CLEARANCE = "stop_clearance"


def change(by, text, key=PLUNGE, reason="two broken drills this month"):
    actions.change_house_rule(key, text=text, reason=reason, by=by)


def test_a_rule_without_a_row_stands_at_its_default(db):
    assert queries.house_rule_values() == {rule.key: rule.value for rule in DEFAULTS}


def test_a_changed_rule_is_in_force(lead):
    change(lead, "4.5")
    assert queries.house_rules().value(PLUNGE) == Decimal("4.5")


def test_a_changed_rule_says_that_it_is_the_shops(lead):
    change(lead, "4.5")
    assert "this shop" in queries.house_rules().basis(PLUNGE)


def test_a_length_may_be_typed_in_inches_and_is_shown_as_typed(lead, client):
    change(lead, "1 in", key=CLEARANCE)
    assert queries.house_rules().value(CLEARANCE) == Decimal("25.4")
    client.force_login(lead)
    assert "1 in" in client.get(reverse("shop:house_rules")).text


def test_an_empty_text_goes_back_to_the_default(lead):
    change(lead, "4.5")
    change(lead, "")
    assert not HouseRule.objects.exists()
    assert queries.house_rules().value(PLUNGE) == 5


def test_who_changed_a_rule_and_why_is_kept(lead):
    change(lead, "4.5")
    kept = HouseRuleChange.objects.get()
    assert (kept.before, kept.after, kept.changed_by, kept.reason) == ("", "4.5", lead, "two broken drills this month")


def test_the_reason_stays_out_of_the_ledger(lead):
    change(lead, "4.5")
    row = LedgerRow.objects.get(kind="house_rule_changed")
    assert row.data == {"rule": PLUNGE, "before": "", "after": "4.5"}


def test_a_changed_rule_is_announced(lead, monkeypatch):
    heard = []
    monkeypatch.setattr(changes, "_listeners", [lambda by, jobs: heard.append((by, jobs))])
    change(lead, "4.5")
    assert heard == [(lead, None)]


@pytest.mark.parametrize("text", ["deep", "-1", "NaN", "Infinity", "1e999999999"])
def test_what_is_no_number_is_refused_at_the_value(lead, text):
    with pytest.raises(ValidationError) as refusal:
        change(lead, text)
    assert set(refusal.value.error_dict) == {"text"}


def test_a_change_without_a_reason_is_refused(lead):
    with pytest.raises(ValidationError) as refusal:
        change(lead, "4.5", reason=" ")
    assert set(refusal.value.error_dict) == {"reason"}


def test_a_change_to_what_it_is_already_is_refused(lead):
    change(lead, "4.5")
    with pytest.raises(ValidationError, match="already"):
        change(lead, "4.5")


def test_only_a_lead_changes_rules(programmer):
    with pytest.raises(PermissionDenied, match="lead"):
        change(programmer, "4.5")


def test_an_unknown_rule_is_refused(lead):
    with pytest.raises(LookupError):
        change(lead, "1", key="no_such_rule")


def test_the_page_tells_a_refusal_at_its_rule(client, lead):
    client.force_login(lead)
    page = client.post(reverse("shop:house_rule", args=[PLUNGE]), {f"{PLUNGE}-text": "deep", f"{PLUNGE}-reason": "x"})
    assert page.status_code == 422
    assert "Type a number" in page.text


def test_the_page_shows_default_basis_and_history(client, lead):
    change(lead, "4.5")
    client.force_login(lead)
    text = client.get(reverse("shop:house_rules")).text
    assert "open textbook" in text
    assert "two broken drills this month" in text


def test_a_rule_that_is_gone_from_the_program_is_no_trouble(client, lead):
    HouseRule.objects.create(key="gone", value="3")
    HouseRuleChange.objects.create(key="gone", before="", after="3", reason="long ago", changed_by=lead)
    assert "gone" not in queries.house_rules().changed
    client.force_login(lead)
    assert client.get(reverse("shop:house_rules")).status_code == 200


def test_nothing_done_in_a_minute_is_refused_at_the_value(lead):
    with pytest.raises(ValidationError) as refusal:
        actions.change_house_rule("minutes_deburr_rate", text="0 mm", reason="a slow day", by=lead)
    assert set(refusal.value.error_dict) == {"text"}


def test_rules_about_one_thing_stand_together(db):
    about = [rule.about for rule in showing.rules({})]
    assert len(list(itertools.groupby(about))) == len(set(about)) == 4
