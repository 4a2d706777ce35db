"""Measurements against limits, and what a piece outside them does to its lot."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.errors import CoreError
from shopflow.floor import queries as floor
from shopflow.floor.actions import NotNow
from shopflow.inspection import actions, queries
from shopflow.inspection.models import Measurement
from shopflow.shop.models import Gauge
from tests.floor.objects import op
from tests.inspection.objects import at_the_bench, balloon

pytestmark = pytest.mark.django_db


def measure_all(lot, by, bore="10.02", length="1.500"):
    actions.measure(balloon(lot, 1), lot, 1, bore, by=by)
    actions.measure(balloon(lot, 2), lot, 1, length, by=by)


@pytest.mark.parametrize("typed", ["10.00", "10.05", "10,05", "0.394 in"])
def test_a_value_on_or_between_the_limits_is_good(lead, typed):
    lot = at_the_bench(lead)
    actions.measure(balloon(lot, 1), lot, 1, typed, by=lead)
    assert queries.open_nonconformances(lot).count() == 0


@pytest.mark.parametrize("typed", ["9.999", "10.0500001", "0.3959 in"])
def test_a_value_outside_the_limits_raises_a_nonconformance(lead, typed):
    lot = at_the_bench(lead)
    actions.measure(balloon(lot, 1), lot, 1, typed, by=lead)
    assert queries.open_nonconformances(lot).get().piece == 1


def test_a_limit_that_binary_floats_would_miss_is_compared_exactly(lead):
    """0.1 + 0.2 > 0.3 in binary floats; the upper limit 1.505 in itself is good, a hair above it is not."""
    lot = at_the_bench(lead)
    actions.measure(balloon(lot, 2), lot, 1, "1.505", by=lead)
    actions.measure(balloon(lot, 2), lot, 2, "1.5050000000000000001", by=lead)
    assert [found.piece for found in queries.open_nonconformances(lot)] == [2]


def test_a_value_is_kept_as_it_was_typed(lead):
    lot = at_the_bench(lead)
    actions.measure(balloon(lot, 2), lot, 1, "1.5000", by=lead)
    assert Measurement.objects.get().value.text.startswith("1.5000")


def test_what_is_no_number_is_refused_with_a_sentence(lead):
    lot = at_the_bench(lead)
    with pytest.raises(actions.NotMeasurable, match="is not a length"):
        actions.measure(balloon(lot, 1), lot, 1, "ten", by=lead)


def test_a_gauge_out_of_calibration_measures_nothing(lead):
    lot = at_the_bench(lead)
    old = Gauge.objects.create(number="G7", name="bore gauge", calibrated_until=dt.date(2020, 1, 1))
    with pytest.raises(actions.NotMeasurable, match="out of calibration"):
        actions.measure(balloon(lot, 1), lot, 1, "10.02", by=lead, gauge=old)


def test_pieces_do_not_pass_while_a_balloon_is_unmeasured(lead):
    lot = at_the_bench(lead)
    actions.measure(balloon(lot, 1), lot, 1, "10.02", by=lead)
    with pytest.raises(NotNow, match="Not measured yet: balloon 2"):
        actions.pass_pieces(lot, op(lot, 40), 3, by=lead)


def test_pieces_do_not_pass_while_a_nonconformance_is_undecided(lead):
    lot = at_the_bench(lead)
    measure_all(lot, lead, bore="11")
    with pytest.raises(NotNow, match="1 nonconformance has no disposition"):
        actions.pass_pieces(lot, op(lot, 40), 3, by=lead)


def test_measured_pieces_go_on_to_shipping(lead, inspector):
    lot = at_the_bench(lead)
    measure_all(lot, inspector)
    actions.pass_pieces(lot, op(lot, 40), 3, by=inspector)
    assert floor.standing_at(lot, op(lot, 50)) == 3


def test_a_disposition_frees_the_lot(lead, inspector):
    lot = at_the_bench(lead)
    measure_all(lot, inspector, bore="10.06")
    actions.dispose(queries.open_nonconformances(lot).get(), "use as is", reason="customer agreed", by=inspector)
    actions.pass_pieces(lot, op(lot, 40), 3, by=inspector)
    assert floor.standing_at(lot, op(lot, 50)) == 3


def test_passing_pieces_twice_with_one_key_counts_once(lead):
    lot = at_the_bench(lead)
    measure_all(lot, lead)
    for _ in range(2):
        actions.pass_pieces(lot, op(lot, 40), 2, by=lead, key="bench-report-1")
    assert floor.standing_at(lot, op(lot, 50)) == 2


def test_a_machinist_decides_no_nonconformance(lead, machinist):
    lot = at_the_bench(lead)
    found = actions.raise_nonconformance(lot, text="a scratch", by=machinist)
    with pytest.raises(PermissionDenied):
        actions.dispose(found, "use as is", reason="looks fine", by=machinist)


def test_the_newest_value_of_a_piece_counts(lead):
    lot = at_the_bench(lead)
    actions.measure(balloon(lot, 1), lot, 1, "11", by=lead)
    actions.measure(balloon(lot, 1), lot, 1, "10.01", by=lead)
    assert queries.cell(balloon(lot, 1), lot, 1).is_good is True


@pytest.mark.parametrize(("value", "is_listed"), [("10.20", True), ("10.02", False)])
def test_a_value_outside_its_limits_comes_back_with_the_list_that_it_stands_in(client, lead, value, is_listed):
    lot = at_the_bench(lead)
    client.force_login(lead)
    sent = {"characteristic": balloon(lot, 1).pk, "piece": 1, "value": value}
    answer = client.post(
        reverse("inspection:measure", args=[lot.pk, op(lot, 40).pk]), sent, headers={"HX-Request": "true"}
    ).content.decode()
    assert (
        '<div id="nonconformances" hx-swap-oob="true"><ul class="list"><li>piece 1: balloon 1' in answer
    ) == is_listed
    back = reverse("inspection:lot", args=[lot.pk, op(lot, 40).pk])
    assert (f'name="back" value="{back}"' in answer) == is_listed


def test_without_a_gauge_nothing_is_measured(lead):
    lot = at_the_bench(lead)
    lot.job.characteristics.update(gauge=None)
    with pytest.raises(CoreError, match="with which gauge balloon 1"):
        actions.measure(balloon(lot, 1), lot, 1, "10.02", by=lead)


def test_a_gauge_of_which_nobody_said_how_long_it_is_calibrated_measures_nothing(lead):
    unsaid = Gauge.objects.create(number="G8", name="bore gauge")
    lot = at_the_bench(lead)
    with pytest.raises(CoreError, match="until when gauge G8"):
        actions.measure(balloon(lot, 1), lot, 1, "10.02", by=lead, gauge=unsaid)


def test_another_gauge_is_taken_at_the_bench_and_later_values_name_it(lead, client):
    lot = at_the_bench(lead)
    actions.measure(balloon(lot, 1), lot, 1, "10.02", by=lead)
    other = Gauge.objects.create(number="G9", name="bore gauge", calibrated_until=dt.date(2099, 1, 1))
    client.force_login(lead)
    where = [lot.pk, op(lot, 40).pk]
    client.post(reverse("inspection:gauge", args=where), {"characteristic": balloon(lot, 1).pk, "gauge": other.pk})
    actions.measure(balloon(lot, 1), lot, 2, "10.02", by=lead)
    assert [queries.newest(balloon(lot, 1), lot, piece).gauge.number for piece in (1, 2)] == ["M-0", "G9"]


def test_a_gauge_out_of_calibration_is_not_taken(lead):
    lot = at_the_bench(lead)
    old = Gauge.objects.create(number="G7", name="bore gauge", calibrated_until=dt.date(2020, 1, 1))
    with pytest.raises(CoreError, match="out of calibration since"):
        actions.take_gauge(balloon(lot, 1), lot, old, by=lead)


def test_what_another_lot_is_measured_with_is_its_own(lead):
    lot, another = at_the_bench(lead), at_the_bench(lead)
    other = Gauge.objects.create(number="G9", name="bore gauge", calibrated_until=dt.date(2099, 1, 1))
    actions.take_gauge(balloon(lot, 1), lot, other, by=lead)
    assert queries.gauge_in_use(another, balloon(another, 1)).number == "M-0"
