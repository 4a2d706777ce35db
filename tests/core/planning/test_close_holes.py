"""Close holes, threads and grooves: which tool brings a hole to what the drawing asks, or what has to be bought."""

import math
from dataclasses import replace

import pytest

from shopflow.core.planning.given import Given
from shopflow.core.planning.hole_operations import HoleFacts, SizeLimits, ThreadsShown, drilling
from shopflow.core.planning.minutes import timed
from shopflow.core.planning.needs import hidden
from shopflow.core.planning.operations import OperationKind, Speeds
from shopflow.core.planning.passes import cautions
from shopflow.core.planning.propose import propose
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.side_work import SideWork
from shopflow.core.solid.features import recognise
from shopflow.core.solid.features.threads import thread_of
from shopflow.core.solid.occ import graph as occ_graph
from shopflow.core.solid.reading import FaceFacts
from shopflow.core.types import Material
from tests.core.planning.parts import MILL, UP, a_hole, a_reading, hss, tool
from tests.core.solid.parts import box, cut, cylinder

REAMER, HEAD = hss(1, "reamer", 8.0), tool(2, "boring head", 30.0, stickout_mm=80.0)
H7_OF_8, H7_OF_32 = SizeLimits(8.0, 8.0, 8.015), SizeLimits(32.0, 32.0, 32.025)
ALUMINIUM = Material("6061", "aluminium", 2700.0)


def work_of(*holes):
    return SideWork("+Z", 0.0, 0.0, 0.0, 12.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, holes=tuple(holes))


def made(hole, *crib, typed=(), threads=ThreadsShown.NOT_SAID):
    return drilling(work_of(hole), crib, PlanRules(), HoleFacts(threads=threads, typed=typed))


def last(*given, **more):
    return made(*given, **more)[-1]


def test_a_hole_with_a_close_typed_tolerance_is_reamed():
    one = last(a_hole(diameter_mm=8.0), REAMER, hss(3, "drill", 7.8), typed=[H7_OF_8])
    assert (one.kind, one.tool) == (OperationKind.REAM, REAMER)


def test_it_is_drilled_smaller_first():
    drilled = next(
        one
        for one in made(a_hole(diameter_mm=8.0), REAMER, hss(3, "drill", 7.8), typed=[H7_OF_8])
        if one.kind is OperationKind.DRILL
    )
    assert drilled.tool.diameter_mm == 7.8


@pytest.mark.parametrize("diameter", [8.0, 8.0075, 8.015])
def test_the_model_may_show_the_size_anywhere_within_its_limits(diameter):
    assert last(a_hole(diameter_mm=diameter), REAMER, typed=[H7_OF_8]).kind is OperationKind.REAM


def test_a_tolerance_of_another_size_reams_nothing():
    assert last(a_hole(diameter_mm=8.1), hss(3, "drill", 8.1), typed=[H7_OF_8]).kind is OperationKind.DRILL


def test_a_wide_typed_tolerance_reams_nothing():
    wide = SizeLimits(8.0, 7.8, 8.2)
    assert last(a_hole(diameter_mm=8.0), REAMER, hss(3, "drill", 8.0), typed=[wide]).kind is OperationKind.DRILL


def test_a_large_close_hole_is_bored_with_the_head_that_sets_to_it():
    one = last(a_hole(diameter_mm=32.0), HEAD, tool(4, "flat end mill", 12.0), typed=[H7_OF_32])
    assert (one.kind, one.tool) == (OperationKind.SIZE, HEAD)


@pytest.mark.parametrize(
    ("head", "is_set"),
    [
        ({}, False),
        ({"set_to_mm": 32.0}, True),
        ({"set_to_mm": 31.9}, False),
        ({"diameter_mm": 40.0}, False),
        ({"diameter_mm": 40.0, "set_from_mm": 32.0}, True),
    ],
)
def test_a_head_is_set_within_the_range_that_the_crib_says(head, is_set):
    boring = replace(tool(2, "boring head", 24.0, stickout_mm=80.0), **head)
    one = last(a_hole(diameter_mm=32.0), boring, tool(4, "flat end mill", 12.0), typed=[H7_OF_32])
    assert (one.tool == boring) is is_set


@pytest.mark.parametrize(("stands", "told"), [(30.0, ["T2 stands in the crib at ⌀30 mm"]), (32.02, [])])
def test_a_head_that_stands_at_another_size_is_told(stands, told):
    one = last(a_hole(diameter_mm=32.0), replace(HEAD, diameter_mm=stands), typed=[H7_OF_32])
    said = cautions(one, one, None, None, Speeds(ALUMINIUM, MILL), PlanRules().say)
    assert [text.split(":")[0] for text in said] == told


def test_it_is_milled_smaller_first():
    first = made(a_hole(diameter_mm=32.0), HEAD, tool(4, "flat end mill", 12.0), typed=[H7_OF_32])[0]
    assert (first.kind, first.width_mm) == (OperationKind.BORE, pytest.approx(31.8))


def test_a_large_close_hole_asks_for_a_boring_head_with_its_size():
    one = last(a_hole(diameter_mm=32.0), tool(4, "flat end mill", 12.0), typed=[H7_OF_32])
    assert str(one.wanted).startswith("a boring head set to ⌀32 mm that reaches 12 mm deep")


def test_a_small_close_hole_asks_for_a_reamer_with_its_size():
    assert "a reamer ⌀8 mm" in last(a_hole(diameter_mm=8.0), hss(3, "drill", 7.8), typed=[H7_OF_8]).wanted.tool


def test_a_bored_hole_has_its_minutes():
    one = last(a_hole(diameter_mm=32.0), HEAD, typed=[H7_OF_32])
    assert timed(one, Speeds(ALUMINIUM, MILL)).minutes > 12.0 / 1000.0


def threaded(name, *crib, **changes):
    thread = thread_of(name)
    hole = a_hole(diameter_mm=thread.drill_mm, thread_guess=name, **changes)
    return last(hole, *crib, threads=ThreadsShown.MINOR)


def mill(diameter, pitch, **changes):
    return tool(9, "thread mill", diameter, pitch_mm=pitch, flute_length_mm=15.0, **changes)


def test_a_large_thread_is_milled():
    one = threaded("M24", hss(5, "tap", 24.0, pitch_mm=3.0), mill(12.0, 3.0))
    assert (one.kind, one.tool.number) == (OperationKind.THREAD, 9)


def test_a_small_thread_is_tapped():
    assert threaded("M6", hss(5, "tap", 6.0, pitch_mm=1.0), mill(4.0, 1.0)).kind is OperationKind.TAP


def test_a_thread_down_to_a_flat_bottom_is_milled():
    blind = {"through": False, "bottom": "flat", "reach": (UP,)}
    one = threaded("M6", hss(5, "tap", 6.0, pitch_mm=1.0), mill(3.5, 1.0), **blind)
    assert one.kind is OperationKind.THREAD


def test_a_small_thread_without_its_tap_is_milled():
    assert threaded("M6", mill(3.5, 1.0)).kind is OperationKind.THREAD


@pytest.mark.parametrize("wrong", [mill(12.0, 2.5), mill(19.0, 3.0)], ids=["another pitch", "too large to go round"])
def test_a_thread_mill_that_does_not_suit_is_not_taken(wrong):
    assert "a thread mill of pitch 3 mm" in threaded("M24", wrong).wanted.tool


def test_a_large_thread_with_only_its_tap_is_tapped():
    assert threaded("M24", hss(5, "tap", 24.0, pitch_mm=3.0)).kind is OperationKind.TAP


def test_a_single_tooth_goes_round_once_a_pitch():
    """12 mm deep at a pitch of 3: four turns; all teeth at once: one."""
    assert [threaded("M24", mill(12.0, pitch)).passes for pitch in (0.0, 3.0)] == [4, 1]


def a_grooved_hole():
    """⌀20 through 30 mm, with a ring's groove ⌀22 from 5 to 7 under its mouth, as the recogniser describes it."""
    part = cut(box(60, 60, 30), cylinder(10, 40, (30, 30, -5)), cylinder(11, 2, (30, 30, 23)))
    [hole] = recognise.everything(occ_graph.build([part], 0.01), None).holes
    return hole


def test_a_groove_in_a_bore_asks_for_a_cutter_with_its_sizes():
    one = next(one for one in made(a_grooved_hole()) if one.kind is OperationKind.GROOVE)
    assert "under ⌀20 mm, at most 2 mm thick, with 1 mm and more beside its neck" in one.wanted.tool


def test_a_groove_is_milled_with_the_t_slot_cutter_that_fits():
    fits = tool(6, "T-slot cutter", 16.0, neck_diameter_mm=10.0, flute_length_mm=2.0)
    thick = tool(7, "T-slot cutter", 18.0, neck_diameter_mm=10.0, flute_length_mm=3.0)
    stout = tool(8, "T-slot cutter", 19.0, neck_diameter_mm=18.0, flute_length_mm=2.0)
    one = next(one for one in made(a_grooved_hole(), fits, thick, stout) if one.kind is OperationKind.GROOVE)
    assert (one.tool, timed(one, Speeds(ALUMINIUM, MILL)).minutes > math.pi * 22 / 5000) == (fits, True)


def test_faces_that_no_side_sees_are_named():
    face = FaceFacts(4, 0, "plane", 120.0, (0.0, 0.0, 5.0), (0.0, 0.0, -1.0), 0.0, False)
    reading = a_reading(faces=(face,), unreached=(4,))
    [need] = hidden(reading)
    assert need.what.startswith("undercut flat face that looks to −Z")
    assert need in propose(reading, Given(crib=[], machines=[])).out_of_reach
