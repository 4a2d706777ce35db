"""Straight moves, arcs, dwell, home, offsets. Facts: NISTIR 6556, 3.5; the section stands beside each test."""

import math

import numpy as np
import pytest

from tests.core.nc.reading_help import ends, moves, read, run, sole_why


@pytest.mark.parametrize("code", ["G0", "G1"])
def test_a_straight_move_needs_an_axis_word(code):  # [3.5.1, 3.5.2]
    assert "no axis word" in sole_why(run(code))


def test_the_worked_arc_has_its_centre_and_radius():  # [3.5.3.2]: from (7,7), G2 X10 Y16 I3 J4 Z9
    motions = run("G0 X7 Y7 Z0\nG17 G2 X10 Y16 I3 J4 Z9").motions
    assert motions.centre[1, :2].tolist() == [10.0, 11.0]
    assert math.dist(motions.end[1, :2], (10, 11)) == pytest.approx(5.0)
    assert motions.turn_deg[1] < 0
    assert motions.end[1, 2] == 9.0


def test_clockwise_is_seen_from_the_positive_end_of_the_normal():  # [3.5.3]
    turns = [run(f"G0 X1 Y0 Z1\n{plane} G3 {end}").motions.turn_deg[1] for plane, end in
             (("G17", "X0 Y1 I-1"), ("G18", "X1 Z-1 K-1"), ("G19", "Y-1 Z0 K-1"))]  # fmt: skip
    assert turns == pytest.approx([90.0, 180.0, 90.0])


def test_the_end_equal_to_the_start_makes_a_full_circle():  # [3.5.3.2]
    assert run("G0 X1 Y0\nG2 X1 I-1\nG3 Y0 I-1").motions.turn_deg[1:].tolist() == [-360.0, 360.0]


def test_centre_words_are_increments_under_g90():  # [3.5.3.2]
    assert run("G0 X10 Y10\nG3 X8 Y10 I-1 J0").motions.centre[1].tolist() == [9.0, 10.0, 0.0]


@pytest.mark.parametrize(("off", "is_read"), [(0.0019, True), (0.0025, False)])
def test_start_and_end_radius_may_differ_by_two_thousandths_of_a_millimetre(off, is_read):  # [3.5.3.2]
    program = run(f"G0 X10 Y0\nG3 X0 Y{10 + off} I-10")
    assert (len(program.motions) == 2) is is_read


@pytest.mark.parametrize(("off", "is_read"), [(0.00019, True), (0.00025, False)])
def test_start_and_end_radius_may_differ_by_two_ten_thousandths_of_an_inch(off, is_read):  # [3.5.3.2]
    program = run(f"G20\nG0 X1 Y0\nG3 X0 Y{1 + off:.6f} I-1")
    assert (len(program.motions) == 2) is is_read


def test_an_arc_needs_an_axis_word_of_its_plane():  # [3.5.3.2]
    assert "axis word of its plane" in sole_why(run("G0 X1 Y0\nG2 I-1 Z2"))


def test_an_arc_needs_a_centre_or_a_radius():  # [3.5.3.2]
    assert "centre" in sole_why(run("G0 X1 Y0\nG2 X2"))


def test_a_positive_radius_turns_through_half_a_turn_or_less():  # [3.5.3.1]
    assert run("G0 X0 Y0\nG2 X10 Y10 R10").motions.turn_deg[1] == pytest.approx(-90.0)


def test_a_negative_radius_turns_through_more_than_half_a_turn():  # [3.5.3.1]
    assert run("G0 X0 Y0\nG2 X10 Y10 R-10").motions.turn_deg[1] == pytest.approx(-270.0)


def test_a_radius_arc_that_ends_where_it_starts_is_refused():  # [3.5.3.1]
    assert "ends where it starts" in sole_why(run("G0 X1 Y0\nG2 X1 Y0 R5"))


def test_a_radius_too_small_for_its_ends_is_refused():  # [3.5.3.1]
    assert "twice its radius" in sole_why(run("G0 X0 Y0\nG2 X10 Y0 R4"))


def test_an_arc_by_radius_and_centre_at_once_is_refused():
    assert "both R and a centre" in sole_why(run("G0 X0 Y0\nG2 X10 Y0 R5 I5"))


def test_a_helix_feeds_along_its_own_length():  # [2.1.2.5, 2.1.2.6]
    program = run("G0 X10 Y0 Z0\nG93 G3 X10 Y0 I-10 Z-5 F2")
    length = math.hypot(2 * math.pi * 10, 5)
    assert program.motions.feed_mm_min[1] == pytest.approx(2 * length)


def test_inverse_time_needs_a_feed_word_in_each_block():  # [3.5.19]
    program = run("G0 X0\nG93 G1 X10 F2\nX20")
    assert [(entry.line, entry.code) for entry in program.unread] == [(4, "feed-not-stated")]


def test_inverse_time_takes_one_over_f_minutes():  # [3.5.19]
    assert run("G0 X0\nG93 G1 X30 F2").motions.feed_mm_min[1] == pytest.approx(60.0)


def test_a_dwell_is_in_seconds():  # [3.5.4]
    assert run("G4 P1.5").motions.dwell_s.tolist() == [1.5]


def test_a_negative_dwell_is_refused():  # [3.5.4]
    assert "negative" in sole_why(run("G4 P-1"))


def test_g28_goes_by_way_of_its_point_and_takes_all_axes_home():  # [3.5.8]
    motions = run("G0 X5 Y5 Z5\nG28 X1 Z9").motions
    assert motions.end[1].tolist() == [1.0, 5.0, 9.0]
    assert (motions.work_offset[2], motions.end[2].tolist()) == (0, [0.0, 0.0, 0.0])


def test_g30_without_axis_words_is_one_move():  # [3.5.8]
    assert run("G0 X5 Y5 Z5\nG30").motions.work_offset.tolist() == [1, 0]


def test_after_home_the_place_in_the_work_offset_is_not_known():
    motions = run("G0 X5 Y5 Z5\nG28\nG0 X1 Y1").motions
    assert not motions.start_known[2].any()


def test_g53_moves_in_machine_coordinates_for_one_block():  # [3.5.12]
    motions = run("G0 X5\nG53 Z0\nX6").motions
    assert motions.work_offset.tolist() == [1, 0, 1]


def test_g53_needs_a_straight_mode():  # [3.5.12]
    assert "G53" in sole_why(run("G80\nG53 X1"))


def test_g53_is_refused_under_g91():
    assert "G91" in sole_why(run("G0 X1\nG91\nG53 X1"))


def test_g92_sets_the_offset_of_the_worked_example():  # [3.5.18]: at X4, G92 X7 makes -3; then G92 X9 makes -5
    program = run("G0 X4\nG92 X7\nG0 X7\nG92 X9\nG0 X9")
    assert [x for x, _, _ in ends(program)] == [4.0, 4.0, 4.0]


def test_g92_1_forgets_and_g92_3_has_nothing_to_bring_back():  # [3.5.18]
    assert ends(run("G0 X4\nG92 X7\nG92.1\nG92.3\nG0 X7"))[-1][0] == 7.0


def test_g92_2_switches_off_and_g92_3_on_again():  # [3.5.18]
    program = run("G0 X4\nG92 X7\nG92.2\nG0 X7\nG92.3\nG0 X7")
    assert [x for x, _, _ in ends(program)] == [4.0, 7.0, 4.0]


@pytest.mark.parametrize(("code", "number"), [("G54", 1), ("G57", 4), ("G59", 6), ("G59.1", 7), ("G59.3", 9)])
def test_the_nine_work_offsets(code, number):  # [3.5.13]
    program = run(f"{code}\nG0 X1")
    assert program.motions.work_offset.tolist() == [number]
    assert program.work_offsets == (code,)


def test_after_a_change_of_offset_the_place_is_not_known():
    assert not run("G0 X1 Y1 Z1\nG55\nG0 X2 Y2 Z2").motions.start_known[1].any()


def test_with_known_origins_the_place_keeps_its_meaning():
    program = run("G0 X1 Y1 Z1\nG55\nG0 X2", work_offsets={1: (0, 0, 0), 2: (100, 0, -5)})
    assert program.motions.start[1].tolist() == [-99.0, 1.0, 6.0]


def test_g10_sets_only_the_axes_it_names():  # [3.5.5]: G10 L2 P1 X3.5 Y17.2
    program = run("G0 X10 Y20 Z30\nG10 L2 P1 X3.5 Y17.2\nG0 X0 Y0 Z30", work_offsets={1: (1, 2, 3)})
    assert program.motions.start[1].tolist() == [7.5, 4.8000000000000007, 30.0]


@pytest.mark.parametrize("text", ["G10 L2 P0 X1", "G10 L2 P10 X1", "G10 P1 X1", "G10 L2 X1"])
def test_g10_refuses_what_the_report_does_not_have(text):  # [3.5.5]
    assert len(run(text).unread) == 1


def test_g43_needs_a_whole_h_number():  # [3.5.11]
    assert "whole number" in sole_why(run("G43 H1.5"))


def test_g43_without_h_is_refused():  # [3.5.11]
    assert "without H" in sole_why(run("G43"))


def test_a_change_of_length_offset_leaves_the_height_unknown():
    assert run("G0 X1 Z5\nG43 H2\nG0 Z9").motions.start_known[1].tolist() == [True, False, False]


def test_length_offset_is_carried_by_every_motion():  # [3.5.11]
    assert run("G43 H7\nG0 Z1\nG49\nZ2").motions.length_offset.tolist() == [7, 0]


def test_a_probing_move_is_named_and_not_simulated():
    assert "probe" in sole_why(run("G38.2 Z-5"))


def test_incremental_moves_add_up():  # [3.5.17]
    assert ends(run("G0 X1 Y1 Z1\nG91\nG1 X2\nY3 Z-1")) == [(1, 1, 1), (3, 1, 1), (3, 4, 0)]


def test_each_motion_starts_where_the_last_one_ended():
    motions = run("G0 X1\nG1 Y2\nG3 X2 Y3 I0 J1\nG92 X0\nG1 X5").motions
    assert np.array_equal(motions.start[1:], motions.end[:-1])


def test_a_feed_move_without_any_feed_is_told_once_for_its_stretch():
    told = read("G21 G90 G54 G1 X1\nX2\nX3 F5\nX4")
    assert [(entry.line, entry.code) for entry in told.unread] == [(1, "feed-not-stated")]
    assert moves(told)[0] == ("feed", (1.0, 0.0, 0.0))
