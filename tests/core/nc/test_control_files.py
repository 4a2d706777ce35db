"""Control profiles as files, and what makes a profile possible."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.errors import CoreError, Unreadable
from shopflow.core.nc import CONTROLS, read_control, write_control
from shopflow.core.nc.control_values import EXTRA_CODES, NotASetting, code_name, problems, settings
from shopflow.core.types import ControlMacro, ControlProfile, DecimalRule, MacroEnd

CALCULATOR = CONTROLS["calculator"]
OURS = replace(
    CALCULATOR, name="mill-2", title="Mill 2, with probe", decimal_rule=DecimalRule.INCREMENT, peck_retract_mm=0.8,
    stop_codes=frozenset({"M60"}), aliases=(("G70", "G20"),), coolant_codes=(("M88", 4), ("M89", 0)),
    control_macros=(
        ControlMacro("9810", "protected move", MacroEnd.AXIS_WORDS, moves="along its axis words"),
        ControlMacro("M46", "broken-tool check", MacroEnd.HOME_Z, (100, 135), "Z to the sensor"),
    ),
)  # fmt: skip


def content(**changes):
    return {**json.loads(write_control(OURS, based_on="calculator")), **changes}


def read(given):
    return read_control(json.dumps(given).encode())


@pytest.mark.parametrize("profile", [*CONTROLS.values(), OURS], ids=lambda profile: profile.name)
def test_a_profile_comes_back_equal(profile):
    assert read_control(write_control(profile, based_on="calculator").encode()).profile == profile


@given(
    st.fixed_dictionaries(
        {
            "decimal_rule": st.sampled_from(DecimalRule),
            "peck_retract_mm": st.floats(0, 1000),
            "arc_tolerance_share": st.floats(0, 1),
            "line_length": st.integers(0, 100_000),
            "macros": st.booleans(),
            "extra_codes": st.frozensets(st.sampled_from(EXTRA_CODES)),
            "title": st.text(st.characters(codec="utf-8", categories=["L", "N", "P"]), min_size=1, max_size=120),
            "control_macros": st.lists(
                st.builds(
                    ControlMacro, call=st.integers(1, 999_999).map(str), title=st.just("probe"),
                    ends=st.sampled_from(MacroEnd), sets=st.lists(st.integers(1, 99_999)).map(tuple),
                ),
                max_size=4, unique_by=lambda macro: macro.call,
            ).map(tuple),
        }
    )
)  # fmt: skip
def test_any_profile_comes_back_equal(changes):
    profile = replace(CALCULATOR, name="x", **changes)
    assert read_control(write_control(profile, based_on="increment").encode()).profile == profile


def test_a_file_names_every_setting():
    assert set(content()["settings"]) == set(settings())


def test_a_setting_that_an_earlier_file_does_not_name_is_as_in_the_built_in_profile():
    given = content()
    del given["settings"]["dwell_in_ms"]
    found = read(given)
    assert (found.profile.dwell_in_ms, found.left_to_base) == (CALCULATOR.dwell_in_ms, ("dwell_in_ms",))


@pytest.mark.parametrize(
    ("setting", "value", "said"),
    [
        ("feeds", True, "no setting “feeds”"),
        ("macros", "yes", "true or false"),
        ("macros", 1, "true or false"),
        ("line_length", 2.5, "whole number"),
        ("line_length", -1, "characters"),
        ("peck_retract_mm", "0.5", "a number"),
        ("peck_retract_mm", -0.5, "0 to 1000"),
        ("least_increment_mm", 0, "more than 0"),
        ("sequence_digits", 0, "1 to 12"),
        ("default_cycle_return", 97, "G98 or by G99"),
        ("default_unit", "inch", "mm or in"),
        ("decimal_rule", "guess", "calculator, increment"),
        ("dwell_letters", "", "each once"),
        ("dwell_letters", "PP", "each once"),
        ("repeat_letters", "Q", "each once"),
        ("stop_codes", ["G4"], "no M code"),
        ("stop_codes", ["stop"], "no G or M code"),
        ("extra_codes", ["G199"], "does not know what G199 does"),
        ("harmless_codes", ["M60"], "M60 has two meanings"),
        ("aliases", [["G70"]], "pair"),
        ("coolant_codes", [["M88", 99]], "mist, flood"),
        ("control_macros", [{"call": "9810"}], "what the macro 9810 is for"),
        ("control_macros", [{"title": "probe"}], "lacks its call"),
        ("control_macros", [{"call": "X5", "title": "probe"}], "no G or M code"),
        ("control_macros", [{"call": "1", "title": "probe", "ends": "there"}], "one of"),
        ("control_macros", [{"call": "1", "title": "probe", "sets": [0]}], "#0 is no variable"),
        ("control_macros", [{"call": "1", "title": "probe", "feeds": 1}], "no feeds"),
        ("control_macros", [{"call": "1", "title": "two\nlines"}], "one line"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_with_its_name(setting, value, said):
    given = content()
    given["settings"][setting] = value
    with pytest.raises(Unreadable, match=setting) as refusal:
        read(given)
    assert said in str(refusal.value)


@pytest.mark.parametrize(
    "changes",
    [
        {"control_profile": 2}, {"name": "Mill 2"}, {"name": ""}, {"name": 7}, {"title": ""}, {"title": "two\nlines"},
        {"based_on": "none"}, {"settings": []}, {"note": "x"},
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_is_refused(changes):
    with pytest.raises(Unreadable):
        read(content(**changes))


@pytest.mark.parametrize("data", [b"", b"%\nO1\n", b"[]", b"{}", b"\xff\xfe", b"[" * 100_000, b"{" + b" " * 300_000])
def test_what_is_no_profile_is_refused(data):
    with pytest.raises(Unreadable):
        read_control(data)


@given(st.binary(max_size=200))
def test_any_bytes_end_in_a_profile_or_in_a_sentence(data):
    try:
        assert isinstance(read_control(data).profile, ControlProfile)
    except CoreError as refusal:
        assert str(refusal)


@pytest.mark.parametrize(
    ("text", "name"), [("m8", "M08"), ("M008", "M08"), ("G05.1", "G5.1"), (" g187 ", "G187"), ("M777", "M777")]
)
def test_a_code_is_called_as_the_reader_calls_it(text, name):
    assert code_name(text) == name


@pytest.mark.parametrize("text", ["", "8", "X5", "M8.1", "G1234", "G5.12", "M 8"])
def test_what_is_no_code_is_refused(text):
    with pytest.raises(NotASetting):
        code_name(text)


@pytest.mark.parametrize("profile", CONTROLS.values(), ids=CONTROLS)
def test_a_built_in_profile_is_possible(profile):
    assert list(problems(profile)) == []
