"""What a cut asks of tool and spindle, against the same by hand."""

import math

import pytest

from shopflow.core import nc, review
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.review.simulation import Bench, Place
from shopflow.core.types import Material, Placement, Tool, ToolShape

STEEL = Material("steel 1018", "low carbon steel", 7870.0, 0.0455)
BLOCK = ((0.0, 0.0, -20.0), (60.0, 30.0, 0.0))


def found(lines, tool):
    program = nc.read(f"G17 G21 G90 G94 G54\nT1 M6\nS3000 M3\nG0 X-10 Y15 Z60\nG0 Z5\n{lines}\nG0 Z60\nM30\n".encode())
    seconds = cycle_time(program.motions).row_s
    bench = Bench(program, {1: tool}, TYPICAL_MACHINE, seconds, material=STEEL, memory=300_000)
    (done,) = bench.setups([Place(1, 1, Placement(), BLOCK, BLOCK)], None, None)
    return review.run(
        program, machine=TYPICAL_MACHINE, tools={1: tool}, cut=done.cut, material=STEEL, rules=review.CUT_RULES
    )


def of_code(findings, code):
    return [one for one in findings if one.code == code]


def test_the_power_of_a_slot_is_its_rate_of_removal_times_the_unit_power():
    """12 × 10 × 2000 mm/min is 240 cm³/min; at 0.0455 kW per cm³/min 10.9 kW, whatever of the 74 mm is air.

    The control takes a little longer than way over feed, to speed up and to slow down; the grid is coarse here, so that
    the slot may count as wider by a step.
    """
    lines = "G0 Z-10\nG1 X64 F2000"
    (finding,) = of_code(found(lines, Tool(1, "", ToolShape.FLAT, 12.0, stickout_mm=30.0)), "too-much-power")
    by_hand = 12.0 * 10.0 * 2000.0 / 1000.0 * 0.0455
    assert 0.93 * by_hand < finding.measured < 1.07 * by_hand


def test_a_pass_that_begins_far_out_in_air_is_judged_by_what_it_asks_in_the_material():
    """60 of 364 mm cut: on the mean 1.8 kW, which no spindle minds."""
    lines = "G0 X-300\nG0 Z-10\nG1 X64 F2000"
    (finding,) = of_code(found(lines, Tool(1, "", ToolShape.FLAT, 12.0, stickout_mm=30.0)), "too-much-power")
    assert finding.measured == pytest.approx(12.0 * 10.0 * 2000.0 / 1000.0 * 0.0455, rel=0.07)
    assert "on the mean" in finding.message


def test_a_slot_within_the_power_is_no_finding():
    assert of_code(found("G0 Z-2\nG1 X70 F600", Tool(1, "", ToolShape.FLAT, 12.0)), "too-much-power") == []


def test_a_slender_tool_bends_and_a_short_one_does_not():
    slot = "G0 Z-3\nG1 X70 F300"
    slender, short = (Tool(1, "", ToolShape.FLAT, 4.0, stickout_mm=out, flute_length_mm=12.0) for out in (40.0, 14.0))
    assert of_code(found(slot, slender), "tool-bends") and not of_code(found(slot, short), "tool-bends")


def test_a_ball_that_only_touches_with_its_tip_is_not_said_to_bend():
    ball = Tool(1, "", ToolShape.BALL, 6.0, corner_radius_mm=3.0, stickout_mm=30.0, flute_length_mm=12.0)
    waves = "\n".join(f"X{n * 0.5:.1f} Z{-0.6 + 0.5 * math.sin(n / 9):.3f}" for n in range(130))
    assert of_code(found(f"G1 Z0 F900\n{waves}", ball), "tool-bends") == []


@pytest.mark.parametrize(("way", "steep"), [("X30 Z-2", False), ("X12 Z-4", True)])
def test_a_ramp_is_steep_by_its_angle(way, steep):
    findings = found(f"G1 X5 Z0 F300\n{way}", Tool(1, "", ToolShape.FLAT, 10.0))
    assert bool(of_code(findings, "ramps-too-steep")) == steep
