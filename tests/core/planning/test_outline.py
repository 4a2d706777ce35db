"""The outline from two sides where one does not reach, and what a setup asks of holders, travel and people.

Shares and allowances are common practice, no source.
"""

import pytest

from shopflow.core.planning import Given, propose
from shopflow.core.planning.clamping.gripping import Stand
from shopflow.core.planning.clamping.holding import holding
from shopflow.core.planning.clamping.limits import holder_notes, parallels_note, travel_note, weight_note
from shopflow.core.planning.operations import Operation, OperationKind
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid import FaceFacts
from shopflow.core.types import Holder, Material
from tests.core.planning.parts import CRIB, DOWN, MILL, UP, a_hole, a_reading, tool

RULES = PlanRules()
LONG = tool(8, "flat end mill", 12.0, flute_length_mm=60.0, stickout_mm=70.0)
OUTSIDE = ("rough outside", "walls")


def plan(size, crib=CRIB, **changes):
    return propose(a_reading(size=size, holes=(), **changes), Given(crib=crib, machines=[MILL]))


def outsides(made):
    """By setup: how deep its operations round the outside go."""
    return [sorted({one.depth_mm for one in setup.operations if one.key in OUTSIDE}) for setup in made.setups]


def test_a_part_that_the_mills_reach_down_is_cut_round_in_the_first_setup():
    made = plan((60.0, 40.0, 30.0))
    assert outsides(made) == [[30.0], []] and made.setups[0].cautions == ()


def test_a_higher_part_is_cut_round_from_both_sides():
    """45 high, mills of 30: 30 from the first, 15 and the overlap of 1 from the second."""
    made = plan((80.0, 60.0, 45.0))
    assert outsides(made) == [[30.0], [16.0]]
    assert all(one.tool for setup in made.setups for one in setup.operations if one.key in OUTSIDE)


def test_sharing_the_outline_is_said_with_its_depth():
    notes = [note.text for note in plan((80.0, 60.0, 45.0)).setup_notes if note.setup == 1]
    assert any("cuts the outline 30 mm deep" in text for text in notes)


def test_the_second_setup_that_cuts_the_rest_begins_as_wide_as_the_blank():
    made = plan((80.0, 60.0, 45.0))
    assert made.setups[1].stock.size_mm[:2] == made.blank.size_mm[:2]


def test_what_both_sides_together_do_not_reach_asks_for_a_longer_mill():
    made = plan((120.0, 100.0, 80.0))
    assert outsides(made) == [[80.0], []]
    assert any("80 mm deep" in want.tool for want in made.wanted)


def test_a_longer_mill_in_the_crib_cuts_it_from_one_side():
    assert outsides(plan((80.0, 60.0, 45.0), [*CRIB, LONG])) == [[45.0], []]


def test_the_outline_is_not_shared_with_a_setup_whose_tools_a_person_picked():
    made = propose(
        a_reading(size=(80.0, 60.0, 45.0), holes=()), Given(crib=CRIB, machines=[MILL], settled={"+Z": CRIB[:2]})
    )
    assert outsides(made) == [[45.0], []]


def test_the_shared_outline_finishes_as_much_wall_as_the_whole_one_and_its_overlap():
    shared, whole = plan((80.0, 60.0, 45.0)), plan((80.0, 60.0, 45.0), [*CRIB, LONG])

    def area(made):
        return sum(
            one.length_mm * one.depth_mm for setup in made.setups for one in setup.operations if one.key == "walls"
        )

    assert area(shared) == pytest.approx(area(whole) * 46.0 / 45.0)


def a_face(index, low, high):
    return FaceFacts(index, 0, "plane", 1.0, low, UP, 0.0, False, low, high, (63,) * 5)


def beside(wall_at):
    """A hole ⌀6.6 at (10, 10), its mouth 12 over the underside, and a wall 60 high that begins at this x."""
    wall = a_face(20, (wall_at, 0.0, 60.0), (60.0, 40.0, 60.0))
    return a_reading(size=(60.0, 40.0, 60.0), holes=[a_hole()], faces=(wall,))


def noted(reading, holder=None, stickout=45.0):
    drill = tool(4, "drill", 6.6, stickout_mm=stickout, holder=holder)
    one = Operation(OperationKind.DRILL, "drill", "1 × hole", drill, family="hole 6.600 12.000 through", depth_mm=12.0)
    return holder_notes(Stand("+Z", (), reading), reading.holes, [one], RULES)


@pytest.mark.parametrize(("wall_at", "count"), [(25.0, 1), (35.0, 0)])
def test_a_holder_that_comes_down_beside_a_wall_is_named(wall_at, count):
    """45 sticks out, so the nose is 45 over the underside, under the wall's 60. A holder of 40 reaches 20 aside."""
    assert len(noted(beside(wall_at))) == count


def test_a_slim_holder_clears_the_wall():
    assert noted(beside(25.0), Holder("slim", ((0.0, 20.0),))) == []


def test_a_tool_that_sticks_out_over_the_wall_is_not_named():
    assert noted(beside(25.0), stickout=65.0) == []


def test_a_hole_from_below_counts_its_heights_from_the_other_side():
    """Upside down the same through hole starts at the wall's foot: nothing there is higher than its mouth."""
    reading = a_reading(size=(60.0, 40.0, 12.0), holes=[a_hole(axis=DOWN, position_mm=(10.0, 10.0, 0.0))],
                        faces=(a_face(20, (25.0, 0.0, 0.0), (60.0, 40.0, 0.0)),))  # fmt: skip
    assert noted(reading) == []


def over_parallels(y, index=1, **changes):
    """Of a plate 60 × 40 × 12 in a vise across Y, with one through hole ⌀6.6 at this y."""
    reading = a_reading(holes=[a_hole(30.0, y, **changes)])
    stand = Stand("-Z", ("+Z",) * index, reading)
    box = (reading.box_min_mm, reading.box_max_mm)
    return parallels_note(stand, reading.holes, holding(index, "-Z", box, (65.0, 45.0, 19.0), RULES, stand), RULES)


@pytest.mark.parametrize(("y", "is_said"), [(5.0, True), (35.0, True), (9.0, True), (10.0, False), (20.0, False)])
def test_a_hole_that_comes_out_over_a_parallel_is_named(y, is_said):
    """A parallel of 6 against the jaw reaches a hole of radius 3.3 up to 9.3 from it."""
    assert ("short ones clear" in over_parallels(y)) == is_said


def test_a_blind_hole_touches_no_parallel():
    assert over_parallels(5.0, through=False, depth_mm=6.0) == ""


def test_in_the_first_setup_stock_lies_between_drill_and_parallels():
    assert over_parallels(5.0, index=0) == ""


def test_tools_of_very_different_length_are_named_where_the_travel_is_short():
    """A drill of 480 beside a mill of 45: 435, the cut of 40 and 25 over the part are 500; the machine has 500."""
    long = tool(4, "drill", 6.6, stickout_mm=480.0)
    short = tool(2, "flat end mill", 12.0)
    cut = [
        Operation(OperationKind.DRILL, "a", "a", long, depth_mm=40.0),
        Operation(OperationKind.ROUGH, "b", "b", short),
    ]
    assert travel_note(cut, MILL, RULES) == ""
    deeper = [Operation(OperationKind.DRILL, "a", "a", long, depth_mm=41.0), *cut[1:]]
    assert "501 mm of travel in Z" in travel_note(deeper, MILL, RULES)


@pytest.mark.parametrize(("side_mm", "kg"), [(190.0, ""), (200.0, "22 kg")])
def test_a_blank_too_heavy_for_hands_is_named_with_its_mass(side_mm, kg):
    """Aluminium of 2.7 g/cm³: a cube of 190 mm is 18.5 kg, of 200 mm 21.6 kg."""
    note = weight_note(side_mm**3, Material("m", "aluminium", 2700.0))
    assert kg in note and bool(note) == bool(kg)


def test_a_blank_of_no_known_material_has_no_known_mass():
    assert weight_note(1e9, None) == ""
