"""Jaws on a tilted part: on flats that are there, and below every tool; seats and slopes, each cut once."""

from dataclasses import replace

import pytest

from shopflow.core.planning import Given, PlanRules, propose
from shopflow.core.solid import Chamfer, FaceFacts, PlaneGroup
from shopflow.core.solid.reading import Level
from tests.core.planning.parts import BACK, FRONT, MILL, a_hole, a_pocket, a_reading, box_planes, tool
from tests.core.planning.test_propose import CRIB
from tests.core.planning.test_tilted import SIZE, WAY, planned, slanted, tilted

BALL = tool(30, "ball end mill", 6.0)
LOW = 15.0
"""Level of a slope along WAY: the block's lowest edge, which is its origin, is at 0."""


def test_jaws_end_below_a_slope_that_is_faced_with_the_part_tilted():
    """Its hole's mouth is 32.3 over the lowest edge, and the slope 15: 1 mm is kept under the cutter."""
    slope = PlaneGroup(WAY, 100.0, (Level(LOW, 100.0, (60,)),))
    assert tilted(planned(slanted())).holding.grip_mm > LOW
    assert tilted(planned(slanted(), planes=(*box_planes(*SIZE), slope))).holding.grip_mm == LOW - 1.0


def a_side(index, normal, low, high):
    middle = tuple((a + b) / 2 for a, b in zip(low, high, strict=True))
    return FaceFacts(index, 0, "plane", 100.0, middle, normal, 0.0, False, low_mm=low, high_mm=high)


def sides(from_mm):
    """The sides that the jaws close on, flat from this place along X on."""
    return (
        a_side(4, BACK, (from_mm, 40.0, 0.0), (60.0, 40.0, 20.0)),
        a_side(5, FRONT, (from_mm, 0.0, 0.0), (60.0, 0.0, 20.0)),
    )


@pytest.mark.parametrize(("from_mm", "is_gripped"), [(0.0, True), (1.0, True), (25.0, False)])
def test_a_vise_takes_a_tilted_part_only_by_sides_that_are_flat_at_its_lowest_edge(from_mm, is_gripped):
    """Right end up: the lowest edge is at X 0, where an edge may be broken but the sides may not be missing."""
    held = tilted(planned(slanted(), faces=sides(from_mm))).holding
    assert (held.grip_mm is not None) == is_gripped


def test_seats_of_different_holes_are_different_operations():
    other = slanted(position_mm=(45.0, 20.0, 20.0), bottom="flat", faces=(51,))
    keys = [one.key for one in tilted(planned(slanted(), other)).operations]
    assert len(keys) == len(set(keys))


def test_seats_of_holes_on_other_slopes_keep_their_number():
    """Six holes in two groups of the same size: six seats."""
    flat = [slanted(position_mm=(20.0 + n, 20.0, 20.0), bottom="flat", faces=(51 + n,)) for n in range(4)]
    pointed = [slanted(position_mm=(40.0 + n, 20.0, 20.0), faces=(61 + n,)) for n in range(2)]
    made = tilted(planned(*flat, *pointed)).operations
    assert sum(one.count for one in made if one.key.startswith("seat")) == len(flat) + len(pointed)


@pytest.mark.parametrize(("travel_z", "has_room"), [(95.0, True), (94.0, False)])
def test_a_part_that_is_too_high_only_as_it_leans_says_so_of_its_own_setup(travel_z, has_room):
    """60 sin 30° + 20 cos 30° = 47.32 high as it leans, and as much again for the tools; square it is 27 at most."""
    low = replace(MILL, travel_mm=(760.0, 400.0, travel_z))
    made = propose(a_reading(size=SIZE, holes=[slanted()]), Given(crib=CRIB, machines=[low]))
    said = [note for note in made.setup_notes if "no machine of the shop has room" in note.text]
    assert (tilted(made).machine is not None, said == []) == (has_room, has_room)
    assert not any("larger than the travel" in note for note in made.notes)


def test_a_tilted_part_that_stands_higher_than_its_grip_holds_says_so():
    """Jaws reach 22 up its 47.3: 25.3 over the jaws, which is more than once the grip and less than twice."""
    for most, is_said in ((1.0, True), (2.0, False)):
        made = planned(slanted(), rules=PlanRules(depth_to_grip=most))
        notes = [note.text for note in made.setup_notes if note.setup == tilted(made).number]
        assert any("stands 25.32 mm over the jaws" in text for text in notes) == is_said


def surfaced(**changes):
    """The surfacing of the straight setups of a block with a slope of 300 mm² towards WAY, 30° from up."""
    slope = PlaneGroup(WAY, 300.0, (Level(20.0, 300.0, (60,)),))
    face = FaceFacts(60, 0, "plane", 300.0, (50.0, 20.0, 15.0), WAY, 0.0, False)
    made = planned(planes=(*box_planes(*SIZE), slope), crib=[*CRIB, BALL], faces=(face,), **changes)
    return [one for setup in made.setups if not setup.tilted for one in setup.operations if str(one.kind) == "surface"]


def test_a_slope_without_a_tilted_clamping_is_surfaced_with_a_ball():
    """300 mm² in rows of 2 √(3² − 2.99²) = 0.4895 mm that a ball ⌀6 leaves with scallops of 0.01: 612.9 mm of path."""
    (one,) = surfaced(holes=[a_hole()])
    assert one.what.startswith("slanted faces") and one.length_mm == pytest.approx(612.9, abs=0.1)


def test_a_slope_that_lies_flat_in_a_tilted_clamping_is_not_surfaced_too():
    assert surfaced(holes=[slanted()]) == []


def test_a_slope_that_is_a_chamfer_is_not_surfaced():
    chamfer = Chamfer(0, 1.0, 1.0, 30.0, 10.0, False, (60,))
    assert surfaced(holes=[a_hole()], chamfers=(chamfer,)) == []


@pytest.mark.parametrize(("of_pocket", "is_faced"), [((), True), ((60,), False)])
def test_the_floor_of_a_slanted_pocket_is_cut_with_the_pocket_and_not_faced_before_it(of_pocket, is_faced):
    group = PlaneGroup(WAY, 300.0, (Level(20.0, 300.0, (60,)),))
    floor = FaceFacts(60, 0, "plane", 300.0, (50.0, 20.0, 15.0), WAY, 0.0, False)
    pocket = a_pocket(axis=WAY, reach=(WAY,), faces=of_pocket)
    made = planned(holes=[], pockets=(pocket,), planes=(*box_planes(*SIZE), group), faces=(floor,))
    assert any(str(one.kind) == "face" for one in tilted(made).operations) == is_faced
