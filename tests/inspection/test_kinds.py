"""Angles, finishes and tolerances of form from the list over the bench to the report, each in its own unit."""

import datetime as dt

import pytest
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.core.quality.general_tolerances import form_mm
from shopflow.floor.models import Paper
from shopflow.inspection import actions, queries
from shopflow.jobs import actions as jobs
from shopflow.jobs import queries as job_queries
from shopflow.jobs.actions import CharacteristicLine
from shopflow.jobs.forms.characteristics import characteristics_formset
from shopflow.jobs.models import Characteristic
from shopflow.jobs.queries.offers import offers_in
from shopflow.papers import reports
from shopflow.shop.models import Gauge
from tests.core.planning.parts import a_hole, a_reading
from tests.floor.objects import op
from tests.inspection.objects import at_the_bench, balloon
from tests.jobs.objects import a_planned_job

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 11, 28)


def typed(job, **fields):
    """One line of the list as a person sends it."""
    data = {"form-TOTAL_FORMS": "1", "form-INITIAL_FORMS": "0"}
    data |= {f"form-0-{name}": value for name, value in fields.items()}
    return characteristics_formset(job, [], unit=fields.pop("unit", "mm"), data=data)


def line_of(lot, **fields):
    lines = typed(lot.job, **fields)
    assert lines.is_valid(), lines.errors
    return lines.lines()[0]


@pytest.fixture
def lot(lead):
    return at_the_bench(lead, quantity=2)


@pytest.mark.parametrize(
    ("fields", "limits"),
    [
        ({"kind": "angle", "nominal": "45", "plus_minus": "0.5"}, ("44.5 °", "45.5 °")),
        ({"kind": "angle", "nominal": "45°", "plus_minus": "0°30'"}, ("44.5 °", "45.5 °")),
        ({"kind": "finish", "upper": "1.6"}, (None, "1.6 µm")),
        ({"kind": "flatness", "upper": "0.05"}, (None, "0.05 mm")),
    ],
)
def test_a_number_is_taken_in_the_unit_of_its_kind(lot, fields, limits):
    line = line_of(lot, name="it", **fields)
    said = [value and f"{value.value.normalize():f} {value.unit}" for value in (line.lower, line.upper)]
    assert tuple(said) == limits


@pytest.mark.parametrize("fields", [{"kind": "angle", "upper": "45 mm"}, {"kind": "flatness", "upper": "45°"}])
def test_a_value_of_another_kind_is_refused_with_a_sentence(lot, lead, fields):
    line = line_of(lot, name="it", **fields)
    type(lot.job).objects.filter(pk=lot.job_id).update(stage="plan")
    with pytest.raises(NotPossible, match="in degrees"):
        jobs.save_characteristics(type(lot.job).objects.get(pk=lot.job_id), [line], by=lead)


def test_an_angle_around_a_length_is_told_at_its_field(lot):
    lines = typed(lot.job, name="it", kind="angle", nominal="45", plus_minus="0.1 mm")
    assert not lines.is_valid() and "plus_minus" in lines.errors[0]


@pytest.mark.parametrize(
    ("fields", "upper"),
    [({"kind": "flatness", "nominal": "60 mm"}, "0.2 mm"), ({"kind": "run-out"}, "0.2 mm"),
     ({"kind": "perpendicularity", "nominal": "60"}, "0.4 mm")],
)  # fmt: skip
def test_form_without_a_tolerance_gets_the_general_one_of_the_house(lot, fields, upper):
    """ISO 2768-2, class K: what the house rule names."""
    line = line_of(lot, name="it", **fields)
    assert (str(line.upper), line.note) == (upper, "ISO 2768-2 K")


def test_position_has_no_general_tolerance(lot):
    assert line_of(lot, name="it", kind="position", nominal="60").upper is None


def a_kind(lot, **fields):
    row = balloon(lot, 1)
    Characteristic.objects.filter(pk=row.pk).update(**{"nominal": "", "lower": "", "upper": "", **fields})
    return Characteristic.objects.get(pk=row.pk)


def measured(lot, row, text, lead):
    return actions.measure(row, lot, 1, text, by=lead)


def test_an_angle_is_measured_in_degrees(lot, lead):
    row = a_kind(lot, kind="angle", nominal="45°", lower="44.5°", upper="45.5°")
    assert measured(lot, row, "45.2", lead).value.unit == "°"
    assert queries.cell(row, lot, 1).is_good


def test_an_angle_out_of_its_limits_is_a_nonconformance(lot, lead):
    row = a_kind(lot, kind="angle", nominal="45°", lower="44.5°", upper="45.5°")
    measured(lot, row, "45°40'", lead)
    assert "44.5 … 45.5°" in lot.nonconformances.get().text


def test_a_length_typed_for_an_angle_is_refused(lot, lead):
    row = a_kind(lot, kind="angle", nominal="45°", lower="44.5°", upper="45.5°")
    with pytest.raises(actions.NotMeasurable, match="is asked for"):
        measured(lot, row, "45 mm", lead)


def test_a_finish_is_measured_in_micrometres(lot, lead):
    row = a_kind(lot, kind="finish", upper="1.6 µm")
    assert str(measured(lot, row, "0.8", lead).value) == "0.8" and queries.cell(row, lot, 1).is_good


def test_the_report_has_each_line_in_its_own_unit(lot, lead):
    row = a_kind(lot, kind="finish", upper="1.6 µm")
    measured(lot, row, "0.8", lead)
    facts = reports.inspection_report(Paper(job=lot.job, lot=lot))
    found = next(line for line in facts["rows"] if line["number"] == 1)
    assert (found["limits"], found["values"][0]) == ("… 1.6 µm", ["0.8", True])


def gauges(**resolutions):
    for number, resolution in resolutions.items():
        Gauge.objects.create(number=number, name=number, resolution=resolution, calibrated_until="2031-01-01")


def test_a_gauge_is_found_among_those_that_show_the_kind():
    gauges(micrometer="0.001 mm", protractor="0.05°", tester="0.01 µm")
    limit = Characteristic._meta.get_field("upper").to_python("1.6 µm")
    assert job_queries.gauge_for(None, limit, on=TODAY, kind="finish").number == "tester"


@pytest.mark.parametrize("kind", ["flatness", "position", "profile"])
def test_what_no_single_gauge_shows_is_left_to_a_person(kind):
    gauges(caliper="0.001 mm")
    limit = Characteristic._meta.get_field("upper").to_python("0.02 mm")
    assert job_queries.gauge_for(None, limit, on=TODAY, kind=kind) is None
    ((_row, words),) = job_queries.gauge_advice([Characteristic(kind=kind, upper=limit)], on=TODAY)
    assert words.startswith("choose what shows a deviation of 0.002 mm")


def test_a_micrometer_is_advised_against_for_a_finish():
    gauges(micrometer="0.00001 mm")
    row = Characteristic(kind="finish", upper=Characteristic._meta.get_field("upper").to_python("1.6 µm"))
    row.gauge = Gauge.objects.get()
    assert "no gauge in calibration resolves 0.16 µm" in job_queries.gauge_advice([row], on=TODAY)[0][1]


def offers(**changes):
    return {offer.name: offer for offer in offers_in(a_reading(**changes))}


def test_a_countersink_is_offered_with_its_angle_and_the_general_tolerance():
    """A flank under 10 mm, medium: 1° either way (ISO 2768-1 table 3)."""
    sunk = a_hole(countersink_mm=12.0, countersink_angle_deg=90.0)
    found = offers(holes=[sunk])["1 × countersink angle 90°"]
    assert (found.kind, str(found.lower), str(found.upper)) == ("angle", "89°", "91°")


def test_large_faces_are_offered_with_their_general_flatness():
    found = next(offer for name, offer in offers().items() if name.startswith("flatness of the faces"))
    longest = max(a_reading().bbox_mm)
    assert found.upper.value <= form_mm("flatness", longest, "K") and found.source == "ISO 2768-2 K"


def test_what_is_taken_over_keeps_its_kind(lead):
    job = a_planned_job(lead)
    key = next(offer.key for offer in job_queries.offers_of(job) if offer.kind == "flatness")
    (row,) = jobs.take_offers(job, [key], by=lead, today=TODAY)
    assert (row.kind, row.upper.unit) == ("flatness", "mm")


def test_the_list_shows_the_kind_of_each_line(client, lead):
    job = a_planned_job(lead)
    jobs.save_characteristics(job, [CharacteristicLine("seat", kind="perpendicularity")], by=lead)
    client.force_login(lead)
    page = client.get(reverse("jobs:characteristics", args=[job.pk])).text
    assert '<option value="perpendicularity" selected>' in page


def test_a_balloon_of_any_kind_is_placed_on_a_view(lead):
    job = a_planned_job(lead)
    (row,) = jobs.save_characteristics(job, [CharacteristicLine("Ra", kind="finish")], by=lead)
    view = next(iter(job_queries.view_names()))
    assert jobs.place_balloon(row, by=lead, view=view, across=0.5, down=0.5).view == view


def test_the_bench_says_the_unit_of_each_line(client, lot, lead):
    a_kind(lot, kind="finish", upper="1.6 µm")
    client.force_login(lead)
    assert "1.6 µm" in client.get(reverse("inspection:lot", args=[lot.pk, op(lot, 40).pk])).text
