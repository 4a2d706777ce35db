"""T-slots, dovetails and grooves round an outside: recognised in models, cut from their mouth, tools from the crib.

Sizes are those that the shapes are made with.
"""

import math
from dataclasses import replace

import pytest

from shopflow.core import solid
from shopflow.core.planning import Given, propose
from shopflow.core.planning.operations import OperationKind
from shopflow.core.planning.slots.undercuts import side_slots
from shopflow.core.types import Material, ToolUse
from tests.core.planning.parts import CRIB, MILL, tool
from tests.core.solid import parts

CUTTER = tool(9, "T-slot cutter", 16.0, flute_length_mm=5.0, neck_diameter_mm=7.5, stickout_mm=30.0)
ALUMINIUM = Material("m", "aluminium", 2700.0)


def t_slot(length=60.0):
    """8 wide and 8 deep, then 16 wide and 5 high, in a block 60 × 40 × 20, from its left end."""
    neck, head = parts.box(length, 8, 8, at=(0, 16, 12)), parts.box(length, 16, 5, at=(0, 12, 7))
    return parts.cut(parts.box(60, 40, 20), neck, head)


def dovetail():
    """12 wide at the mouth, 24 at the floor, 10 deep, through a block along Y."""
    shape = parts.prism([(-6, 20), (6, 20), (12, 10), (-12, 10)], -10, 60)
    return parts.cut(parts.box(60, 40, 20), parts.turned(shape, (1, 0, 0), 90, (30, 45, 0)))


def ring_groove():
    """A stud ⌀40 with a groove 4 wide and 3 deep, 8 over its foot."""
    ring = parts.cut(parts.cylinder(30, 4, at=(30, 30, 18)), parts.cylinder(17, 4, at=(30, 30, 18)))
    return parts.fuse(parts.box(60, 60, 10), parts.cut(parts.cylinder(20, 20, at=(30, 30, 10)), ring))


SHAPES = {
    "through": t_slot,
    "open at one end": lambda: t_slot(40.0),
    "dovetail": dovetail,
    "ring": ring_groove,
    "side slot": lambda: parts.cut(parts.box(60, 40, 20), parts.box(60, 6, 5, at=(0, 0, 8))),
    "T-shaped pocket": lambda: parts.cut(
        parts.box(60, 40, 20), parts.box(30, 8, 12, at=(15, 10, 10)), parts.box(12, 20, 12, at=(33, 4, 10))
    ),
    "closed at both ends": lambda: parts.cut(
        parts.box(60, 40, 20), parts.box(40, 8, 8, at=(10, 16, 12)), parts.box(40, 16, 5, at=(10, 12, 7))
    ),
}


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    folder, known = tmp_path_factory.mktemp("undercuts"), {}

    def one(name):
        if name not in known:
            known[name] = solid.read(parts.write(SHAPES[name](), folder / f"{len(known)}.step"))
        return known[name]

    return one


def plan(reading, crib=(*CRIB, CUTTER)):
    return propose(reading, Given(crib=crib, machines=[MILL], material=ALUMINIUM))


def undercut_of(made):
    (found,) = [one for setup in made.setups for one in setup.operations if one.kind is OperationKind.UNDERCUT]
    return found


@pytest.mark.parametrize(("name", "length"), [("through", 60.0), ("open at one end", 40.0)])
def test_a_t_slot_is_told_with_its_sizes(read, name, length):
    (slot,) = side_slots(read(name))
    assert (slot.kind, slot.up) == ("T-slot", "+Z")
    assert (slot.across_mm, slot.neck_mm, slot.high_mm, slot.beside_mm) == pytest.approx((16.0, 8.0, 5.0, 4.0))
    assert (slot.depth_mm, slot.length_mm) == pytest.approx((13.0, length))


def test_a_t_slot_s_volume_is_that_of_neck_and_wide_part(read):
    (slot,) = side_slots(read("through"))
    assert slot.volume_mm3 == pytest.approx(60.0 * (8.0 * 8.0 + 16.0 * 5.0))


def test_a_dovetail_is_told_with_the_angle_of_its_flanks(read):
    (slot,) = side_slots(read("dovetail"))
    assert (slot.kind, slot.up, slot.angle_deg) == (
        "dovetail",
        "+Z",
        pytest.approx(math.degrees(math.atan2(10, 6)), abs=0.01),
    )
    assert (slot.across_mm, slot.neck_mm, slot.depth_mm) == pytest.approx((24.0, 12.0, 10.0))


def test_a_dovetail_s_volume_is_its_trapezium(read):
    (slot,) = side_slots(read("dovetail"))
    assert slot.volume_mm3 == pytest.approx((12.0 + 24.0) / 2 * 10.0 * 40.0)


def test_a_groove_round_a_stud_is_told_with_its_sizes(read):
    (slot,) = side_slots(read("ring"))
    assert (slot.kind, slot.up) == ("groove", "+Z")
    assert (slot.across_mm, slot.high_mm, slot.beside_mm, slot.depth_mm) == pytest.approx((34.0, 4.0, 3.0, 12.0))
    assert slot.length_mm == pytest.approx(math.pi * 34.0)


@pytest.mark.parametrize("name", ["side slot", "T-shaped pocket", "closed at both ends"])
def test_what_an_end_mill_cuts_or_no_cutter_enters_is_no_such_slot(read, name):
    assert side_slots(read(name)) == []


def test_a_slot_that_is_closed_at_both_ends_is_named_as_an_undercut(read):
    assert any("undercut" in words for words in plan(read("closed at both ends")).unreached_words)


@pytest.mark.parametrize("name", ["through", "open at one end", "dovetail", "ring"])
def test_an_undercut_is_cut_from_its_mouth_and_takes_no_setup_of_its_own(read, name):
    """Its faces are in sight from its ends only: the part was stood on end, and cut the whole length deep."""
    made = plan(read(name))
    assert [setup.up for setup in made.setups] == ["+Z", "-Z"]
    assert made.unreached == () and made.account.unseen == () and made.account.in_part == ()


def test_the_neck_is_milled_before_the_wide_part_and_by_a_mill_that_enters_it(read):
    first = plan(read("through")).setups[0]
    necks = [one for one in first.operations if "neck" in one.what]
    assert [str(one.kind) for one in necks] == ["rough", "finish walls"]
    assert all(one.tool.diameter_mm <= 0.8 * 8.0 for one in necks)
    kinds = [one.kind for one in first.operations]
    assert all(first.operations.index(neck) < kinds.index(OperationKind.UNDERCUT) for neck in necks)


def test_a_cutter_of_the_slot_s_size_is_taken_and_timed(read):
    found = undercut_of(plan(read("through")))
    assert found.tool is CUTTER and found.wanted is None and found.passes == 1
    assert found.length_mm == 60.0 and found.minutes > 0


def test_a_smaller_cutter_goes_along_both_walls(read):
    small = replace(CUTTER, diameter_mm=14.0, neck_diameter_mm=6.0)
    assert undercut_of(plan(read("through"), [*CRIB, small])).length_mm == 120.0


def test_a_thinner_cutter_goes_in_layers(read):
    assert undercut_of(plan(read("through"), [*CRIB, replace(CUTTER, flute_length_mm=2.0)])).passes == 3


@pytest.mark.parametrize(
    "wrong",
    [
        {"diameter_mm": 18.0}, {"neck_diameter_mm": 8.5}, {"flute_length_mm": 6.0}, {"stickout_mm": 12.0},
        {"neck_diameter_mm": 0.0}, {"uses": frozenset({ToolUse.FACE})},
    ],
)  # fmt: skip
def test_a_cutter_that_is_too_wide_thick_or_short_goes_on_the_buy_list_instead(read, wrong):
    found = undercut_of(plan(read("through"), [*CRIB, replace(CUTTER, **wrong)]))
    assert found.tool is None
    assert found.wanted.tool == (
        "a T-slot cutter of at most ⌀16 mm with a neck under ⌀8 mm, at most 5 mm thick, with 4 mm and more beside its "
        "neck, that reaches 13 mm deep"
    )


def test_a_dovetail_asks_for_its_cutter_by_the_angle(read):
    found = undercut_of(plan(read("dovetail")))
    assert found.tool is None and found.wanted.tool.startswith("a dovetail cutter of 59.04°")


def test_a_groove_round_a_stud_takes_a_cutter_that_reaches_as_far_beside_its_neck(read):
    """3 mm deep: (16 − 7.5) / 2 reaches 4.25; once round is π · 34."""
    thin = replace(CUTTER, flute_length_mm=4.0)
    found = undercut_of(plan(read("ring"), [*CRIB, thin]))
    assert found.tool is thin and found.length_mm == pytest.approx(math.pi * 34.0)
