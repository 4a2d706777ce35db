"""A part that is clamped by angles: a bevel milled on a sine bar, then a slot milled in a vise that is turned."""

import math
from dataclasses import replace

import pytest

from shopflow.core import solid
from shopflow.core.review.setup_values import SetupBlock
from shopflow.core.review.whole import review_whole
from tests.core.review.faults.pieces import ALUMINIUM, HEAD, begin, end, piece
from tests.core.solid import parts

MEMORY = 800_000
DEEP = 2.0
ANGLE = 20.0


def aslant():
    """40 x 30 x 15 with a bevel of 45 degrees on its upper back edge, and a slot through at 20 degrees to X."""
    leg = DEEP * math.sqrt(2.0)
    body = parts.chamfer(parts.box(40, 30, 15), leg, lambda middle: middle[1] > 29.9 and middle[2] > 14.9)
    slot = parts.turned(parts.box(100, 6, 10, (-50, -3, 0)), (0, 0, 1), -ANGLE, (20, 12, 12))
    return parts.cut(body, slot)


PROGRAM = f"""{HEAD}
{begin(1, "-30.", "15.", 3000)}
face in|G1 Z0. F800.
face|X70. F1500.
{end("T1")}
{begin(12, "-12.", "0.", 6000, offset="G55")}
bevel in|G1 Z-2. F500.
bevel|X52. F900.
{end("T12")}
{begin(3, "-45.", "0.", 8000, offset="G56")}
slot in|G1 Z-3. F500.
slot|X45. F500.
{end("T3")}
last|M30
|%"""
FIRST = SetupBlock(1, "G54", "+Z", "+X", (0.0, 0.0, 15.0))
TILTED = SetupBlock(2, "G55", "+Z", "+X", (0.0, 30.0, 15.0), angles_deg=(45.0, 0.0, 0.0))
TURNED = SetupBlock(3, "G56", "+Z", "+X", (20.0, 12.0, 15.0), angles_deg=(0.0, 0.0, ANGLE))
SETUPS = (
    replace(FIRST, later=(TILTED.looks_up, "+Z")),
    replace(TILTED, known=("+Z",), later=("+Z",)),
    replace(TURNED, known=("+Z", TILTED.looks_up)),
)
BLANK = ((0.0, 0.0, 0.0), (40.0, 30.0, 16.0))
THE_PIECE = piece("aslant", aslant, PROGRAM, ALUMINIUM, BLANK, SETUPS)


@pytest.fixture(scope="module")
def reading(tmp_path_factory):
    return solid.read(parts.write(aslant(), tmp_path_factory.mktemp("aslant") / "aslant.step"), deflection_mm=0.01)


def reviewed(reading, *changes):
    """The review, and the number of each tagged line."""
    lines = [line.partition("|") for line in THE_PIECE.lines]
    text = "\n".join(words for _, _, words in lines)
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    numbers = {tag: number for number, (tag, _, _) in enumerate(lines, start=1)}
    return review_whole(text.encode(), THE_PIECE.said, reading, memory=MEMORY), numbers


def told(done, code):
    return {line for one in done.findings if one.code == code for line in one.lines}


@pytest.fixture(scope="module")
def clean(reading):
    return reviewed(reading)[0]


def test_the_clean_program_has_no_fault_of_its_cuts(clean):
    assert [f"{one.code} {one.lines} {one.message}" for one in clean.findings if one.weight == "must-fix"] == []


def test_each_setup_takes_what_its_closed_form_says(clean):
    bevel = DEEP * DEEP * 40.0
    across = 6.0 / math.cos(math.radians(ANGLE)) * 40.0
    assert [one.removed_mm3 for one in clean.setups] == pytest.approx([40 * 30, bevel, across * 3.0], rel=0.03)


def test_nothing_is_left_at_the_end(clean):
    assert clean.setups[-1].stock_left_mm == 0.0 and clean.setups[-1].gouge_mm == 0.0


@pytest.mark.parametrize(
    ("change", "line"), [(("G1 Z-2. F500.", "G1 Z-2.4 F500."), "bevel"), (("G1 Z-3. F500.", "G1 Z-3.3 F500."), "slot")]
)
def test_a_floor_cut_too_deep_in_a_slanted_setup_is_found_at_its_line(reading, change, line):
    done, numbers = reviewed(reading, change)
    assert numbers[line] in told(done, "gouge")


def test_a_bevel_that_nobody_cut_is_told(reading):
    done, _ = reviewed(reading, ("G1 Z-2. F500.", "G1 Z1. F500."))
    assert {one.code for one in done.findings} & {"stock-left", "feature-untouched"}
