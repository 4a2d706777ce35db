"""Expressions, functions, parameters. Facts: NISTIR 6556, 3.3.2 and 3.3.3; App. C.2 holds more (test_programs)."""

import math

import pytest

from tests.core.nc.reading_help import ends, run, sole_why


def value_of(text, before=""):
    return ends(run(f"{before}\nG0 X{text}"))[-1][0]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5),  # [3.3.2.3]
        ("[2 ** 3 ** 2]", 64.0),  # equal rank goes from left to right
        ("[1 + 2 * 3 - 4 / 5]", 6.2),
        ("[15 MOD 4]", 3.0),
        ("[2 OR 0]", 1.0),
        ("[5 AND 0]", 0.0),
        ("[2 XOR 2]", 0.0),
        ("[1 OR 1 AND 0]", 0.0),  # OR and AND are of one rank
        ("[-2 ** 2]", 4.0),  # the sign belongs to the number
    ],
)
def test_operators(text, value):
    assert value_of(text) == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("FIX[2.8]", 2.0),  # [3.3.2.4]
        ("FIX[-2.8]", -3.0),
        ("FUP[2.8]", 3.0),
        ("FUP[-2.8]", -2.0),
        ("ROUND[-0.5001]", -1.0),
        ("ABS[-3]", 3.0),
        ("SIN[30]", 0.5),
        ("ACOS[0]", 90.0),
        ("ATAN[1]/[-1]", 135.0),
        ("SQRT[3**2+4**2]", 5.0),
        ("LN[EXP[2]]", 2.0),
        ("TAN[45]", 1.0),
    ],
)
def test_functions_take_degrees(text, value):
    assert value_of(text) == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(
    "text",
    ["[1/0]", "SQRT[-1]", "LN[0]", "ACOS[2]", "[[0-8]**0.5]", "EXP[9999]", "[10**999]", "[0**[0-1]]", "[5 MOD 0]"],
)
def test_what_has_no_value_is_refused(text):
    program = run(f"G0 X{text}")
    assert len(program.unread) == 1
    assert not len(program.motions)


@pytest.mark.parametrize("text", ["[1+", "[1", "1]", "#", "[]", "SIN30", "FOO[1]", "ATAN[1]"])
def test_what_is_no_expression_is_refused(text):
    program = run(f"G0 X{text}")
    assert len(program.unread) == 1
    assert not len(program.motions)


def test_brackets_nested_without_end_are_refused():
    assert "nested" in sole_why(run("G0 X" + "[" * 100 + "1" + "]" * 100))


def test_settings_take_effect_after_the_whole_block():  # [3.3.3]
    assert ends(run("#3=15\n#3=6 G1 X#3\nX#3")) == [(15.0, 0.0, 0.0), (6.0, 0.0, 0.0)]


def test_two_settings_of_one_block_see_the_values_before_it():  # [3.3.3]
    assert ends(run("#1=1 #2=2\n#1=#2 #2=#1\nG0 X#1 Y#2")) == [(2.0, 1.0, 0.0)]


def test_a_sign_of_operation_after_a_parameter_ends_it():  # [3.3.2.2]: #1+2 is (#1)+2
    assert value_of("[#1+2]", "#1=5") == 7.0


def test_a_parameter_may_name_a_parameter():  # [3.3.2.2]
    assert value_of("##2", "#2=7\n#7=1.5") == 1.5


@pytest.mark.parametrize("number", [0, 5400, -1])
def test_parameters_go_from_1_to_5399(number):  # [3.2.1]
    assert "5399" in sole_why(run(f"G0 X#{number}"))


def test_an_unset_parameter_reads_as_zero_and_is_told():  # [3.2.1]
    program = run("G0 X#100")
    assert ends(program) == [(0.0, 0.0, 0.0)]
    assert [entry.code for entry in program.assumptions] == ["variable-100"]


def test_parameters_used_are_listed():
    assert run("#7=1\nG0 X#100").parameters == (7, 100)


def test_an_angle_is_exact_enough():
    assert value_of("ASIN[1]") == pytest.approx(math.degrees(math.pi / 2))
