"""An attribute conforms or does not: a thread by its plug gauge, a note of the drawing, a mark."""

import pytest
from django.urls import reverse

from shopflow.core.quality.kinds import Kind, conforms
from shopflow.floor.models import Paper
from shopflow.inspection import actions, queries
from shopflow.inspection.actions import NotMeasurable
from shopflow.papers import reports
from shopflow.records import ledger
from tests.floor.objects import op
from tests.inspection.objects import at_the_bench, balloon

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(lead):
    """The first balloon is a thread that is gauged, with no gauge of its own named; the second is no longer there."""
    found = at_the_bench(lead)
    balloon(found, 2).delete()
    changes = {
        "name": "thread M6",
        "kind": Kind.ATTRIBUTE.value,
        "nominal": "",
        "lower": "",
        "upper": "",
        "gauge": None,
    }
    found.job.characteristics.filter(number=1).update(**changes)
    return found


@pytest.mark.parametrize(
    ("typed", "said"),
    [("yes", True), (" OK ", True), ("Go", True), ("no-go", False), ("No", False), ("10.02", None), ("", None)],
)
def test_what_is_typed_of_an_attribute(typed, said):
    assert conforms(typed) is said


def test_a_piece_that_conforms_is_good(lot, lead):
    actions.measure(balloon(lot, 1), lot, 1, "yes", by=lead)
    assert queries.cell(balloon(lot, 1), lot, 1).is_good and not queries.open_points(lot, op(lot, 40))


def test_a_piece_that_does_not_raises_a_nonconformance_that_says_what(lot, lead):
    actions.measure(balloon(lot, 1), lot, 2, "no", by=lead)
    assert queries.open_nonconformances(lot).get().text == "balloon 1 does not conform: thread M6"


def test_a_number_says_neither(lot, lead):
    with pytest.raises(NotMeasurable, match="does the piece conform"):
        actions.measure(balloon(lot, 1), lot, 1, "10.02", by=lead)


def test_the_history_says_which_piece_conforms(lot, lead):
    actions.measure(balloon(lot, 1), lot, 3, "yes", by=lead)
    row = [row for row in ledger.rows_for(lot.job.chain) if row.kind == "attribute_checked"][-1]
    assert (row.data["piece"], row.data["result"]) == (3, "conforms")


def test_an_attribute_counts_in_a_sample(lot, lead):
    lot.job.characteristics.filter(number=1).update(sampling="AQL 6.5 level II")
    (row,) = queries.table(lot, op(lot, 40))
    actions.measure(balloon(lot, 1), lot, min(row.asked.pieces), "no", by=lead)
    assert not lot.sample_results.get().is_accepted


def test_the_bench_offers_yes_and_no(lot, lead, client):
    client.force_login(lead)
    page = client.get(reverse("inspection:lot", args=[lot.pk, op(lot, 40).pk])).text
    assert page.count('<option value="yes">yes</option>') == 3 and "no gauge yet" not in page


def test_a_report_prints_yes_and_no(lot, lead):
    for piece, said in enumerate(("yes", "no"), start=1):
        actions.measure(balloon(lot, 1), lot, piece, said, by=lead)
    (row,) = reports.inspection_report(Paper(job=lot.job, lot=lot))["rows"]
    assert (row["values"], row["measured"], row["out"], row["limits"], row["least"]) == (
        [["yes", True], ["no", False]], 2, 1, "conforms", "",
    )  # fmt: skip
