"""A blank that is a solid of its own: what it has is not cut again, and what is cut adds up to what lies between.

Part and casting are built with Open CASCADE from exact dimensions and read back from their STEP files.
"""

import math

import pytest

from shopflow.core import solid
from shopflow.core.planning import Given, propose
from shopflow.core.planning.blanks.blank import StockIn
from shopflow.core.planning.blanks.cast import cast_of, still_needed
from shopflow.core.planning.blanks.cast_work import cast_blank, cast_stock, cast_work, named_mm3
from shopflow.core.planning.needs import needs_of
from shopflow.core.planning.operations import OperationKind
from shopflow.core.planning.orientations import orientations
from shopflow.core.planning.proposal import StepKind
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.side_work import side_works
from tests.core.planning.parts import MILL, hss, tool
from tests.core.solid.parts import box, cut, cylinder, fuse, write

RULES = PlanRules()
CRIB = (
    tool(1, "face mill", 50.0, flutes=4), tool(2, "flat end mill", 10.0, flute_length_mm=26.0, stickout_mm=36.0),
    tool(3, "flat end mill", 6.0, flute_length_mm=26.0, stickout_mm=30.0), hss(4, "drill", 8.0, flute_length_mm=80.0),
    hss(5, "spot drill", 10.0), tool(6, "chamfer mill", 10.0, point_angle_deg=90.0),
)  # fmt: skip


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    folder = tmp_path_factory.mktemp("castings")
    return lambda shape, name: solid.read(write(shape, folder / f"{name}.step"))


@pytest.fixture(scope="module")
def part(read):
    """80 × 50 × 20 with a bore ⌀20 and two holes ⌀8 through, and a pocket 20 × 20, 8 deep."""
    bore = cylinder(10.0, 20.0, (40, 25, 0))
    holes = [cylinder(4.0, 20.0, (x, 10, 0)) for x in (10, 70)]
    return read(cut(box(80, 50, 20), bore, *holes, box(20, 20, 8, (55, 20, 12))), "part")


@pytest.fixture(scope="module")
def blank(read):
    """2 over each end, 3 over the top, to size elsewhere; the bore cored ⌀14, one of the holes finished."""
    shape = cut(box(84, 50, 23, (-2, 0, 0)), cylinder(7.0, 23.0, (40, 25, 0)), cylinder(4.0, 23.0, (10, 10, 0)))
    return read(shape, "blank")


@pytest.fixture(scope="module")
def cast(part, blank):
    return cast_of(part, blank)


@pytest.fixture(scope="module")
def planned(part, blank):
    return propose(part, Given(crib=CRIB, machines=[MILL], cast=blank))


def operations(proposal, *kinds):
    return [one for setup in proposal.setups for one in setup.operations if one.kind in kinds]


def test_the_stock_over_each_side_is_that_of_the_two_boxes(cast):
    sides = {side: round(over, 3) for side, over in cast.over_mm.items()}
    assert sides == {"+Z": 3.0, "-Z": 0.0, "+Y": 0.0, "-Y": 0.0, "+X": 2.0, "-X": 2.0}


def test_nothing_is_sawn(planned):
    assert StepKind.SAW not in [step.kind for step in planned.steps]


def test_the_blank_is_as_large_as_its_model(planned, blank):
    assert planned.blank.size_mm == pytest.approx((84.0, 50.0, 23.0))
    assert planned.blank.yield_share == pytest.approx(planned.part_mm3 / blank.volume_mm3)


def test_the_top_is_faced_by_what_stands_on_it(planned):
    (facing,) = operations(planned, OperationKind.FACE)
    assert facing.depth_mm == pytest.approx(3.0)


def test_only_the_ends_with_stock_are_cut_round(planned):
    (outside,) = [one for one in operations(planned, OperationKind.ROUGH) if one.key == "rough outside"]
    assert outside.length_mm == pytest.approx(2 * 50.0 + 4 * 10.0)


def test_a_part_that_needs_no_turning_over_is_not_turned(planned):
    assert [setup.up for setup in planned.setups] == ["+Z"]


def test_a_cored_bore_is_milled_true_and_not_drilled(planned):
    (bored,) = operations(planned, OperationKind.BORE)
    assert (bored.width_mm, bored.cored_mm) == (pytest.approx(20.0), pytest.approx(14.0))


def test_a_cored_bore_takes_less_than_one_from_the_solid(planned, part):
    (cored,) = operations(planned, OperationKind.BORE)
    (full,) = operations(propose(part, Given(crib=CRIB, machines=[MILL])), OperationKind.BORE)
    assert cored.minutes < full.minutes


def test_a_hole_that_the_blank_has_is_not_cut_again(planned):
    (drilled,) = operations(planned, OperationKind.DRILL)
    assert drilled.count == 1


def test_what_the_blank_has_already_is_named(planned):
    (said,) = [note for note in planned.notes if "has this already" in note]
    assert "hole ⌀8 mm" in said and "faces that look to \u2212Z" in said


def test_a_side_that_the_blank_leaves_to_size_is_named(planned):
    assert any("No stock stands over -Z" in note.replace("\u2212", "-") for note in planned.notes)


def test_a_part_that_stands_out_of_its_blank_is_named(part, read):
    small = read(box(79, 50, 23, (1, 0, 0)), "small")
    notes = propose(part, Given(crib=CRIB, machines=[MILL], cast=small)).notes
    assert any("stands 1 mm out of its blank at" in note for note in notes)


def test_every_face_is_cut_or_named(planned):
    assert planned.account.unseen == ()


def test_volumes_add_up_to_what_lies_between_blank_and_part(part, blank, cast):
    """Analytic: both are boxes less cylinders and a pocket."""
    of_blank = 84 * 50 * 23 - math.pi * 23 * (7**2 + 4**2)
    of_part = 80 * 50 * 20 - math.pi * 20 * (10**2 + 2 * 4**2) - 20 * 20 * 8
    needs, _there = still_needed(needs_of(part, RULES), cast)
    sides, _unreached = orientations(needs, turns_over=False)
    stocks = [cast_stock([side.up for side in sides[: n + 1]], part, cast) for n in range(len(sides))]
    works = cast_work(side_works(part, sides, cast_blank(part, cast), stocks), part, cast, stocks)
    found = sum(named_mm3(work, cast) + work.inside_mm3 for work in works)
    assert found == pytest.approx(of_blank - of_part, rel=0.01)


@pytest.mark.parametrize(
    ("ups", "size", "over"),
    [
        (["-Z"], (84.0, 50.0, 23.0), 0.0),
        (["-Z", "+X"], (80.0, 50.0, 23.0), 0.0),
        (["-Z", "+Z"], (80.0, 50.0, 23.0), 3.0),
        (["-Z", "+Z", "+X"], (80.0, 50.0, 20.0), 0.0),
    ],
)
def test_a_setup_begins_with_what_still_stands_under_the_part_until_it_is_turned(part, cast, ups, size, over):
    assert cast_stock(ups, part, cast) == StockIn(pytest.approx(size), pytest.approx(over))


def test_a_face_at_the_finished_height_elsewhere_is_none_of_the_part_s(part, read):
    """The blank's top lies 3 over the part's but for a foot beside it, at the finished height."""
    beside = read(fuse(box(80, 50, 23), box(100, 100, 20, (80, 0, 0))), "beside")
    left, _there = still_needed(needs_of(part, RULES), cast_of(part, beside))
    assert any(need.what == "faces that look to +Z" for need in left)


def test_a_hole_of_the_blank_at_another_depth_is_no_core(part, read):
    """From below, only 6 deep."""
    shallow = cast_of(part, read(cut(box(80, 50, 23), cylinder(7.0, 6.0, (40, 25, 0))), "shallow"))
    assert all(shallow.cored_mm(hole) == 0.0 for hole in part.holes)


def test_a_core_set_aside_counts_as_the_circle_that_is_open_round_the_axis(part, read):
    aside = cast_of(part, read(cut(box(80, 50, 23), cylinder(7.0, 23.0, (41, 25, 0))), "aside"))
    assert max(aside.cored_mm(hole) for hole in part.holes) == pytest.approx(12.0)


def test_a_core_wider_than_the_finished_hole_is_named(part, read):
    wide = read(cut(box(80, 50, 23), cylinder(10.5, 23.0, (40, 25, 0))), "wide")
    notes = propose(part, Given(crib=CRIB, machines=[MILL], cast=wide)).notes
    assert any("wider than the finished one: hole ⌀20 mm" in note for note in notes)


def test_a_blank_with_flat_sides_is_held_in_the_vise_by_them(planned):
    holding = planned.setups[0].holding
    assert holding.grip_mm is not None and "flat sides of the blank" in holding.workholding


def test_a_round_blank_is_held_on_three_points(part, read):
    round_blank = read(cylinder(60.0, 24.0, (40, 25, -1)), "round")
    holding = propose(part, Given(crib=CRIB, machines=[MILL], cast=round_blank)).setups[0].holding
    assert holding.grip_mm is None and "three points" in holding.workholding


def test_a_blank_that_is_the_part_itself_still_makes_a_plan(part):
    assert propose(part, Given(crib=CRIB, machines=[MILL], cast=part)).setups
