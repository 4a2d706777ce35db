"""Work that comes before the work it needs; what the planted programs do not show."""

import numpy as np
import pytest

from shopflow.core import nc, review
from shopflow.core.review.paths import places_along
from shopflow.core.types import Tool, ToolMaterial, ToolShape
from tests.core.nc.reading_help import CALCULATOR

HEAD = "O1\nG17 G21 G40 G49 G80 G90 G94\nG54\n"
TOOLS = {
    1: Tool(1, "drill", ToolShape.DRILL, 5.0, material=ToolMaterial.HSS),
    2: Tool(2, "tap", ToolShape.TAP, 6.0, pitch_mm=1.0),
    3: Tool(3, "reamer", ToolShape.REAMER, 6.0),
    4: Tool(4, "mill", ToolShape.FLAT, 10.0),
}


def cycle(tool, code, *places, offset="G54"):
    """One tool at some places, in lines of their own after three lines of beginning."""
    first, *rest = places
    lines = [f"T{tool} M6", f"{offset} G0 X{first[0]} Y{first[1]} S500 M3", f"G0 G43 H{tool} Z50.", "Z5."]
    lines.append(f"{code} G99 X{first[0]} Y{first[1]} Z-10. R5. F500.")
    return "\n".join([*lines, *(f"X{x} Y{y}" for x, y in rest), "G80", "G0 Z50.", "M5"]) + "\n"


def early(*blocks):
    program = nc.read((HEAD + "".join(blocks) + "M30").encode(), control=CALCULATOR)
    found = review.run(program, machine=None, tools=TOOLS)
    return [(one.tool, one.lines) for one in found if one.code == "hole-made-later"]


def test_a_tap_before_its_drill_is_found_once_with_all_its_holes():
    assert early(cycle(2, "G84", (1, 1), (9, 1)), cycle(1, "G81", (1, 1), (9, 1))) == [(2, (8, 9))]


def test_only_the_holes_that_are_drilled_later_are_named():
    text = cycle(1, "G81", (1, 1)), cycle(2, "G84", (1, 1), (9, 1)), cycle(1, "G81", (9, 1))
    assert early(*text) == [(2, (17,))]


def test_a_reamer_before_its_drill_is_found():
    assert early(cycle(3, "G85", (1, 1)), cycle(1, "G81", (1, 1))) == [(3, (8,))]


def test_a_drill_in_another_work_offset_is_of_another_hole():
    assert early(cycle(2, "G84", (1, 1)), cycle(1, "G81", (1, 1), offset="G55")) == []


def test_a_mill_that_plunges_where_a_drill_follows_is_no_tap():
    assert early(cycle(4, "G81", (1, 1)), cycle(1, "G81", (1, 1))) == []


def places_of(body, most=1000):
    program = nc.read((HEAD + "T4 M6\nG0 G43 H4 Z50.\nX0. Y0.\nZ0.\n" + body + "\nM30").encode(), control=CALCULATOR)
    rows = np.flatnonzero(program.motions.feeds)
    return places_along(program.motions, rows, 0.5, most)


@pytest.mark.parametrize("code", ["G2", "G3"])
def test_places_along_an_arc_lie_on_its_circle(code):
    found = places_of(f"{code} X10. Y0. I5. J0. F100.")
    assert np.hypot(found.places[:, 0] - 5.0, found.places[:, 1]) == pytest.approx(5.0)
    assert (np.sign(found.places[:, 1]) == (1 if code == "G2" else -1)).all()


def test_places_along_a_helix_rise_evenly():
    found = places_of("G3 X0. Y0. Z4. I5. J0. F100.")
    assert np.diff(found.places[:, 2]) == pytest.approx(4.0 / len(found.row))


def test_there_are_no_more_places_than_asked_for_and_their_step_says_so():
    found = places_of("G1 X1000. F100.", most=10)
    assert len(found.row) == 10 and found.step_mm == pytest.approx(100.0)


def test_many_short_moves_are_stood_for_by_some_of_them():
    found = places_of("\n".join(f"G1 X{n / 10} F100." for n in range(1, 101)), most=10)
    assert len(found.row) <= 10 and np.diff(found.row).min() >= 10
