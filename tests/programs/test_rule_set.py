"""A review says which house rules it went by, whatever is changed later."""

from decimal import Decimal

import pytest
from django.urls import reverse

from shopflow.programs import queries
from shopflow.shop import actions as shop
from tests.programs.objects import GOOD, again, upload

pytestmark = pytest.mark.django_db
KEY = "stop_clearance"


def rule_set(revision):
    return queries.rule_set_of(queries.review_of(revision))


def used(revision):
    return {rule.key: rule for rule in rule_set(revision).rules}[KEY]


def change(owner, text, reason="a hand fits better"):
    shop.change_house_rule(KEY, text=text, reason=reason, by=owner)


def test_a_review_under_defaults_says_that_nothing_was_changed(job, owner):
    found = rule_set(upload(job, by=owner))
    assert (found.since, found.differing, {rule.change for rule in found.rules}) == (None, 0, {None})


def test_a_review_names_who_changed_a_rule_and_why(job, owner):
    change(owner, "40")
    rule = used(upload(job, by=owner))
    assert (rule.used, rule.change.changed_by, rule.change.reason) == (Decimal(40), owner, "a hand fits better")


def test_equal_rules_have_one_name_and_other_rules_another(job, owner):
    first = upload(job, by=owner)
    name = rule_set(first).name
    change(owner, "40")
    second = again(first, GOOD + b"\n", by=owner)
    change(owner, "25.0")
    third = again(second, GOOD + b"\n\n", by=owner)
    assert (rule_set(second).name == name, rule_set(third).name == name) == (False, True)


def test_a_rule_changed_after_the_review_is_shown_beside_what_was_used(job, owner):
    revision = upload(job, by=owner)
    review = queries.review_of(revision)
    change(owner, "40")
    rule = {rule.key: rule for rule in queries.rule_set_of(review).rules}[KEY]
    assert (rule.used, rule.now, rule.differs) == (Decimal(25), Decimal(40), True)


def test_the_review_page_leads_to_the_rules_that_it_went_by(client, job, owner):
    revision = upload(job, by=owner)
    client.force_login(owner)
    address = reverse("programs:rule_set", args=[revision.pk])
    assert address in client.get(revision.get_absolute_url()).text
    assert rule_set(revision).name in client.get(address).text
