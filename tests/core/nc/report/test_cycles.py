"""Canned cycles. Facts: NISTIR 6556, 3.5.16 and 3.5.20; the worked examples of 3.5.16.2."""

from dataclasses import replace

import pytest

from shopflow.core import nc
from tests.core.nc.reading_help import moves, read, run, sole_why

START_AT_1_2_3 = "G0 X1 Y2 Z3\n"
OTHER_INTERPRETER = replace(nc.PLAIN, peck_returns_to_r=True, extra_codes=frozenset({"G73"}))
"""An independent interpreter descended from NIST's goes to R between pecks and has G73."""


def drilled(lines, control=nc.PLAIN, start=START_AT_1_2_3):
    """What the cycle of the last lines does, without the way to the start."""
    program = run(start + lines, control)
    assert not program.unread
    return moves(program)[1:]


def test_example_1_of_g81():  # [3.5.16.2]
    assert drilled("G90 G81 G98 X4 Y5 Z1.5 R2.8") == [
        ("rapid", (4, 5, 3)),
        ("rapid", (4, 5, 2.8)),
        ("feed", (4, 5, 1.5)),
        ("rapid", (4, 5, 3)),
    ]


def test_example_2_of_g81_with_repeats():  # [3.5.16.2]
    expected = [("rapid", (1, 2, 4.8))]
    for x, y in ((5, 7), (9, 12), (13, 17)):
        expected += [("rapid", (x, y, 4.8)), ("feed", (x, y, 4.2)), ("rapid", (x, y, 4.8))]
    assert drilled("G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3") == expected


def test_example_3_of_g83_as_another_interpreter_runs_it():
    program = read("G20 G17 G90 G54 G98 M3 S100\nG0 X0 Y0 Z2\nG83 X1 Y1 Z-1 R.5 Q.6 F10", OTHER_INTERPRETER)
    heights = [(kind, round(end[2] / 25.4, 6)) for kind, end in moves(program)[1:]]
    assert heights == [
        ("rapid", 2), ("rapid", 0.5), ("feed", -0.1), ("rapid", 0.5), ("rapid", -0.09), ("feed", -0.7),
        ("rapid", 0.5), ("rapid", -0.69), ("feed", -1), ("rapid", 2),
    ]  # fmt: skip


def test_g83_goes_up_to_the_clear_level_between_pecks_by_the_report():  # [3.5.16.4]
    heights = [end[2] for kind, end in drilled("G83 X1 Z0 R2 Q1.5") if kind == "rapid"]
    assert heights == [3, 2, 3, 0.754, 3]


def test_example_4_of_g73_as_another_interpreter_runs_it():
    steps = drilled("G98 G73 X4 Z-5 R1 Q2", OTHER_INTERPRETER, start="G0 X1 Y2 Z50\n")
    assert [(kind, end[2]) for kind, end in steps] == [
        ("rapid", 50), ("rapid", 1), ("feed", -1), ("rapid", -0.746), ("feed", -3), ("rapid", -2.746),
        ("feed", -5), ("rapid", 50),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("cycle", "steps"),
    [
        ("G81", ["feed", "rapid"]),
        ("G82 P0.5", ["feed", "dwell", "rapid"]),
        ("G84", ["feed", "feed"]),
        ("G85", ["feed", "feed"]),
        ("G86 P0.5", ["feed", "dwell", "rapid"]),
        ("G88 P0.5", ["feed", "dwell", "rapid"]),
        ("G89 P0.5", ["feed", "dwell", "feed"]),
    ],
)
def test_the_steps_below_r(cycle, steps):  # [3.5.16.2 to 3.5.16.10]
    assert [kind for kind, _ in drilled(f"{cycle} X4 Y5 Z1 R2")[2:]] == steps


def test_back_boring_goes_beside_the_hole_and_up():  # [3.5.16.8]
    steps = drilled("G87 X4 Y5 Z1 R2.5 I0.5 J0 K2")
    assert steps[2:] == [
        ("rapid", (4.5, 5, 2.5)), ("rapid", (4.5, 5, 1)), ("rapid", (4, 5, 1)), ("feed", (4, 5, 2)),
        ("feed", (4, 5, 1)), ("rapid", (4.5, 5, 1)), ("rapid", (4.5, 5, 3)), ("rapid", (4, 5, 3)),
    ]  # fmt: skip


def test_a_tap_comes_up_with_the_spindle_reversed():  # [3.5.16.5]
    motions = run(START_AT_1_2_3 + "G84 X4 Z1 R2").motions
    assert motions.spindle.tolist()[-2:] == [1, -1]


def test_tapping_is_refused_unless_the_spindle_turns_clockwise():  # [3.5.16.5]
    assert "clockwise" in sole_why(run(START_AT_1_2_3 + "M4\nG84 X4 Z1 R2"))


@pytest.mark.parametrize("cycle", ["G86", "G87 I1 J1 K2", "G88"])
def test_a_cycle_that_stops_the_spindle_needs_it_turning(cycle):  # [3.5.16.7]
    assert "spindle stopped" in sole_why(run(START_AT_1_2_3 + f"M5\n{cycle} X4 Z1 R2"))


def test_g88_is_a_stop_for_a_person():  # [3.5.16.9]
    assert [stop.kind for stop in run(START_AT_1_2_3 + "G88 X4 Z1 R2").stops] == ["G88"]


def test_the_way_up_by_hand_of_g88_is_told():  # [3.5.16.9]
    program = run(START_AT_1_2_3 + "G88 X4 Z1 R2")
    assert "retract-by-hand" in {entry.code for entry in program.assumptions}


def test_g99_goes_back_to_r_only():  # [3.5.20]
    assert drilled("G99 G81 X4 Z1 R2")[-1] == ("rapid", (4, 2, 2))


def test_below_r_the_tool_first_rises_to_it():  # [3.5.16.1]
    assert drilled("G81 X4 Z1 R5")[:2] == [("rapid", (1, 2, 5)), ("rapid", (4, 2, 5))]


def test_r_and_z_stay_for_the_next_hole_and_repeats_do_not():  # [3.5.16]
    steps = drilled("G99 G81 X4 Z1 R2 L2\nX5")
    assert [kind for kind, end in steps if end[0] == 5] == ["rapid", "feed", "rapid"]


def test_repeats_under_g90_stay_in_one_place():  # [3.5.16]
    feeds = [end for kind, end in drilled("G99 G81 X4 Z1 R2 L3") if kind == "feed"]
    assert feeds == [(4, 2, 1)] * 3


@pytest.mark.parametrize(
    ("block", "why"),
    [
        ("G81 Z1 R2 L0", "repeated 1 times"),
        ("G81 X4 Z1 R2 L1.5", "whole number"),
        ("G81 X4 Z5 R2", "R lies below"),
        ("G82 X4 Z1 R2 P-1", "negative"),
        ("G83 X4 Z1 R2 Q0", "more than zero"),
        ("G83 X4 Z1 R2 Q-1", "more than zero"),
        ("G83 X4 Z1 R2", "needs a Q"),
        ("G81 R2", "no axis word"),
        ("G81 X4 R2", "no Z word"),
        ("G81 X4 Z1", "no R word"),
        ("G93 G81 X4 Z1 R2 F1", "inverse time"),
        ("G83 X4 Z-9999 R2 Q.001", "pecks"),
    ],
)
def test_what_the_report_forbids_is_refused(block, why):  # [3.5.16]
    assert why in sole_why(run(START_AT_1_2_3 + block))


def test_g80_ends_a_cycle():  # [3.5.15]
    program = run(START_AT_1_2_3 + "G81 X4 Z1 R2\nG80\nG0 X9")
    assert program.motions.cycle.tolist()[-1] == 0


def test_cycles_work_in_the_other_planes():  # [3.5.16]
    assert drilled("G18 G99 G81 X4 Z5 Y1 R1.5")[-3:] == [
        ("rapid", (4, 1.5, 5)),
        ("feed", (4, 1, 5)),
        ("rapid", (4, 1.5, 5)),
    ]


def test_every_motion_carries_its_cycle():
    assert run(START_AT_1_2_3 + "G81 X4 Z1 R2").motions.cycle.tolist() == [0, 81, 81, 81, 81]
