"""Inspection by sample grows stricter and easier from lot to lot of a part, over its orders; a person may set it."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.quality.sampling import Severity
from shopflow.floor.actions import NotNow
from shopflow.inspection import actions, queries, switching, switching_actions
from shopflow.inspection.models import SampleResult
from shopflow.records.models import LedgerRow
from tests.floor.objects import op
from tests.inspection.objects import at_the_bench, balloon

pytestmark = pytest.mark.django_db


def a_sampled_lot(lead, rule="AQL 6.5 level II"):
    """Three pieces; two are drawn at AQL 6.5 (letter A), and none may miss."""
    lot = at_the_bench(lead, quantity=3)
    balloon(lot, 2).delete()
    row = balloon(lot, 1)
    row.sampling = rule
    row.save()
    return lot


def row_of(lot):
    (row,) = queries.table(lot, op(lot, 40))
    return row


def inspected(lead, *, good=True):
    """A lot whose sample was measured, all good or all bad."""
    lot = a_sampled_lot(lead)
    for cell in row_of(lot).cells:
        if cell.is_asked:
            actions.measure(balloon(lot, 1), lot, cell.piece, "10.02" if good else "11", by=lead)
    return lot


def test_a_sample_that_is_measured_is_a_result(lead):
    lot = inspected(lead)
    result = SampleResult.objects.get(lot=lot)
    assert (result.is_accepted, result.measured, result.missed) == (True, 2, 0)


def test_a_sample_that_refuses_the_lot_is_a_result_before_all_of_it_is_measured(lead):
    lot = a_sampled_lot(lead)
    first = next(cell.piece for cell in row_of(lot).cells if cell.is_asked)
    actions.measure(balloon(lot, 1), lot, first, "11", by=lead)
    assert not SampleResult.objects.get(lot=lot).is_accepted


def test_a_reworked_piece_changes_nothing_about_the_first_inspection(lead):
    lot = inspected(lead, good=False)
    actions.measure(balloon(lot, 1), lot, 1, "10.02", by=lead)
    assert [one.is_accepted for one in SampleResult.objects.filter(lot=lot)] == [False]


def test_two_orders_not_accepted_tighten_the_third(lead):
    for _order in range(2):
        inspected(lead, good=False)
    row = row_of(a_sampled_lot(lead))
    assert (row.standing.severity, row.asked.plan.size) == ("tightened", 3)  # the tightened sample is the whole lot


def test_what_is_sampled_by_another_rule_is_counted_apart(lead):
    for _order in range(2):
        inspected(lead, good=False)
    assert row_of(a_sampled_lot(lead, "AQL 4.0 level II")).standing.severity == "normal"


def test_a_lot_that_was_begun_keeps_its_sample(lead):
    begun = a_sampled_lot(lead)
    piece = next(cell.piece for cell in row_of(begun).cells if cell.is_asked)
    actions.measure(balloon(begun, 1), begun, piece, "10.02", by=lead)
    for _order in range(2):
        inspected(lead, good=False)
    assert row_of(begun).standing.severity == "normal"


def test_a_person_sets_it_with_a_reason_for_the_next_lot(lead, inspector):
    lot = a_sampled_lot(lead)
    switching_actions.say_severity(balloon(lot, 1), Severity.TIGHTENED, reason="a new machine", by=inspector)
    standing = row_of(lot).standing
    assert (standing.severity, standing.why) == ("tightened", "set by a person: a new machine")


def test_nobody_sets_it_without_a_reason(lead):
    with pytest.raises(NotNow, match="Say why"):
        switching_actions.say_severity(balloon(a_sampled_lot(lead), 1), Severity.REDUCED, reason=" ", by=lead)


def test_a_machinist_does_not_set_it(lead, machinist):
    with pytest.raises(PermissionDenied):
        switching_actions.say_severity(balloon(a_sampled_lot(lead), 1), Severity.REDUCED, reason="x", by=machinist)


def test_what_a_person_set_stands_in_the_history_of_the_job(lead):
    lot = a_sampled_lot(lead)
    switching_actions.say_severity(balloon(lot, 1), Severity.REDUCED, reason="steady", by=lead)
    assert LedgerRow.objects.filter(chain=lot.job.chain, kind="severity_said").exists()


def test_where_sampling_ended_every_piece_is_asked_for(lead):
    lot = a_sampled_lot(lead)
    switching_actions.say_severity(balloon(lot, 1), Severity.STOPPED, reason="too many", by=lead)
    assert sum(cell.is_asked for cell in row_of(lot).cells) == 3


def test_the_page_says_why_and_lists_the_lots(client, lead, viewer):
    lots = [inspected(lead, good=False) for _order in range(2)]
    client.force_login(viewer)
    page = client.get(reverse("inspection:sampling", args=[balloon(lots[0], 1).pk])).text
    assert f"2 of 2 consecutive lots not accepted: {lots[0]}, {lots[1]}" in page


def test_the_page_takes_what_a_person_sets(client, lead):
    row = balloon(a_sampled_lot(lead), 1)
    client.force_login(lead)
    url = reverse("inspection:sampling", args=[row.pk])
    assert client.post(url, {"severity": "reduced", "reason": ""}).status_code == 422
    assert client.post(url, {"severity": "reduced", "reason": "table VIII: 0 allowed"}).status_code == 302
    assert switching.standing_of(row).severity == "reduced"
