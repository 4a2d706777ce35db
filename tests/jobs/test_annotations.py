"""What a model says of itself, offered to the inspection plan and shown beside the picture."""

import pytest
from django.urls import reverse

from shopflow.core.solid import FaceFacts, Pmi, PmiItem
from shopflow.jobs import actions, queries
from shopflow.jobs.queries.offers import offers_in
from shopflow.jobs.templatetags.annotations import by_kind, deviations
from tests.core.planning.parts import UP, a_hole, a_reading
from tests.jobs.objects import DUE, a_planned_job, a_read_job

pytestmark = pytest.mark.django_db

LONG = "REMOVE ALL BURRS AND BREAK ALL SHARP EDGES BEFORE THE PART IS MASKED, COATED AND BAKED AT THE SUPPLIER"
ITEMS = (
    PmiItem("dimension", "diameter", value=8.0, lower=0.0, upper=0.015, faces=(7,)),
    PmiItem("dimension", "angular", value=60.0, lower=-0.5, upper=0.5, unit="deg"),
    PmiItem("tolerance", "position", value=0.25, datums=("A", "B"), modifiers=("diameter zone",), faces=(7,)),
    PmiItem("datum", "datum feature", datums=("A",), faces=(0,)),
    PmiItem("finish", "Ra", value=0.0016, upper=0.0016, faces=(0,), text="Ra 1.6"),
    PmiItem("note", "note", text=f"{LONG}\nTWICE"),
    PmiItem("dimension", "drawn only"),
)
READING = a_reading(pmi=Pmi(3, 1, ("A",), ITEMS))


@pytest.fixture
def offers(programmer):
    return {offer.key: offer for offer in queries.offers_of(a_read_job(programmer, READING)) if offer.key[:3] == "pmi"}


def said(offer):
    return (offer.name, *(value and str(value) for value in (offer.nominal, offer.lower, offer.upper)))


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("pmi0", ("1 diameter, from the file", "8 mm", "8 mm", "8.015 mm")),
        ("pmi1", ("2 angle 60°, from the file", "60°", "59.5°", "60.5°")),
        ("pmi2", ("3 position diameter zone A B, from the file", None, None, "0.25 mm")),
        ("pmi4", ("5 finish Ra, from the file", None, None, "1.6 µm")),
    ],
)
def test_an_annotation_is_offered_with_its_limits(offers, key, expected):
    assert said(offers[key]) == expected


def test_a_note_is_offered_as_one_line_that_fits(offers):
    assert offers["pmi5"].name.startswith("6 note: REMOVE ALL BURRS") and len(offers["pmi5"].name) <= 120


def test_a_hole_that_the_file_gives_limits_is_offered_no_general_tolerance_too():
    holes = [a_hole(diameter_mm=8.0, faces=(7,)), a_hole(diameter_mm=5.0, faces=(9,))]
    names = [offer.name for offer in offers_in(a_reading(pmi=Pmi(1, 0, (), ITEMS[:1]), holes=holes))]
    assert "1 × hole ⌀ 8" not in names and "1 × hole ⌀ 5" in names


def test_one_of_two_like_holes_that_the_file_says_nothing_of_keeps_the_offer():
    holes = [a_hole(diameter_mm=8.0, faces=(7,)), a_hole(diameter_mm=8.0, faces=(9,))]
    assert "2 × hole ⌀ 8" in [one.name for one in offers_in(a_reading(pmi=Pmi(1, 0, (), ITEMS[:1]), holes=holes))]


def test_a_tolerance_without_datums_reads_as_one_word():
    flat = PmiItem("tolerance", "flatness", value=0.1)
    assert "1 flatness, from the file" in [one.name for one in offers_in(a_reading(pmi=Pmi(0, 1, (), (flat,))))]


def test_datums_and_what_is_drawn_only_are_no_characteristics(offers):
    assert set(offers) == {"pmi0", "pmi1", "pmi2", "pmi4", "pmi5"}


def test_what_is_offered_goes_to_the_inspection_step(programmer):
    job = a_planned_job(programmer)
    job.reading.result = READING.to_json()
    job.reading.save(update_fields=["result"])
    rows = actions.take_offers(job, ["pmi2", "pmi4", "pmi5"], by=programmer, today=DUE)
    assert [(row.step.kind, row.upper and str(row.upper)) for row in rows] == [
        ("inspect", "0.25 mm"),
        ("inspect", "1.6 µm"),
        ("inspect", None),
    ]


def test_the_intake_lists_them_with_their_faces(client, viewer, programmer):
    job = a_read_job(programmer, READING)
    client.force_login(viewer)
    shown = client.get(reverse("jobs:intake", args=[job.pk])).content.decode()
    for words in ("1 datums, 1 finish, 1 note", "finish Ra", "position", 'data-faces="7"', "TWICE"):
        assert words in shown


@pytest.mark.parametrize(
    ("lower", "upper", "unit", "shown"),
    [
        (-0.2, 0.2, "mm", "±0.200"),
        (-0.025, 0.127, "mm", "−0.025 / +0.127"),
        (0.0, 0.015, "mm", "0 / +0.015"),
        (-0.5, 0.25, "deg", "−0.500 / +0.250"),
        (None, None, "mm", "–"),
    ],
)
def test_deviations_have_their_signs(lower, upper, unit, shown):
    item = PmiItem("dimension", "diameter", value=8.0, lower=lower, upper=upper, unit=unit)
    assert f">{shown}<" in deviations({}, item)


def test_annotations_keep_the_numbers_of_the_file_when_sorted_by_kind():
    found = by_kind(ITEMS)
    assert [number for number, _ in found.dimensions] == [1, 2]
    assert [number for number, _ in (*found.drawn_only, *found.datums, *found.notes)] == [7, 4, 6]


def test_annotations_that_a_page_has_no_room_for_are_counted():
    assert by_kind([ITEMS[0]] * 403).left_out == 3


@pytest.mark.parametrize(("text", "count"), [("A", 0), ("\u2334", 0), ("R5", 1), ("BREAK EDGES", 1)])
def test_a_flag_of_one_sign_is_no_characteristic(text, count):
    offers = offers_in(a_reading(pmi=Pmi(0, 0, (), (PmiItem("note", "note", text=text),))))
    assert sum(" note: " in offer.name for offer in offers) == count


def test_a_note_of_a_file_is_escaped(client, viewer, programmer):
    job = a_read_job(programmer, a_reading(pmi=Pmi(0, 0, (), (PmiItem("note", "note", text="<b>x</b>"),))))
    client.force_login(viewer)
    assert "<b>x</b>" not in client.get(reverse("jobs:intake", args=[job.pk])).content.decode()


def test_a_finish_is_in_microinches_for_who_reads_inches(client, viewer, programmer):
    """0.0016 mm are 63 microinches (25.4 nm each)."""
    viewer.units = "in"
    viewer.save()
    client.force_login(viewer)
    job = a_read_job(programmer, READING)
    assert 'class="num">63<span class="unit">µin' in client.get(reverse("jobs:intake", args=[job.pk])).content.decode()


def test_the_viewer_is_told_what_each_face_is(client, viewer, programmer):
    faces = (
        FaceFacts(0, 0, "plane", 2400.0, (30.0, 20.0, 12.0), UP, 0.0, False),
        FaceFacts(1, 0, "cylinder", 248.8, (10.0, 10.0, 6.0), UP, 3.3, True),
    )
    job = a_read_job(programmer, a_reading(holes=[a_hole(faces=(1,))], faces=faces))
    client.force_login(viewer)
    assert client.get(reverse("jobs:faces", args=[job.pk])).json()["faces"] == [
        "1: flat face.",
        "2: round face, inside, R 3.300 mm; hole \u2300 6.600 mm, through.",
    ]


def test_the_intake_offers_the_part_as_it_stands_in_each_setup(client, viewer, programmer):
    job = a_planned_job(programmer)
    client.force_login(viewer)
    shown = client.get(reverse("jobs:intake", args=[job.pk])).content.decode()
    assert 'data-view-up="0 0 1"' in shown and 'data-view-up="0 0 -1"' in shown
