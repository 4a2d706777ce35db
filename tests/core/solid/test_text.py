"""Schema, units and names as the text of a STEP file gives them (ISO 10303-21)."""

import csv
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.solid import text
from shopflow.core.solid.doubt import unit_doubt
from shopflow.core.solid.text import Units

INCH = b"#5=(CONVERSION_BASED_UNIT('inch',#6)LENGTH_UNIT()NAMED_UNIT(#7));"
MILLI = b"#8=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.));"
METRE = b"#9=( LENGTH_UNIT ( ) NAMED_UNIT ( * ) SI_UNIT ( $, .METRE. ) );"


def context(*numbers):
    return b"#1=(GLOBAL_UNIT_ASSIGNED_CONTEXT((%s)) REPRESENTATION_CONTEXT('',''));" % b",".join(numbers)


def test_the_millimetre_that_an_inch_is_defined_by_is_not_a_unit_in_use():
    assert text.units(INCH + MILLI + context(b"#5", b"#10")).named == ("inch",)


def test_two_contexts_in_different_units_are_mixed():
    assert text.units(INCH + MILLI + context(b"#5") + context(b"#8")).is_mixed


def test_a_unit_without_a_prefix_is_the_metre():
    assert text.units(METRE + context(b"#9")).main == "metre"


def test_a_file_without_a_unit_names_none():
    assert text.units(b"#1=CARTESIAN_POINT('',(0.,0.,0.));").main == ""


def test_units_and_schemas_of_the_real_files_are_as_measured(models):
    said, expected = {}, {}
    with (models / "facts.csv").open() as handle:
        for row in csv.DictReader(handle):
            data = (models / row["file"]).read_bytes()
            said[row["file"]] = (text.schema(data), text.units(data).main)
            # The library names no unit for one file, an inch file by its ORIGIN.md.
            unit = row["file_length_unit"].lower().replace("(empty)", "inch")
            expected[row["file"]] = (row["schema"], unit)
    assert said == expected


@pytest.mark.parametrize(
    ("coded", "shown"),
    [
        (r"Deckel \X2\00D8\X0\ 20", "Deckel Ø 20"),
        (r"\X2\30D730ED30B930C8\X0\ ", "プロスト"),
        (r"\X4\0001F529\X0\ ", "🔩"),
        (r"\X\C4nderung", "Änderung"),
        (r"\S\Dnderung", "Änderung"),
        ("it''s", "it's"),
        (r"\X2\00D\X0\ broken", r"\X2\00D\X0\ broken"),
    ],
)
def test_escapes_of_the_standard_are_decoded(coded, shown):
    assert text.clean(coded) == shown


def test_marks_that_turn_the_direction_of_text_are_dropped():
    assert text.clean("part\u202egpj.exe\x00\x07") == "partgpj.exe"


@given(st.text(max_size=2000))
def test_a_cleaned_name_is_short_and_free_of_control_characters(name):
    shown = text.clean(name)
    assert len(shown) <= text.NAME_CHARACTERS
    assert not any(unicodedata.category(letter).startswith("C") for letter in shown)


@given(st.binary(max_size=4000))
def test_any_bytes_have_a_schema_and_units_or_none(data):
    assert isinstance(text.schema(data), str) and isinstance(text.units(data).named, tuple)


@pytest.mark.parametrize(
    ("units", "size", "word"),
    [
        (("inch",), (5080.0, 100.0, 100.0), "millimetres"),
        (("millimetre",), (3000.0, 10.0, 10.0), "25.4"),
        (("millimetre",), (1.5, 1.0, 0.5), "inches"),
        (("metre",), (70000.0, 70000.0, 20000.0), "70 mm"),
        ((), (50.0, 50.0, 50.0), "no unit"),
        (("inch", "millimetre"), (50.0, 50.0, 50.0), "mixes"),
        (("cubit",), (50.0, 50.0, 50.0), "cubit"),
    ],
)
def test_a_doubtful_unit_asks_the_person(units, size, word):
    assert word in unit_doubt(Units(units), size)


@pytest.mark.parametrize("unit", ["inch", "millimetre"])
def test_an_ordinary_part_raises_no_doubt(unit):
    assert unit_doubt(Units((unit,)), (127.0, 63.5, 34.9)) == ""


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"#1=PRODUCT('BK-104','x','',(#2));#3=PRODUCT_DEFINITION_FORMATION('C','',#1);", ("BK-104", "C")),
        (b"#1 = PRODUCT ( 'O''Neil' , 'x', '', (#2));", ("O'Neil", "")),
        (b"#1=PRODUCT('a','',#2);#2=PRODUCT('b','',#3);", ("", "")),
        (b"#1=PRODUCT('','',#2);#3=PRODUCT_DEFINITION_FORMATION_WITH_SPECIFIED_SOURCE(' ','',#1,.MADE.);", ("", "")),
        (b"#1=PRODUCT_CONTEXT('part','',#2);", ("", "")),
    ],
)
def test_number_and_revision_of_the_product_are_read_where_the_file_names_one(data, said):
    assert text.product(data) == said
