"""Dimensions, tolerances and datums as characteristics, checked against the text of the files and their geometry."""

import pytest

from shopflow.core import solid
from shopflow.core.solid.text import limits_span_nominal

CTC_01, FTC_07 = "nist_ctc_01_asme1_ap242-e1.stp", "nist_ftc_07_asme1_ap242-e2.stp"


@pytest.fixture(scope="module")
def readings(models):
    return {name: solid.read(models / name) for name in (CTC_01, FTC_07)}


def items(reading, kind, name=""):
    return [item for item in reading.pmi.items if item.kind == kind and name in item.name]


def test_limits_keep_their_sides(readings):
    # Entities 70 to 81 of the file: 35 +0/-0.2, 35 +0.2/-0, 20 +0.05/-0.1, 20 +0.1/-0.05.
    found = {(item.value, item.lower, item.upper) for item in items(readings[CTC_01], "dimension", "diameter")}
    assert found >= {(35, -0.2, 0), (35, 0, 0.2), (20, -0.1, 0.05), (20, -0.05, 0.1)}


def test_an_angle_is_in_degrees(readings):
    angles = items(readings[CTC_01], "dimension", "angular")
    assert [(item.value, item.lower, item.upper, item.unit) for item in angles] == [(60, -0.5, 0.5, "deg")]


@pytest.mark.parametrize("name", [CTC_01, FTC_07])
def test_a_diameter_belongs_to_bores_of_that_size(readings, name):
    reading = readings[name]
    sizes = {}
    for hole in reading.holes:
        for face in hole.faces:
            sizes.setdefault(face, set()).update(step.from_diameter_mm for step in hole.steps)
    tied = [
        item
        for item in items(reading, "dimension", "diameter")
        if item.value is not None and item.faces and all(face in sizes for face in item.faces)
    ]
    assert len(tied) >= 5
    for item in tied:
        for face in item.faces:
            assert any(item.value + item.lower - 1e-3 <= size <= item.value + item.upper + 1e-3 for size in sizes[face])


def test_an_inch_files_tolerances_are_millimetres(readings):
    # 0.020 in and 0.045 in are written in the file as position tolerances
    values = {round(item.value / 25.4, 4) for item in items(readings[FTC_07], "tolerance", "position")}
    assert {0.020, 0.045} <= values


def test_tolerances_name_their_datums_in_order(readings):
    frames = {item.datums for item in items(readings[CTC_01], "tolerance", "position")}
    assert frames == {("A", "B", "C")}


def test_tolerance_values_are_those_of_the_print(readings):
    # Feature control frames drawn in the file: position 0.75 twice, profile 1.25 and 0.5, perpendicularity, flatness.
    values = sorted(item.value for item in items(readings[CTC_01], "tolerance"))
    assert values == [0.2, 0.5, 0.75, 0.75, 1.25, 1.5]


def test_every_datum_letter_is_an_item(readings):
    for reading in readings.values():
        assert tuple(item.datums[0] for item in items(reading, "datum")) == reading.pmi.datums


@pytest.mark.parametrize(
    ("lower", "upper", "spans"), [("-0.1", "0.2", True), ("0.1", "0.2", False), ("-0.2", "-0.1", False)]
)
def test_limits_on_one_side_of_the_nominal_are_noticed(lower, upper, spans):
    data = f"#1=TOLERANCE_VALUE(#2,#3);#2=(MEASURE_WITH_UNIT(LENGTH_MEASURE({lower}),#9));"
    data += f"#3=(MEASURE_WITH_UNIT(LENGTH_MEASURE({upper}),#9));"
    assert limits_span_nominal(data.encode()) == spans
