"""Tilted clampings planned: how the part stands and is held, where its zero is, what is cut."""

import math
from dataclasses import replace

import pytest

from shopflow.core.orientation import rotation
from shopflow.core.planning import Given, PlanRules, propose
from shopflow.core.planning.placement import turn
from shopflow.core.solid import PlaneGroup, SharpEdge, SharpEdges
from shopflow.core.solid.reading import Level
from tests.core.planning.parts import MILL, RIGHT, UP, a_hole, a_pocket, a_reading, tool
from tests.core.planning.test_propose import CRIB

SIZE = (60.0, 40.0, 20.0)
DEGREES = 30.0
WAY = (math.sin(math.radians(DEGREES)), 0.0, math.cos(math.radians(DEGREES)))
"""Thirty degrees from +Z towards +X."""


def slanted(**changes):
    """A blind hole ⌀6.6, 10 deep, slanted, in the middle of the top."""
    given = {
        "axis": WAY, "reach": (WAY,), "through": False, "bottom": "pointed", "depth_mm": 10.0,
        "position_mm": (30.0, 20.0, 20.0), "faces": (50,),
    }  # fmt: skip
    return a_hole(**{**given, **changes})


def planned(*features, rules=None, crib=CRIB, **changes):
    given = {"holes": [one for one in features if hasattr(one, "bottom")], **changes}
    return propose(a_reading(size=SIZE, **given), Given(crib=crib, machines=[MILL], rules=rules or PlanRules()))


def tilted(made):
    (one,) = (setup for setup in made.setups if setup.tilted)
    return one


def seen_from_zero(setup, point):
    rows = rotation(setup.up, setup.holding.along_x, setup.angles)
    return [a - b for a, b in zip(turn(rows, point), turn(rows, setup.holding.zero_mm), strict=True)]


def test_a_slanted_hole_gets_a_setup_of_its_own_after_the_straight_ones():
    made = planned(slanted(), a_hole())
    assert [setup.tilted is not None for setup in made.setups] == [False, False, True]
    assert [step.setup for step in made.steps] == [None, 1, 2, 3, None, None, None]
    assert made.unreached == () and made.tilts == () and made.out_of_reach == ()


def test_the_house_rule_leaves_it_to_a_person_and_says_how_it_would_be_tilted():
    made = planned(slanted(), rules=PlanRules(tilted=False))
    assert not any(setup.tilted for setup in made.setups)
    assert [tilt.words for tilt in made.tilts] == ["30.0° from +Z up"]
    assert [need.what for need in made.unreached] == ["hole ⌀6.6 mm 10 mm deep, slanted"]


def test_the_hole_looks_at_the_spindle_as_it_stands():
    setup = tilted(planned(slanted()))
    assert setup.angles == (0.0, -30.0, 0.0)
    assert rotation(setup.up, setup.holding.along_x, setup.angles)[6:9] == pytest.approx(WAY)


def test_it_stands_on_a_sine_bar_in_the_vise_with_the_blocks_that_the_angle_takes():
    """H = L sin a: 100 × sin 30° = 50. Right end up, the part lies between its two upright sides."""
    held = tilted(planned(slanted())).holding
    assert "jaws on the finished sides across Y, 40 mm apart" in held.workholding
    assert "right end up 30°: 50.000 mm of gauge blocks under a 100 mm sine bar" in held.workholding


def test_a_longer_bar_takes_higher_blocks():
    assert "100.000 mm of gauge blocks under a 200 mm" in (
        tilted(planned(slanted(), rules=PlanRules(sine_bar_mm=200.0))).holding.workholding
    )


def test_the_zero_is_on_edges_that_can_be_touched():
    """X0 on the edge that stands out most to one side, Y0 in the middle, Z0 on the highest edge: nothing of the block
    is higher, and nothing goes further that way."""
    setup = tilted(planned(slanted()))
    corners = [seen_from_zero(setup, (x, y, z)) for x in (0.0, 60.0) for y in (0.0, 40.0) for z in (0.0, 20.0)]
    xs, ys, zs = zip(*corners, strict=True)
    assert max(zs) == pytest.approx(0.0)
    assert min(max(xs), -min(xs), key=abs) == pytest.approx(0.0)
    assert max(ys) == pytest.approx(-min(ys)) == pytest.approx(20.0)
    assert setup.holding.pick_up.startswith("right edge in X, both upright sides in Y; height on the highest edge")


def test_the_pick_up_says_where_the_hole_then_lies():
    """By hand, with the right end up: the lower right edge lies at X 60 cos 30° = 51.962 and the hole at
    X 30 cos 30° − 20 sin 30° = 15.981, so 35.981 to the left of it."""
    assert tilted(planned(slanted())).holding.pick_up.endswith("the first axis then lies at X\u221235.981, Y0")


def test_the_jaws_reach_no_higher_than_what_is_cut():
    setup = tilted(planned(slanted()))
    lowest = min(seen_from_zero(setup, (x, 20.0, z))[2] for x in (0.0, 60.0) for z in (0.0, 20.0))
    assert 8.0 <= setup.holding.grip_mm < seen_from_zero(setup, (30.0, 20.0, 20.0))[2] - lowest


def test_a_part_too_wide_for_the_vise_goes_on_an_angle_plate():
    held = tilted(planned(slanted(), rules=PlanRules(widest_in_vise_mm=30.0))).holding
    assert held.grip_mm is None and held.workholding.startswith("clamped to an angle plate; right end up 30°")


def test_a_direction_between_three_sides_takes_a_compound_sine_plate():
    way = (1 / math.sqrt(14), 2 / math.sqrt(14), 3 / math.sqrt(14))
    setup = tilted(planned(slanted(axis=way, reach=(way,))))
    assert all(setup.angles[:2]) and setup.angles[2] == 0.0
    assert "compound sine plate" in setup.holding.workholding and len(setup.holding.workholding) <= 200
    assert any("corners" in text for text in setup.holding.cautions)


def test_the_fixed_jaw_and_the_stop_are_named_where_the_part_slides_to():
    located = tilted(planned(slanted())).locating
    assert (located.fixed_jaw, located.stop_side) == ("back", "left")
    assert located.located_on == (
        "the face that looks to \u2212Z on the sine bar, +Y on the fixed jaw, \u2212X on the stop"
    )


def test_a_seat_is_milled_before_the_drill_where_the_hole_meets_a_slope():
    """Over ⌀6.6 a slope of 30° falls by 6.6 × tan 30° = 3.81."""
    made = tilted(planned(slanted())).operations
    assert [str(one.kind) for one in made] == ["face", "spot", "drill"]
    seat = made[0]
    assert seat.tool.number == 3 and seat.depth_mm == pytest.approx(3.811, abs=1e-3)
    assert seat.minutes > 0


def test_a_seat_of_a_drill_that_nothing_fits_is_on_the_list_to_buy():
    made = tilted(planned(slanted(), crib=[one for one in CRIB if one.number != 3]))
    assert any("flat end mill of at most ⌀6.6 mm" in str(want) for want in made.wanted)


def test_a_mill_that_does_not_cut_over_its_centre_goes_round_and_is_smaller():
    mills = [replace(tool(3, "flat end mill", 6.0), centre_cutting=False), tool(8, "flat end mill", 5.0)]
    made = tilted(planned(slanted(), crib=[*(one for one in CRIB if one.number != 3), *mills]))
    assert made.operations[0].tool.number == 8


def test_a_hole_square_to_a_slope_needs_no_seat_and_the_slope_is_faced_flat():
    level = 30.0 * WAY[0] + 20.0 * WAY[2]
    slope = PlaneGroup(WAY, 300.0, (Level(level, 300.0, (60,)),))
    plain = a_reading(size=SIZE)
    made = planned(slanted(), planes=(*plain.planes, slope))
    kinds = [(str(one.kind), one.what) for one in tilted(made).operations]
    assert [kind for kind, _ in kinds] == ["face", "spot", "drill"] and kinds[0][1] == "slope of 30°, flat here"
    assert not any(need.feature is slope for setup in made.setups if not setup.tilted for need in setup.needs)


def test_a_pocket_with_a_slanted_floor_is_milled_as_one_that_opens_upwards():
    pocket = a_pocket(axis=WAY, reach=(WAY,))
    made = tilted(planned(pockets=(pocket,), holes=[]))
    depths = {one.depth_mm for one in made.operations}
    assert depths == {pocket.depth_mm}


def test_an_edge_that_is_not_there_is_not_touched():
    """The model has edges, and none of them where the box's own would be."""
    edge = SharpEdge(1, 40.0, 90.0, (5.0, 5.0, 5.0), (70, 71))
    made = planned(slanted(), sharp_edges=SharpEdges(1, 40.0, (edge,)))
    assert any("gauge pin or tooling ball" in text for text in tilted(made).holding.cautions)


def test_holes_of_one_slant_share_a_clamping_and_of_two_take_two():
    other = (WAY[2], 0.0, WAY[0])
    made = planned(slanted(), slanted(position_mm=(40.0, 20.0, 20.0)), slanted(axis=other, reach=(other,)))
    assert sorted(len(setup.needs) for setup in made.setups if setup.tilted) == [1, 2]


def test_setting_the_angle_takes_minutes_of_its_own():
    made = planned(slanted())
    step = next(step for step in made.steps if step.setup == 3)
    rules = PlanRules()
    assert step.minutes_setup == rules.setup_min + rules.tilt_min + rules.setup_tool_min * len(tilted(made).tools)


def test_a_hole_that_comes_out_underneath_warns_of_the_blocks():
    back = tuple(-part for part in WAY)
    made = planned(slanted(through=True, bottom="through", reach=(WAY, back)))
    assert any("drills through" in text for text in tilted(made).holding.cautions)


def test_an_inch_shop_reads_blocks_in_inches():
    rules = PlanRules(unit="in", sine_bar_mm=127.0, size_step_mm=25.4 / 16)
    assert (
        "2.50000 in of gauge blocks under a 5 in sine bar"
        in tilted(planned(slanted(), rules=rules)).holding.workholding
    )


@pytest.mark.parametrize("way", [UP, RIGHT])
def test_a_hole_square_to_a_side_takes_no_tilt(way):
    assert not any(setup.tilted for setup in planned(slanted(axis=way, reach=(way,))).setups)
