"""Which gauge resolves a tenth of a tolerance, and the words where none does."""

import datetime as dt

import pytest

from shopflow.core.measure import parse
from shopflow.core.solid import Chamfer
from shopflow.jobs import queries
from shopflow.jobs.models import Characteristic
from shopflow.jobs.queries.offers import general_class, offers_in
from shopflow.shop.models import Gauge, HouseRule
from tests.core.planning.parts import a_hole, a_pocket, a_reading
from tests.jobs.objects import a_job

TODAY = dt.date(2031, 1, 1)


@pytest.fixture
def job(programmer):
    for number, resolution, until in (
        ("C-01", "0.01 mm", 2), ("M-01", "0.001 mm", 2), ("M-99", "0.001 mm", -2), ("X-01", "0.1 mm", 2),
    ):  # fmt: skip
        day = TODAY + dt.timedelta(days=until)
        Gauge.objects.create(number=number, name="gauge", resolution=resolution, calibrated_until=day)
    return a_job(programmer)


def row(job, lower, upper, gauge=None):
    limits = {"lower": parse(lower, default_unit="mm"), "upper": parse(upper, default_unit="mm")}
    chosen = Gauge.objects.get(number=gauge) if gauge else None
    return Characteristic.objects.create(job=job, number=1, name="bore", gauge=chosen, **limits)


def advice(one):
    return dict(queries.gauge_advice([one], on=TODAY)).get(one, "")


def test_gauges_that_resolve_it_are_named_the_coarsest_first(job):
    assert "C-01, M-01 (" in advice(row(job, "9.9", "10.0"))


def test_a_gauge_that_is_too_coarse_is_advised_against(job):
    assert "resolved by M-01 (" in advice(row(job, "9.98", "10.0", gauge="C-01"))


def test_it_is_said_where_no_gauge_resolves_the_tolerance(job):
    assert "no gauge in calibration resolves 0.0005 mm" in advice(row(job, "9.995", "10.0"))


def test_a_gauge_that_resolves_it_needs_no_advice(job):
    assert advice(row(job, "9.9", "10.0", gauge="M-01")) == ""


def test_a_gauge_that_does_not_reach_the_size_is_not_named(job):
    Gauge.objects.filter(number="C-01").update(smallest="0 mm", largest="150 mm")
    assert "resolved by M-01 (" in advice(row(job, "151.0", "151.2", gauge="C-01"))


def test_it_is_said_where_what_resolves_a_tolerance_does_not_reach_the_size(job):
    Gauge.objects.update(smallest="0 in", largest="6 in")
    assert "that resolves 0.02 mm, a tenth of the tolerance, reaches 201.1" in advice(row(job, "200.9", "201.1"))


def test_a_deviation_is_shown_by_an_indicator_wherever_on_the_part_it_is(job):
    Gauge.objects.update(smallest="5 mm", largest="10 mm")
    flat = row(job, "0", "0.1", gauge="M-01")
    flat.kind, flat.lower = "flatness", None
    assert advice(flat) == ""


def test_a_hole_of_forty_is_offered_in_figures_that_people_write(job):
    offers = offers_in(a_reading(holes=[a_hole(diameter_mm=40.0)]))
    assert "1 × hole ⌀ 40" in [offer.name for offer in offers]


def test_the_house_rule_names_the_class_of_general_tolerances(job):
    HouseRule.objects.create(key="general_tolerances", value="1")
    offer = next(offer for offer in offers_in(a_reading(), general_class()) if offer.name == "overall X")
    assert (str(offer.lower), offer.source) == ("59.85 mm", "ISO 2768-f")  # ± 0.15 over 30 up to 120, fine


def test_pockets_of_one_depth_are_offered_together(job):
    offers = offers_in(a_reading(pockets=(a_pocket(), a_pocket())))
    assert "2 × pocket depth 10" in [offer.name for offer in offers]


def test_chamfers_have_the_general_tolerance_of_edges(job):
    """ISO 2768-1 table 2, medium: ± 0.2 from 0.5 up to 3 mm, none under 0.5."""
    wide, narrow = (Chamfer(0, size, size, 45.0, 40.0, False, (1,)) for size in (1.0, 0.3))
    offers = {
        offer.name: (str(offer.lower), str(offer.upper)) for offer in offers_in(a_reading(chamfers=(wide, narrow)))
    }
    assert (offers["1 × chamfer 1"], offers["1 × chamfer 0.3"]) == (("0.8 mm", "1.2 mm"), ("None", "None"))
