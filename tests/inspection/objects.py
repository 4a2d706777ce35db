"""Lots at the inspection bench, with two characteristics planned there."""

import datetime as dt

from shopflow.inspection import actions
from shopflow.jobs.models import Characteristic
from shopflow.shop.models import Gauge
from tests.floor.objects import a_lot, op, passed_on
from tests.objects import makes, makes_all


def at_the_bench(lead, quantity=3):
    """A lot whose pieces all stand at op 40, inspect; balloons 1 (bore) and 2 (length) are measured there."""
    lot = a_lot(lead, quantity=quantity)
    for number in (10, 20, 30):
        passed_on(lot, number, quantity, lead)
    return with_balloons(lot)


def with_balloons(lot):
    for number, name, nominal, lower, upper in (
        (1, "bore", "10.00 mm", "10.00 mm", "10.05 mm"),
        (2, "length", "1.500 in", "1.495 in", "1.505 in"),
    ):
        Characteristic.objects.create(
            job=lot.job,
            number=number,
            name=name,
            nominal=nominal,
            lower=lower,
            upper=upper,
            step=op(lot, 40),
            gauge=a_gauge(),
        )
    return lot


def a_gauge():
    """One in calibration that shows a micrometre."""
    given = {"name": "micrometer", "resolution": "0.001 mm", "calibrated_until": dt.date(2099, 12, 31)}
    return Gauge.objects.get_or_create(number="M-0", defaults=given)[0]


def balloon(lot, number):
    return lot.job.characteristics.get(number=number)


def _lot_and_step(everybody):
    lot = at_the_bench(everybody["lead"])
    return {"lot_id": lot.pk, "step_id": op(lot, 40).pk}


for _name in ("lot", "measure", "gauge", "found", "pass"):
    makes_all(f"inspection:{_name}")(_lot_and_step)


@makes("characteristic_id")
def the_id_of_a_sampled_characteristic(everybody):
    row = balloon(at_the_bench(everybody["lead"]), 1)
    row.sampling = "AQL 1.0 level II"
    row.save()
    return row.pk


@makes("nonconformance_id")
def the_id_of_a_nonconformance(everybody):
    lot = at_the_bench(everybody["lead"])
    return actions.raise_nonconformance(lot, text="a scratch", by=everybody["lead"]).pk
