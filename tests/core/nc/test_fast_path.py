"""The fast path gives the same as the full reader, whatever the text."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.types import Motions
from tests.core.nc.reading_help import CALCULATOR, INCREMENT, START, sample, shared_program

NUMBERS = st.one_of(
    st.integers(-99, 99).map(str),
    st.decimals(-99, 99, places=4).map(str),
    st.sampled_from(
        ["-0", ".5", "5.", "-.25", "+3", "0.1", "1 2.5", "123456789012345.1", "99999999999", "--1", ".", "-", "00.10"]
    ),
)
PLAIN_WORDS = st.builds(lambda letter, number: f"{letter}{number}", st.sampled_from("XYZxyzF"), NUMBERS)
CODES = st.sampled_from(["G0", "G1", "G01", "g00", "G 1", "G1.0", "G001"])
OTHERS = st.sampled_from(
    [
        "G2 X1 Y1 R5", "G91", "G90", "G20", "G21", "G92 X0", "G92.1", "G81 X1 Z-1 R1", "G80", "M5", "M3 S500", "(note)",
        "; note", "T2 M6", "G55", "G54", "G43 H1", "N5", "N123456", "N1", "/X5", "G93", "G94", "M0 (look)", "#1=2",
        "X#1", "G18", "G17", "M8", "%", "", "  ", "?", "G28", "M98 P5", "O7", "X1 X2", "G0 G1", "X1" + " " * 260,
        "N7 G1 X1 N8",
    ]
)  # fmt: skip
PLAIN_LINES = st.builds(
    lambda number, code, words, gap: gap.join([*number, *code, *words]),
    st.lists(st.integers(0, 999999).map(lambda n: f"N{n}"), max_size=1),
    st.lists(CODES, max_size=1),
    st.lists(PLAIN_WORDS, max_size=4),
    st.sampled_from(["", " ", "\t"]),
)
LINES = st.lists(st.one_of(PLAIN_LINES, PLAIN_LINES, PLAIN_LINES, OTHERS), max_size=25)
PROFILES = st.sampled_from([nc.PLAIN, CALCULATOR, INCREMENT])


def assert_same(data, control):
    fast, full = (nc.read(data, control=control, fast=wanted) for wanted in (True, False))
    for column in fields(Motions):
        one, two = getattr(fast.motions, column.name), getattr(full.motions, column.name)
        assert one.dtype == two.dtype
        assert np.array_equal(one, two, equal_nan=one.dtype.kind == "f"), column.name
    for name in ("end_known", "lines_run"):
        assert np.array_equal(getattr(fast, name), getattr(full, name)), name
    assert fast.stated == full.stated
    for name in ("unread", "assumptions", "stops", "tools", "program_ends", "units", "complete"):
        assert repr(getattr(fast, name)) == repr(getattr(full, name)), name
    assert [repr(fast.modes_at(line)) for line in range(1, fast.lines + 1)] == [
        repr(full.modes_at(line)) for line in range(1, full.lines + 1)
    ]


@settings(max_examples=400, deadline=None)
@given(LINES, PROFILES, st.booleans())
@example(["G1 X1 F100", "X2", "M0"], nc.PLAIN, True)
def test_any_lines_give_the_same_rows(lines, control, with_start):
    text = (START if with_start else "") + "\n".join(lines)
    if text.strip():
        assert_same(text.encode(), control)


@pytest.mark.parametrize("name", ["gw-test09.ngc", "nist-c1-hello.ngc", "kinasmith-LTC3092-drill.nc"])
def test_programs_of_other_people_give_the_same_rows(name):
    assert_same(shared_program(name), nc.PLAIN)


@pytest.mark.parametrize("name", ["plate_two_sides.nc", "bracket_plunged.nc"])
def test_shop_programs_give_the_same_rows(name):
    assert_same(sample(name), CALCULATOR)


def test_a_long_program_is_read_in_several_chunks():
    text = START + "".join(f"X{count % 97}.{count % 7} Y{count % 89}\n" for count in range(70_000))
    program = nc.read(text.encode(), fast=True)
    assert len(program.motions) == 70_000
    assert program.motions.line.tolist() == list(range(2, 70_002))
    assert np.array_equal(program.motions.start[1:], program.motions.end[:-1])


def test_the_step_limit_holds_on_the_fast_path():
    program = nc.read((START + "X1\n" * 1000).encode(), fast=True, limits=nc.Limits(max_steps=100))
    assert not program.complete
    assert len(program.motions) <= 100
