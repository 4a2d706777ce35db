"""Which gauge resolves a tenth of a tolerance, and the words where none does."""

import datetime as dt

import pytest

from shopflow.core.measure import parse
from shopflow.jobs import queries
from shopflow.jobs.models import Characteristic
from shopflow.shop.models import Gauge
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
