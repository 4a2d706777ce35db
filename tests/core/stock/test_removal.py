"""What a run says of each motion: engagement, rapids, workholding, shank and holder, air cuts, stretches."""

import math
from dataclasses import replace

import numpy as np
import pytest

from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.errors import NotPossible
from shopflow.core.stock import air, checkpoints, profile
from shopflow.core.stock.columns import largest_difference
from shopflow.core.stock.lines import by_line
from shopflow.core.stock.loads import LOAD_NAMES, loads_by_line, loads_of
from shopflow.core.stock.moves import Unswept, moves_of
from shopflow.core.stock.removal import joined, remove
from shopflow.core.types import ControlProfile, Holder, Material, Tool, ToolShape
from tests.core.stock.cutting_help import BALL, FLAT, block, conditions, motions, run

JAW = ((-10.0, -5.0, 0.0), (0.0, 35.0, 13.0))
HELD = replace(FLAT, flute_length_mm=12.0, stickout_mm=14.0, shank_diameter_mm=6.0, holder=Holder("h", ((0.0, 24.0),)))


def of_line(removal, text, lines):
    """The row of the motion that a line of the program makes."""
    number = 6 + lines.split("\n").index(text) + 1
    return int(np.flatnonzero(motions(lines).line == number)[0])


def at(removal, text, lines, name):
    return float(getattr(removal, name)[of_line(removal, text, lines)])


@pytest.fixture(scope="module")
def cut():
    return run(TestEngagement.lines)


@pytest.fixture(scope="module")
def runs():
    """A program over the smallest and the largest blank."""
    thick = ((0.0, 0.0, 0.0), (40.0, 30.0, 16.0))
    return [run(TestAirCuts.lines), run(TestAirCuts.lines, columns=block(solid=thick))]


class TestEngagement:
    lines = "G0 X20 Y15\nG1 Z9\nX50\nX-10\nY18.5\nX51\nG0 Z40\nG0 X12 Y-1.25\nG0 Z18\nG1 Z12\nX30"

    def test_a_plunge_is_direct_as_deep_as_it_goes(self, cut):
        assert at(cut, "G1 Z9", self.lines, "plunge_mm") == pytest.approx(6.0, abs=1e-4)

    def test_a_slot_is_as_deep_and_as_wide_as_the_tool_goes(self, cut):
        assert at(cut, "X-10", self.lines, "axial_mm") == pytest.approx(6.0, abs=1e-4)
        assert at(cut, "X-10", self.lines, "radial_mm") == pytest.approx(6.0, abs=0.2)

    def test_a_pass_beside_it_is_as_wide_as_its_step_over(self, cut):
        assert at(cut, "X51", self.lines, "radial_mm") == pytest.approx(3.5, abs=0.2)

    def test_a_pass_along_the_edge_is_as_wide_as_what_it_covers(self, cut):
        assert at(cut, "X30", self.lines, "radial_mm") == pytest.approx(1.75, abs=0.2)

    def test_a_pass_takes_its_depth_times_width_times_length(self, cut):
        assert at(cut, "X51", self.lines, "volume_mm3") == pytest.approx(6.0 * 3.5 * 40.0, rel=0.02)

    def test_a_move_that_is_no_plunge_plunges_nothing(self, cut):
        assert at(cut, "X-10", self.lines, "plunge_mm") == 0.0


def test_a_spring_pass_thinner_than_the_grid_has_its_width():
    lines = "G0 X-10 Y-2.6 Z5\nG1 X50\nG0 Z40\nG0 X-10 Y-2.55\nG0 Z5\nG1 X51\nG0 Z40"
    cut = run(lines)
    assert at(cut, "G1 X51", lines, "radial_mm") == pytest.approx(0.05, abs=1e-4)


def test_a_helical_ramp_is_as_deep_as_its_pitch():
    lines = "G0 X23 Y15 Z16\nG3 X23 Y15 I-3 J0 Z14\nG3 X23 Y15 I-3 J0 Z13\nG3 X23 Y15 I-3 J0 Z12"
    cut = run(lines)
    assert at(cut, "G3 X23 Y15 I-3 J0 Z12", lines, "axial_mm") == pytest.approx(1.0, abs=0.05)


class TestRapids:
    def test_a_rapid_through_material_is_seen(self):
        lines = "G0 X20 Y15\nG0 Z10"
        assert np.flatnonzero(run(lines).rapid_touched(motions(lines))).tolist() == [3]

    def test_a_rapid_out_of_a_cut_along_its_walls_touches_nothing(self):
        lines = "G0 X20 Y15\nG1 Z10\nX25 Y18\nG2 X15 Y12 I-5 J-3\nG0 Z40\nG0 X20\nG0 Z11\nG0 X20.3 Y15.5"
        cut = run(lines)
        assert not cut.rapid_touched(motions(lines))[:8].any()

    def test_a_rapid_that_crosses_over_a_boss_only_by_the_dog_leg_of_its_control_touches_it(self):
        """Straight from (-6, -6, 13) to (46, 15, 30) it is clear; each axis at its own rate it is not."""
        lines = "G0 X-6 Y-6\nG0 Z13\nG0 X46 Y15 Z30"
        fast_x = replace(TYPICAL_MACHINE, rapid_mm_min=(30_000.0, 30_000.0, 2_000.0))
        bent = replace(fast_x, control=ControlProfile(straight_rapids=False))
        assert not run(lines, machine=fast_x).rapid_touched(motions(lines)).any()
        assert run(lines, machine=bent).rapid_touched(motions(lines)).tolist()[-1]

    @pytest.mark.parametrize(("height", "gap"), [(17.0, 2.0), (15.5, 0.5), (18.5, math.inf)])
    def test_how_near_a_rapid_passes_over_material_is_measured(self, height, gap):
        lines = f"G0 Z{height}\nG0 X50 Y15"
        assert run(lines, rapid_clearance_mm=3.0).rapid_gap_mm[-1] == pytest.approx(gap, abs=1e-4)

    def test_how_near_a_rapid_passes_beside_material_is_known_to_the_grid(self):
        lines = "G0 Y-4.5\nG0 Z5\nG0 X50"
        assert run(lines, rapid_clearance_mm=3.0).rapid_gap_mm[-1] == pytest.approx(1.5, abs=0.2)

    def test_a_retract_from_a_cut_is_no_near_miss(self):
        lines = "G0 X20 Y15\nG1 Z10\nG0 Z40"
        assert np.isinf(run(lines, rapid_clearance_mm=3.0).rapid_gap_mm[-1])


class TestHolding:
    def test_a_move_into_a_jaw_names_it_and_how_deep(self):
        lines = "G0 X-8 Y15\nG1 Z14\nZ12.5\nG0 Z40"
        cut = run(lines, workholding=(JAW,))
        assert cut.holding_box.tolist()[-3:] == [-1, 0, 0]
        assert at(cut, "Z12.5", lines, "holding_mm") > 2.9

    def test_a_move_past_a_jaw_touches_nothing(self):
        lines = "G0 X3.01 Y15\nG1 Z5\nY25"
        assert run(lines, workholding=(JAW,)).holding_mm.max() == 0.0

    def test_a_holder_touches_a_jaw_that_its_tool_passes(self):
        lines = "G0 X8 Y15\nG1 Z-3"
        assert run(lines, HELD, workholding=(JAW,)).holding_mm[-1] == pytest.approx(12.0 - 8.0, abs=1e-3)

    def test_the_gap_to_a_jaw_at_rapid_is_exact(self):
        lines = "G0 Y-8.75\nG0 Z5\nG0 X50"
        cut = run(lines, workholding=(JAW,), rapid_clearance_mm=1.0)
        assert cut.holding_gap_mm[-1] == pytest.approx(0.75, abs=1e-6)

    def test_a_ball_beside_an_edge_touches_only_as_wide_as_it_is_there(self):
        lines = "G0 X2.4 Y15\nG1 Z12"
        assert run(lines, BALL, workholding=(JAW,)).holding_mm.max() == 0.0
        assert run(lines, FLAT, workholding=(JAW,)).holding_mm.max() == pytest.approx(0.6, abs=1e-6)

    @pytest.mark.parametrize(("bottom", "overlap"), [(9.0, 0.0), (4.0, 3.0)])
    def test_an_undercut_cutter_goes_by_under_what_overhangs_it(self, bottom, overlap):
        """Its teeth reach from Z5 to Z8, 3 mm under the clamp in the plan; its neck stays beside it."""
        slot = Tool(1, "", ToolShape.SLOT, 12.0, flute_length_mm=3.0, neck_diameter_mm=4.0, stickout_mm=60.0)
        clamp = ((0.0, -9.0, bottom), (60.0, -3.0, 12.0))
        ran = run("G0 Y0\nG0 Z5\nG1 X60", tool=slot, pitch=1.0, workholding=(clamp,))
        assert ran.holding_mm[-1] == pytest.approx(overlap, abs=1e-6)

    @pytest.mark.parametrize(("bottom", "gap"), [(8.4, 0.4), (9.5, 1.0), (8.0, 0.0)])
    def test_an_undercut_cutter_at_rapid_keeps_the_room_up_to_what_overhangs_it(self, bottom, gap):
        """Its teeth reach up to Z8; its neck passes 1 mm beside the clamp."""
        slot = Tool(1, "", ToolShape.SLOT, 12.0, flute_length_mm=3.0, neck_diameter_mm=4.0, stickout_mm=60.0)
        clamp = ((0.0, -9.0, bottom), (60.0, -3.0, 12.0))
        ran = run("G0 Y0\nG0 Z5\nG0 X60", tool=slot, pitch=1.0, workholding=(clamp,), rapid_clearance_mm=2.0)
        assert ran.holding_gap_mm[-1] == pytest.approx(gap, abs=1e-6)


class TestShankAndHolder:
    def test_a_holder_that_goes_into_the_part_is_seen_with_its_depth(self):
        lines = "G0 X20 Y15\nG1 Z3\nZ0.5"
        cut = run(lines, HELD)
        assert at(cut, "G1 Z3", lines, "holder_mm") == 0.0
        assert at(cut, "Z0.5", lines, "holder_mm") == pytest.approx(0.5, abs=1e-4)

    def test_deeper_than_the_flutes_is_seen_with_how_far(self):
        lines = "G0 X20 Y15\nG1 Z3\nZ2"
        cut = run(lines, HELD)
        assert at(cut, "G1 Z3", lines, "past_flutes_mm") == pytest.approx(0.0, abs=1e-4)
        assert at(cut, "Z2", lines, "past_flutes_mm") == pytest.approx(1.0, abs=1e-4)

    def test_deeper_than_the_flutes_is_no_fault_for_a_necked_tool_in_a_wide_pocket(self):
        necked = replace(FLAT, flute_length_mm=4.0, neck_diameter_mm=5.4, stickout_mm=30.0)
        lines = "G0 X20 Y15 Z16\n" + "\n".join(f"G1 Z{z}\nX26\nX20" for z in (13, 10, 7, 4))
        cut = run(lines, necked)
        assert cut.past_flutes_mm.max() == 0.0 and cut.shank_mm.max() == 0.0

    def test_a_shank_wider_than_its_cutter_rubs_the_wall_above(self):
        wide = replace(FLAT, diameter_mm=3.0, flute_length_mm=6.0, shank_diameter_mm=6.0, stickout_mm=20.0)
        lines = "G0 X20 Y15\nG1 Z10\nZ8"
        cut = run(lines, wide)
        assert at(cut, "G1 Z10", lines, "shank_mm") == 0.0
        assert at(cut, "Z8", lines, "shank_mm") == pytest.approx(1.0, abs=1e-4)

    def test_a_cone_of_a_holder_touches_where_it_is_wide_enough(self):
        cone = replace(FLAT, flute_length_mm=30.0, stickout_mm=5.0, holder=Holder("c", ((0.0, 8.0), (10.0, 28.0))))
        cut = run("G0 X20 Y15\nG1 Z6", cone)
        assert cut.holder_mm[-1] == pytest.approx(15.0 - 11.0 - 0.0, abs=0.2)


class TestUnswept:
    def test_each_motion_that_is_not_swept_says_why(self):
        text = "G55\nG0 X0 Y0 Z50\nG54\nG4 P1\nT7 M6\nG0 X5 Y5 Z60\nG1 Z50"
        reasons = run(text).unswept.tolist()
        assert reasons[0] == Unswept.START_NOT_KNOWN
        assert {Unswept.OTHER_OFFSET, Unswept.STANDS_STILL, Unswept.NO_TOOL} <= set(reasons)

    def test_motions_left_out_by_the_caller_say_so(self):
        lines = "G0 X20 Y15\nG1 Z10"
        out = np.array([False, False, False, True])
        cut = remove(block(), motions(lines), {1: FLAT}, conditions(), left_out=out)
        assert cut.unswept.tolist()[-1] == Unswept.LEFT_OUT and cut.columns.volume == block().volume

    def test_a_tool_without_a_diameter_is_refused(self):
        with pytest.raises(NotPossible, match="no diameter"):
            run("G1 Z10", replace(FLAT, diameter_mm=0.0))

    def test_what_columns_cannot_show_of_a_tap_is_said(self):
        assert "thread" in profile.what_is_not_shown(Tool(1, "M6", ToolShape.TAP, 6.0, pitch_mm=1.0))
        assert profile.what_is_not_shown(FLAT) == ""


class TestMoves:
    def test_chords_of_an_arc_keep_to_their_error(self):
        rows = motions("G0 X10 Y0\nG2 X10 Y0 I-10 J0")
        made = moves_of(rows, np.array([3]), TYPICAL_MACHINE, 0.004)
        middle = (made.points[:, :2] + made.points[:, 3:5]) / 2.0
        assert np.hypot(middle[:, 0], middle[:, 1]).min() >= 10.0 - 0.004
        assert np.hypot(made.points[:, 0], made.points[:, 1]) == pytest.approx(10.0)

    def test_a_rapid_on_three_legs_ends_each_axis_at_its_own_rate(self):
        machine = replace(
            TYPICAL_MACHINE, rapid_mm_min=(10_000.0, 10_000.0, 5_000.0), control=ControlProfile(straight_rapids=False)
        )
        made = moves_of(motions("G0 X20 Y0 Z39"), np.array([2]), machine, 0.01)
        assert made.points[:, 3:].tolist() == pytest.approx(np.array([[0.0, 0.0, 39.0], [20.0, 0.0, 39.0]]))

    def test_an_arc_in_another_plane_goes_through_its_top(self):
        """Counter-clockwise from Z towards X, seen from where Y points to (NISTIR 6556 3.5.3)."""
        rows = motions("G0 X0 Y0 Z10\nG18\nG3 X20 Z10 I10 K0")
        made = moves_of(rows, np.array([len(rows) - 1]), TYPICAL_MACHINE, 0.01)
        assert made.points[:, 2].max() == pytest.approx(20.0, abs=0.02)


def test_any_number_of_threads_gives_the_same_material_and_the_same_numbers():
    lines = "G0 X8 Y8 Z16\n" + "\n".join(f"G1 X{8 + k % 20} Y{8 + k % 13} Z{14 - k % 7}" for k in range(60))
    one, two = run(lines, HELD, threads=1), run(lines, HELD, threads=3)
    assert largest_difference(one.columns, two.columns) == 0.0
    for name in ("volume_mm3", "axial_mm", "radial_mm", "holder_mm", "thickest_mm"):
        assert np.array_equal(getattr(one, name), getattr(two, name))


def test_a_set_without_room_grows_and_counts_each_cut_once():
    fine = replace(FLAT, diameter_mm=1.0)
    lines = "G0 X2 Y-5 Z10\n" + "\n".join(f"G1 Y35\nX{2 * k + 4}\nY-5\nX{2 * k + 6}" for k in range(0, 16, 2))
    cut = run(lines, fine)
    assert cut.columns.along(0).capacity == 32
    assert cut.volume_mm3.sum() == pytest.approx(16 * 30.0 * 5.0, rel=0.05)


def test_lines_gather_what_their_motions_did():
    lines = "G0 X10 Y10\nG81 Z5 R17 F100\nX30\nG80"
    drill = Tool(1, "d", ToolShape.DRILL, 5.0, point_angle_deg=118.0)
    gathered = by_line(run(lines, drill), motions(lines))
    holes = gathered.volume_mm3 > 1.0
    assert gathered.line[holes].tolist() == [8, 9]
    assert gathered.plunge_mm[holes] == pytest.approx([10.0, 10.0], abs=1e-3)


class TestAirCuts:
    lines = "G0 X-10 Y15\nG0 Z12\nG1 X50\nG0 Y30\nG0 Z20\nG1 X-10 F200\nG0 Y15\nG0 Z12\nG1 X50"

    def seconds(self):
        return cycle_time(motions(self.lines)).row_s

    def test_passes_over_and_repeated_ones_are_found_with_their_seconds(self, runs):
        found = air.air_cuts(runs, motions(self.lines), self.seconds(), limit_mm3=0.5)
        assert [one.lines for one in found] == [(12, 12), (15, 15)]
        assert found[0].seconds == pytest.approx(60.0 / 200.0 * 60.0, rel=0.01)

    def test_a_pass_that_cuts_the_thickest_blank_is_no_air_cut(self, runs):
        low = "G0 X-10 Y15\nG0 Z15.5\nG1 X50"
        thick = ((0.0, 0.0, 0.0), (40.0, 30.0, 16.0))
        both = [run(low), run(low, columns=block(solid=thick))]
        seconds = cycle_time(motions(low)).row_s
        assert air.air_cuts(both[:1], motions(low), seconds, limit_mm3=0.5)
        assert not air.air_cuts(both, motions(low), seconds, limit_mm3=0.5)

    def test_the_part_is_proved_the_same_without_them(self, runs):
        rows = motions(self.lines)
        found = air.air_cuts(runs, rows, self.seconds(), limit_mm3=0.5)
        rest = (rows, {1: FLAT}, conditions())
        assert air.difference_without(block(), runs[0], *rest, found) <= 1e-5

    def test_a_pass_that_cuts_shows_in_the_proof(self, runs):
        rows = motions(self.lines)
        everything = [air.AirCut(0, len(rows) - 1, (1, 15), 1, 1.0, 0.0)]
        assert air.difference_without(block(), runs[0], rows, {1: FLAT}, conditions(), everything) > 2.0


class Kept(dict):
    """A store that counts what it was asked to keep."""

    saved = 0

    def load(self, key):
        return self.get(key)

    def save(self, key, data):
        self[key] = data
        self.saved += 1


class TestStretches:
    lines = "G0 X8 Y8 Z16\n" + "\n".join(f"G1 X{8 + 2 * k} Y{8 + k % 13} Z{14 - k % 7}" for k in range(9))

    def whole(self, store, lines, every=4):
        run = checkpoints.remove_in_stretches(block(), motions(lines), {1: FLAT}, conditions(), store, every=every)
        return run.removal

    def test_in_stretches_it_is_the_same_as_at_once(self):
        parts, once = self.whole(Kept(), self.lines), run(self.lines)
        assert largest_difference(parts.columns, once.columns) == 0.0
        assert np.array_equal(parts.volume_mm3, once.volume_mm3) and len(parts) == len(once)

    def test_a_change_late_in_the_program_keeps_its_beginning(self):
        store = Kept()
        self.whole(store, self.lines)
        before = store.saved
        changed = self.whole(store, self.lines.replace("X24 Y16", "X24 Y17"))
        assert store.saved == before
        assert largest_difference(changed.columns, run(self.lines.replace("X24 Y16", "X24 Y17")).columns) == 0.0

    def test_a_comment_put_in_changes_no_state(self):
        store = Kept()
        self.whole(store, self.lines)
        before = store.saved
        self.whole(store, "(look here)\n" + self.lines)
        assert store.saved == before

    def test_another_tool_is_another_state(self):
        rows = motions(self.lines)
        one = checkpoints.state_keys(block(1.0), rows, {1: FLAT}, conditions())
        other = checkpoints.state_keys(block(1.0), rows, {1: BALL}, conditions())
        assert one != other and len(one) == 1

    def test_a_damaged_state_is_computed_again(self):
        store = Kept()
        whole = self.whole(store, self.lines)
        for key in store:
            store[key] = store[key][:-5]
        assert largest_difference(self.whole(store, self.lines).columns, whole.columns) == 0.0

    def test_two_parts_joined_are_as_long_as_the_program(self):
        rows = motions(self.lines)
        one = remove(block(), rows, {1: FLAT}, conditions(), end=5)
        two = remove(one.columns, rows, {1: FLAT}, conditions(), begin=5)
        assert len(joined([one, two])) == len(rows)


def test_loads_of_a_slot_are_those_of_the_formulas():
    """P = u Q, with Q = ap ae vf: the numbers of worked example CU-06's formula, on a slot of ours."""
    lines = "G0 X8 Y15\nG1 Z12\nX32"
    tool = replace(FLAT, flute_length_mm=12.0, stickout_mm=25.0, flutes=3)
    rows, steel = motions(lines), Material("steel", "steel", 7850.0, 0.05)
    seconds = cycle_time(rows).row_s
    loads = loads_of(run(lines, tool), rows, seconds, {1: tool}, TYPICAL_MACHINE, steel)
    row = len(rows) - 1
    assert loads.rate_cm3_min[row] == pytest.approx(3.0 * 6.0 * 500.0 / 1000.0, rel=0.02)
    assert loads.power_kw[row] == pytest.approx(0.05 * 9.0, rel=0.02)
    assert loads.tooth_feed_mm[row] == pytest.approx(500.0 / 3000.0 / 3)
    assert loads.chip_mm[row] == loads.tooth_feed_mm[row]
    assert loads.angle_deg[row] == pytest.approx(180.0, abs=25.0)
    assert loads.depth_share[row] == pytest.approx(0.25)
    assert loads.deflection_mm[row] > 0.0
    by_lines = loads_by_line(loads, rows)
    assert [by_lines[name][-1] for name in LOAD_NAMES] == [getattr(loads, name)[row] for name in LOAD_NAMES]


class TestPeaks:
    """What a motion asks where it takes most, against closed forms: its mean says too little of a long one."""

    steel = Material("steel", "steel", 7850.0, 0.05)

    def loads(self, lines, tool=FLAT, **given):
        rows = motions(lines)
        removal = run(lines, tool, **given)
        return removal, loads_of(removal, rows, cycle_time(rows).row_s, {1: tool}, TYPICAL_MACHINE, self.steel)

    def test_a_slot_entered_from_air_half_way_asks_what_a_slot_asks(self):
        """Width 6 and depth 3 mm at 500 mm/min are 9 cm³/min; half of the way is air, and the front runs ahead."""
        removal, loads = self.loads("G0 X-36 Y15\nG0 Z12\nG1 X37")
        assert removal.section_mm2[-1] == pytest.approx(18.0, rel=0.02)
        assert loads.rate_cm3_min[-1] == pytest.approx(9.0, rel=0.03)
        assert loads.mean_rate_cm3_min[-1] == pytest.approx(9.0 * (37.0 + 0.75 * math.pi) / 73.0, rel=0.03)
        assert loads.power_kw[-1] == pytest.approx(0.05 * 9.0, rel=0.03)

    def test_a_wedge_of_growing_depth_asks_what_its_deep_end_asks(self):
        """A flat end goes down 0.15 a mm in X: a mm takes its front, 6 mm wide and d deep, and 0.15 of its whole disc.

        Over the last 3 mm d is 5.325 mm on the mean; a mm in X is 1.011 mm of way.
        """
        removal, loads = self.loads("G0 X-3 Y15\nG0 Z15.45\nG1 X37 Z9.45")
        deep_end = (6.0 * 5.325 + 0.15 * math.pi * 9.0) / math.hypot(1.0, 0.15)
        assert removal.section_mm2[-1] == pytest.approx(deep_end, rel=0.02)
        assert loads.rate_cm3_min[-1] > 1.7 * loads.mean_rate_cm3_min[-1]

    def test_an_even_slot_asks_no_more_where_it_takes_most(self):
        _, loads = self.loads("G0 X8 Y15\nG1 Z12\nX32")
        assert loads.rate_cm3_min[-1] == pytest.approx(loads.mean_rate_cm3_min[-1], rel=0.03)

    def test_a_drill_that_begins_in_air_asks_its_own_section(self):
        tool = Tool(1, "6 mm drill", ToolShape.DRILL, 6.0, point_angle_deg=180.0)
        removal, _ = self.loads("G0 X20 Y15\nG0 Z25\nG1 Z5", tool)
        assert removal.section_mm2[-1] == pytest.approx(math.pi * 9.0, rel=0.03)

    def test_an_arc_is_looked_at_in_stretches_as_well(self):
        """A full circle, the first half of which has nothing before it."""
        removal, loads = self.loads("G0 X-2 Y35\nG0 Z12\nG3 X-2 Y35 I0 J-20\nG0 Z20", FLAT)
        assert loads.rate_cm3_min[-2] > 1.5 * loads.mean_rate_cm3_min[-2]
        assert removal.section_mm2[-2] <= 18.0 * 1.05

    def test_stretches_leave_the_same_material(self):
        lines = "G0 X-10 Y15\nG0 Z12\nG1 X50 Y17 Z11"
        rows = motions(lines)
        whole = moves_of(rows, np.array([len(rows) - 1]), TYPICAL_MACHINE, 0.004)
        cut = moves_of(rows, np.array([len(rows) - 1]), TYPICAL_MACHINE, 0.004, np.array([3.0]))
        assert (len(whole.points), len(cut.points), len(np.unique(cut.stretch))) == (1, 20, 20)
        assert np.allclose(cut.points[0, :3], whole.points[0, :3]) and np.allclose(
            cut.points[-1, 3:], whole.points[0, 3:]
        )

    def test_a_plunge_is_one_stretch(self):
        rows = motions("G0 X20 Y15\nG1 Z0 F100")
        assert len(moves_of(rows, np.array([len(rows) - 1]), TYPICAL_MACHINE, 0.004, np.array([3.0])).points) == 1


def test_a_program_that_moves_nothing_leaves_the_blank():
    rows = motions("G0 X20 Y15")
    cut = remove(block(), rows, {1: FLAT}, conditions(), end=0)
    assert len(cut) == 0 and cut.columns.volume == block().volume


def test_the_vertical_set_alone_says_the_same_of_a_slot():
    lines = "G0 X8 Y15\nG1 Z9\nX32"
    first, full = run(lines, columns=block().vertical_only()), run(lines)
    assert first.axial_mm.tolist() == full.axial_mm.tolist()
    assert first.volume_mm3.sum() == pytest.approx(full.volume_mm3.sum(), rel=0.01)
