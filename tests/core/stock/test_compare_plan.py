"""What a comparison expects of one setup among others: directions, taps, drill points, broken edges, the stock."""

from functools import cache

import numpy as np
import pytest

from shopflow.core import nc, solid
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.stock import shapes
from shopflow.core.stock.compare_expected import Cause
from shopflow.core.stock.compare_plan import OtherSetups, compare_setup, expected_of, is_seen, part_in
from shopflow.core.stock.compare_samples import samples_of
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.removal import Conditions, remove
from shopflow.core.types import Placement, Tool, ToolShape
from tests.core.solid import parts
from tests.core.stock.planted import BLANK, CLEAN, TOOLS, planted

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
CLEAN_LINES = planted(()).text
TAP = Tool(20, "M5 tap", ToolShape.TAP, 5.0, pitch_mm=0.8, flute_length_mm=20.0)
SMALL = Tool(21, "4.2 mm drill", ToolShape.DRILL, 4.2, point_angle_deg=118.0, flute_length_mm=40.0)
EDGES = Tool(22, "chamfer mill", ToolShape.CHAMFER, 8.0, point_angle_deg=90.0, flute_length_mm=6.0)
SLIM = Tool(23, "2 mm end mill", ToolShape.FLAT, 2.0, flute_length_mm=10.0)
EVERY = TOOLS | {tool.number: tool for tool in (TAP, SMALL, EDGES, SLIM)}


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    folder = tmp_path_factory.mktemp("parts")

    @cache
    def of(name):
        return solid.read(parts.write(SHAPES[name](), folder / f"{name}.step"), deflection_mm=0.005)

    return of


def _plate_with_blind_hole():
    return parts.cut(parts.box(30, 30, 12), parts.cylinder(2.1, 8, (15, 15, 4)))


def _planted():
    from tests.core.stock import planted as whole

    return whole.shape()


SHAPES = {"planted": _planted, "plate": lambda: parts.box(30, 30, 12), "blind": _plate_with_blind_hole}


def compared(reading, text, *, blank=BLANK, others=None, begun=None, edge_break=0.5, pitch=0.4):
    program = nc.read(text.encode(), tools=EVERY)
    assert program.unread == ()
    stock = begun or shapes.box(grid_over(blank, pitch), blank)
    conditions = Conditions(TYPICAL_MACHINE, threads=1)
    removal = remove(stock, program.motions, EVERY, conditions)
    part = part_in(reading, reading.mesh, Placement(), removal.grid)
    return compare_setup(
        part, stock, removal, program.motions, EVERY, conditions,
        others=others or OtherSetups(), edge_break_mm=edge_break,
    )  # fmt: skip


def causes(found):
    return {patch.cause for patch in found.patches}


def without(tag):
    """The clean program without the line of a tag."""
    lines = [line.split("|", 1) for line in CLEAN.split("\n")]
    return "\n".join(words for name, words in lines if name.strip(":") != tag)


PLATE = ((0.0, 0.0, 0.0), (30.0, 30.0, 12.0))
START = "G17 G21 G90 G94 G54\n"


def goes(tool, *words):
    return START + "\n".join([f"T{tool} M6", "S3000 M3", *words, "G0 Z60", "M30"])


@pytest.fixture(scope="module")
def seen(read):
    reading = read("planted")
    part = part_in(reading, reading.mesh, Placement(), grid_over(BLANK, 0.4))
    samples = samples_of(part.model, part.surface)
    return samples, {way: is_seen(samples, part.model, way) for way in (UP, DOWN)}


def test_a_floor_is_seen_from_above_and_never_from_below(seen):
    samples, ways = seen
    floors = samples.normals[:, 2] > 0.9
    assert ways[UP][floors].mean() > 0.99 and not ways[DOWN][floors].any()


def test_an_outer_wall_is_seen_from_both_sides(seen):
    samples, ways = seen
    wall = (samples.points[:, 1] < 1e-6) & (samples.points[:, 2] < 11.0)
    assert ways[UP][wall].mean() > 0.95 and ways[DOWN][wall].mean() > 0.95


def test_a_pocket_wall_is_not_seen_from_below(seen):
    samples, ways = seen
    wall = (np.abs(samples.points[:, 0] - 8.0) < 1e-6) & (samples.normals[:, 0] > 0.9)
    assert wall.any() and ways[UP][wall].mean() > 0.9 and not ways[DOWN][wall].any()


def test_the_side_that_a_later_setup_looks_at_is_left_to_it(read):
    high = ((0.0, 0.0, -5.0), BLANK[1])
    deeper = CLEAN_LINES.replace("Z-2.5 R14", "Z-8 R14")
    assert Cause.LEFT not in causes(compared(read("planted"), deeper, blank=high, others=OtherSetups(later=(DOWN,))))


def test_the_same_stock_is_left_where_no_setup_follows(read):
    high = ((0.0, 0.0, -5.0), BLANK[1])
    assert compared(read("planted"), CLEAN_LINES, blank=high).stock_left_mm == pytest.approx(5.0, abs=0.01)


def test_a_blind_hole_that_nobody_drilled_is_missed_though_the_part_is_turned_over_later(read):
    found = compared(read("planted"), without("third blind hole"), others=OtherSetups(later=(DOWN,)))
    assert [one.kind for one in found.untouched] == ["hole"]


def test_a_through_hole_may_still_be_drilled_from_the_other_side(read):
    found = compared(read("planted"), without("second through hole"), others=OtherSetups(later=(DOWN,)))
    assert found.untouched == () and Cause.LATER in causes(found)


def test_what_a_setup_that_was_not_simulated_looks_at_is_not_judged(read):
    found = compared(read("planted"), goes(3, "G0 X70 Y70", "G0 Z30"), others=OtherSetups(unknown=(UP, DOWN)))
    assert causes(found) == {Cause.LATER}


def test_what_is_missing_from_the_blank_already_is_no_gouge(read):
    low = shapes.box(grid_over(PLATE, 0.4), (PLATE[0], (30.0, 30.0, 11.5)))
    found = compared(read("plate"), goes(3, "G0 X15 Y15", "G0 Z30"), begun=low)
    assert causes(found) == {Cause.BEFORE}


def test_the_same_depth_cut_by_this_program_is_a_gouge(read):
    found = compared(read("plate"), goes(3, "G0 X15 Y15", "G0 Z15", "G1 Z11.5 F300"), blank=PLATE)
    assert found.gouge_mm == pytest.approx(0.5, abs=1e-4)


def test_a_tapped_hole_is_no_gouge(read):
    drilled = "\n".join(["G0 X15 Y15", "G0 Z15", "G1 Z4 F200", "G0 Z30"])
    tapped = "\n".join(["T20 M6", "S300 M3", "G0 X15 Y15", "G0 Z15", "G1 Z6 F240", "G1 Z15"])
    found = compared(read("blind"), goes(21, drilled, tapped), blank=PLATE)
    assert Cause.GOUGE not in causes(found) and Cause.THREAD in causes(found)


class TestThreadsDrawnAtTheirMajorDiameter:
    """An M5 is 5.0 mm across and tapped from a hole of 4.2 (tap drill of a 75 % thread; common practice, no source)."""

    def threads(self, *, tools="", **given):
        from tests.core.planning.parts import a_hole, a_reading

        reading = a_reading(holes=(a_hole(15.0, 15.0, diameter_mm=5.0),))
        rows = nc.read(goes(21, "G0 X15 Y15", "G0 Z15", "G1 Z-3 F200", "G0 Z30", tools).encode()).motions
        found = expected_of(reading, Placement(), rows, EVERY, work_offset=1, edge_break_mm=0.0, **given)
        return dict(found.threads)

    def test_a_drilled_hole_is_one_to_be_tapped_by_hand(self):
        assert self.threads(shows_majors=True) == {7: pytest.approx(0.4)}

    def test_it_is_not_where_nobody_said_that_the_model_shows_majors(self):
        assert self.threads() == {}

    def test_a_hole_tapped_here_keeps_the_depth_of_its_tap(self):
        tap = "T20 M6\nS300 M3\nG0 X15 Y15\nG0 Z15\nG1 Z-3 F240\nG1 Z15"
        assert self.threads(shows_majors=True, tools=tap) == {7: pytest.approx(0.5413 * 0.8, abs=1e-4)}


def blind(tip):
    return goes(21, "G0 X15 Y15", "G0 Z15", f"G1 Z{tip} F200", "G0 Z15")


@pytest.mark.parametrize("tip", [4.0, 4.0 - 1.2618])
def test_the_point_of_a_drill_in_a_hole_drawn_flat_is_no_fault(read, tip):
    """1.2618 mm: half of 4.2 mm over the tangent of half of 118 degrees."""
    found = compared(read("blind"), blind(tip), blank=PLATE)
    assert causes(found) == {Cause.POINT}


def test_a_hole_drawn_flat_that_is_deeper_than_its_drill_explains_is_a_gouge(read):
    assert compared(read("blind"), blind(4.0 - 1.2618 - 0.3), blank=PLATE).gouge_mm > 1.2


CHAMFER = ("G0 X-10 Y-0.2", "G0 Z15", "G1 Z11.3 F300", "X40")


def test_an_edge_broken_with_a_chamfer_mill_is_no_gouge(read):
    assert causes(compared(read("plate"), goes(22, *CHAMFER), blank=PLATE, pitch=0.2)) == {Cause.EDGE}


def test_the_shop_says_how_far_an_edge_may_be_broken(read):
    assert Cause.GOUGE in causes(compared(read("plate"), goes(22, *CHAMFER), blank=PLATE, pitch=0.2, edge_break=0.2))


def test_a_small_mill_elsewhere_does_not_make_corners_of_a_larger_one_a_fault(read):
    elsewhere = CLEAN_LINES.replace("M30", "T23 M6\nG0 X11 Y12\nG0 Z22\nG1 Z12 F300\nG0 Z60\nM30")
    assert {Cause.LEFT, Cause.GOUGE} & causes(compared(read("planted"), elsewhere)) == set()


def test_the_clean_program_of_a_part_with_one_setup_has_nothing_to_explain_but_its_corners(read):
    assert causes(compared(read("planted"), CLEAN_LINES)) == {Cause.CORNER}
