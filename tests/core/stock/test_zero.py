"""The zero of a program found from its drilled places, on plates whose answer is known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.solid import Hole
from shopflow.core.stock.zero import _rotations, drilled, find_zero
from shopflow.core.types import Placement, Tool, ToolShape

BOX = ((0.0, 0.0, 0.0), (60.0, 40.0, 20.0))
UP = (0.0, 0.0, 1.0)
DRILL = Tool(1, "5 mm", ToolShape.DRILL, 5.0, point_angle_deg=118.0)


def hole(x, y, depth=20.0, through=True, axis=UP, z=20.0, diameter=5.0):
    bottom = "through" if through else "pointed"
    return Hole(0, diameter, depth, through, axis, (x, y, z), bottom, None if through else 118.0)


BLIND = [hole(10, 10, 8, False), hole(50, 10, 8, False), hole(20, 30, 12, False)]
"""No turn brings these three onto themselves."""
RECTANGLE = [hole(x, y, 8, False) for x in (10, 50) for y in (10, 30)]


def program(places, head="G17 G21 G90 G54\nT1 M6\nS1000 M3\nG0 X0 Y0 Z100\nG0 Z99\n"):
    """A drilling cycle at each x, y, tip."""
    cycles = "\n".join(f"G0 Z99\nG98 G81 X{x:.3f} Y{y:.3f} Z{z:.3f} R{z + 40:.3f} F100\nG80" for x, y, z in places)
    return nc.read(f"{head}{cycles}\nM30\n".encode()).motions


def tips(holes, placement, extra=1.0):
    """Where a program drills these holes of a part that is placed so: blind to their points, through 1 mm beyond."""
    rotation = np.array(placement.rotation).reshape(3, 3)
    point = 2.5 / np.tan(np.radians(59.0))
    for one in holes:
        inside = np.array(one.position_mm) - np.array(one.axis) * one.depth_mm
        x, y, z = rotation @ inside + np.array(placement.origin_mm)
        yield x, y, z - point - (extra if one.through else 0.0)


def found(holes, placement, **options):
    return find_zero(program(tips(holes, placement)), holes, BOX, tools={1: DRILL}, **options)


def is_same(one, other, error=1e-3):
    return np.allclose(one.rotation, other.rotation) and np.allclose(one.origin_mm, other.origin_mm, atol=error)


@pytest.mark.parametrize("origin", [(0.0, 0.0, 0.0), (-30.0, -20.0, -20.0), (12.345, -7.891, 3.2)])
def test_a_shifted_zero_is_found(origin):
    (one,) = found(BLIND, Placement(origin_mm=origin)).proposals
    assert is_same(one.placement, Placement(origin_mm=origin))
    assert (one.matched, one.drilled, one.depth_fits, one.height_from) == (3, 3, 3, "depths")
    assert one.residual_mm < 0.002


@settings(max_examples=12)
@given(st.integers(0, 23), st.tuples(*[st.integers(-50_000, 50_000)] * 3))
def test_a_part_in_any_square_orientation_is_found(number, thousandths):
    rotation = _rotations()[number]
    axis = tuple(rotation[2].tolist())
    blind = [hole(0, 0, 8, False), hole(40, 0, 8, False), hole(10, 20, 12, False)]
    turned = [
        Hole(
            0,
            5.0,
            one.depth_mm,
            False,
            axis,
            tuple((rotation.T @ np.array(one.position_mm)).tolist()),
            "pointed",
            118.0,
        )
        for one in blind
    ]
    placement = Placement(tuple(rotation.reshape(-1).tolist()), tuple(value / 1000 for value in thousandths))
    (one,) = found(turned, placement).proposals
    assert is_same(one.placement, placement, 2e-3)


def test_a_symmetric_part_gives_both_placements_and_asks():
    answer = found(RECTANGLE, Placement())
    assert len(answer.proposals) == 2
    assert any(is_same(one.placement, Placement()) for one in answer.proposals)
    assert any(is_same(one.placement, HALF_TURN) for one in answer.proposals)


HALF_TURN = Placement((-1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 1.0), (60.0, 40.0, 0.0))


def test_one_hole_of_another_depth_settles_a_symmetric_pattern():
    holes = [*RECTANGLE[:3], hole(50, 30, 12, False)]
    assert len(found(holes, Placement()).proposals) == 1


def test_the_height_follows_from_the_top_of_the_part_where_only_through_holes_are_drilled():
    holes = [hole(10, 10), hole(50, 10), hole(20, 30)]
    answer = found(holes, Placement(origin_mm=(0.0, 0.0, -20.0)), ups=[UP, (0.0, 0.0, -1.0)])
    assert [one.height_from for one in answer.proposals] == ["part top"]
    assert is_same(answer.proposals[0].placement, Placement(origin_mm=(0.0, 0.0, -20.0)))


def test_height_is_not_made_up_where_only_spots_are_drilled():
    spot = Tool(1, "spot", ToolShape.SPOT, 8.0, point_angle_deg=90.0)
    places = [(10, 10, -1), (50, 10, -1), (20, 30, -1)]
    answer = find_zero(program(places), BLIND, BOX, tools={1: spot}, ups=[UP])
    assert [one.height_from for one in answer.proposals] == [""]
    assert answer.proposals[0].depth_fits == 0


def test_one_place_beside_the_holes_lowers_the_count_and_not_the_answer():
    places = [*tips(BLIND, Placement()), (33.0, 3.0, 5.0)]
    (one,) = find_zero(program(places), BLIND, BOX, tools={1: DRILL}).proposals
    assert (one.matched, one.drilled) == (3, 4) and is_same(one.placement, Placement())


def test_the_residual_says_how_far_the_worst_place_is_off():
    places = list(tips(BLIND, Placement()))
    places[0] = (places[0][0] + 0.03, *places[0][1:])
    (one,) = find_zero(program(places), BLIND, BOX, tools={1: DRILL}).proposals
    assert one.residual_mm == pytest.approx(0.02, abs=0.002)


def test_a_pattern_of_another_part_fits_nowhere():
    places = [(0, 0, -5), (17.3, 4.1, -5), (5.5, 29.9, -5), (41, 41, -5)]
    assert find_zero(program(places), BLIND, BOX, tools={1: DRILL}).proposals == ()


def test_holes_of_another_size_do_not_match():
    wide = [hole(one.position_mm[0], one.position_mm[1], one.depth_mm, False, diameter=12.0) for one in BLIND]
    assert find_zero(program(tips(BLIND, Placement())), wide, BOX, tools={1: DRILL}).proposals == ()


def test_a_program_that_drills_nothing_has_no_proposal():
    answer = find_zero(program([]), BLIND, BOX)
    assert (answer.drilled, answer.proposals) == (0, ())


def test_pecks_and_repeated_visits_are_one_place():
    text = "G0 X10 Y10 Z99\nG83 X10 Y10 Z-10 R5 Q2 F100\nG80\nG0 Z99\nG81 X10 Y10 Z-4 R5\nG80"
    rows = nc.read(f"G17 G21 G90 G54\nT1 M6\nS900 M3\nG0 X0 Y0 Z100\nG0 Z99\n{text}\nM30\n".encode()).motions
    places = drilled(rows)
    assert len(places) == 1 and places.tip[0] == pytest.approx(-10.0)
