"""Material against the model: distances along the normal, reasons, the motion behind each fault.

Closed forms throughout: what a drill, a mill or a plane leaves is known exactly.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from shopflow.core.stock import shapes
from shopflow.core.stock.compare import Cause, compare, with_motions
from shopflow.core.stock.compare_expected import Expected, Feature
from shopflow.core.stock.compare_surface import surface_of
from shopflow.core.stock.from_mesh import from_mesh
from shopflow.core.stock.grid import grid_over
from shopflow.core.types import Placement, Tool, ToolShape
from tests.core.stock.cutting_help import FLAT, block, conditions, motions, run
from tests.core.stock.plain_meshes import TOP, WALL, box_mesh, pocket_mesh, ring_mesh, stepped_mesh

SOLID = ((0.0, 0.0, 0.0), (40.0, 30.0, 15.0))


def material(solid=SOLID, pitch=0.2, cover=SOLID):
    return shapes.box(grid_over(cover, pitch), solid)


def of_face(comparison, face):
    return next(one for one in comparison.faces if one.face == face)


class TestFlatFaces:
    def test_the_same_block_has_no_difference(self):
        found = compare(material(), surface_of(box_mesh(SOLID)))
        assert found.patches == () and np.abs(found.samples.deviation).max() < 1e-5

    def test_samples_stand_for_the_whole_surface(self):
        found = compare(material(), surface_of(box_mesh(SOLID)))
        assert found.samples.area_mm2.sum() == pytest.approx(2 * (40 * 30 + 40 * 15 + 30 * 15), rel=0.02)
        assert found.unmeasured == ()

    @pytest.mark.parametrize(("height", "left"), [(15.3, 0.3), (14.9, -0.1)])
    def test_stock_left_is_above_zero_and_a_gouge_below(self, height, left):
        over = ((0.0, 0.0, 0.0), (40.0, 30.0, 16.0))
        columns = material(((0.0, 0.0, 0.0), (40.0, 30.0, height)), cover=over)
        top = of_face(compare(columns, surface_of(box_mesh(SOLID))), TOP)
        assert top.mean_mm == pytest.approx(left, abs=1e-4)
        assert top.highest_mm + top.lowest_mm == pytest.approx(left, abs=1e-4)
        assert min(top.highest_mm, -top.lowest_mm) == 0.0

    def test_a_model_that_reaches_out_of_the_blank_is_missing_there(self):
        small = ((0.0, 0.0, 0.0), (40.0, 30.0, 10.0))
        top = of_face(compare(material(small, cover=small), surface_of(box_mesh(SOLID))), TOP)
        assert top.lowest_mm == pytest.approx(-5.0, abs=1e-4)

    def test_a_slanted_face_is_measured_along_its_normal(self):
        """A prism whose flank leans 30 degrees from upright, in a block that stands 1 mm beyond it."""
        lean = math.radians(30.0)
        mesh = stepped_mesh([(0, 0), (30, 0), (30 - 15 * math.tan(lean), 15), (0, 15)], 30.0)
        wide = stepped_mesh([(0, 0), (31, 0), (31 - 15 * math.tan(lean), 15), (0, 15)], 30.0)
        columns = from_mesh(grid_over(((0.0, 0.0, 0.0), (32.0, 15.0, 30.0)), 0.2), wide.points, wide.triangles)
        flank = of_face(compare(columns, surface_of(mesh)), 1)
        assert flank.mean_mm == pytest.approx(math.cos(lean), abs=0.01)

    def test_the_model_is_compared_where_it_is_placed(self):
        """Turned a quarter about Z and moved: model X is the setup's Y."""
        turned = Placement((0.0, -1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0), (50.0, 10.0, -2.0))
        solid = ((20.0, 10.0, -2.0), (50.0, 50.0, 13.0))
        found = compare(material(solid, cover=solid), surface_of(box_mesh(SOLID), turned))
        assert found.patches == ()

    def test_the_vertical_set_alone_says_which_faces_it_cannot_measure(self):
        found = compare(material().vertical_only(), surface_of(box_mesh(SOLID)))
        assert len(found.unmeasured) == 4 and found.patches == ()


@pytest.mark.parametrize("place", [(7.03, 5.11), (21.4, 8.7), (33.36, 3.02)])
def test_a_gouge_of_five_hundredths_two_steps_wide_and_long_in_a_wall_is_found(place):
    """The wall at y = 0, from outside, with a flat tool that goes 0.05 mm in over 0.4 by 0.4 mm."""
    x, z = place
    grid = grid_over(SOLID, 0.2)
    columns = shapes.box(grid, SOLID)
    first, second = grid.middles(0)[:, None], grid.middles(2)[None, :]
    inside = (first >= x) & (first <= x + 0.4) & (second >= z) & (second <= z + 0.4)
    taken = shapes.without(columns.along(1), np.where(inside, -1.0, 0.0), np.where(inside, 0.05, 0.0))
    found = compare(replace(columns, sets=(columns.sets[0], taken, columns.sets[2])), surface_of(box_mesh(SOLID)))
    (gouge,) = found.of(Cause.GOUGE)
    assert gouge.face == WALL and gouge.most_mm == pytest.approx(-0.05, abs=1e-4)
    assert gouge.area_mm2 == pytest.approx(0.16, abs=0.001)


class TestBore:
    """A bore of 10 mm through a block, its mesh with a chord error of 0.002 mm."""

    def bored(self, at=(20.0, 15.0), diameter=10.0):
        columns = shapes.plate(grid_over(SOLID, 0.2), SOLID, [shapes.Hole(2, at, diameter)])
        return compare(columns, surface_of(ring_mesh(SOLID, (20.0, 15.0), 10.0, 0.002), chord_mm=0.002))

    def test_a_true_bore_has_no_fault(self):
        assert self.bored().patches == ()

    @pytest.mark.parametrize("diameter", [9.9, 10.08])
    def test_its_size_is_known_to_two_hundredths(self, diameter):
        wall = of_face(self.bored(diameter=diameter), 6)
        assert wall.mean_mm == pytest.approx((10.0 - diameter) / 2, abs=0.003)
        assert max(wall.highest_mm, -wall.lowest_mm) == pytest.approx(abs(10.0 - diameter) / 2, abs=0.01)

    def test_its_place_is_known_to_two_hundredths(self):
        wall = of_face(self.bored(at=(20.06, 15.0)), 6)
        assert wall.highest_mm == pytest.approx(0.06, abs=0.02) and wall.lowest_mm == pytest.approx(-0.06, abs=0.02)
        assert wall.highest_at[0] < 16.0 and wall.lowest_at[0] > 24.0

    def test_a_milled_bore_is_known_to_two_hundredths(self):
        lines = "G0 X22 Y15 Z16\n" + "\n".join(f"G3 X22 Y15 I-2 J0 Z{z}" for z in range(14, -2, -2))
        columns = run(lines + "\nG3 X22 Y15 I-2 J0").columns
        wall = of_face(compare(columns, surface_of(ring_mesh(SOLID, (20.0, 15.0), 10.0, 0.002), chord_mm=0.002)), 6)
        assert wall.highest_mm < 0.02 and wall.lowest_mm > -0.02


class TestUntouched:
    surface = surface_of(ring_mesh(SOLID, (20.0, 15.0), 10.0, 0.01), chord_mm=0.01)
    hole = Feature("hole", "hole of 10 mm", (6,), 5.0)

    def compared(self, columns, **given):
        return compare(columns, self.surface, expected=Expected(features=(self.hole,), **given))

    def test_a_hole_that_nobody_drilled_is_untouched(self):
        found = self.compared(material())
        assert found.untouched == (self.hole,)
        assert {patch.cause for patch in found.patches} == {Cause.UNTOUCHED}

    def test_stock_over_it_reaches_no_further_than_its_other_side(self):
        assert self.compared(material()).stock_left_mm == pytest.approx(10.0, abs=0.05)

    def test_a_hole_drilled_too_small_has_stock_left(self):
        small = shapes.plate(grid_over(SOLID, 0.2), SOLID, [shapes.Hole(2, (20.0, 15.0), 9.0)])
        found = self.compared(small)
        assert found.untouched == () and {patch.cause for patch in found.patches} == {Cause.LEFT}

    def test_a_hole_that_a_later_op_drills_is_no_fault(self):
        found = self.compared(material(), later=frozenset({6}))
        assert found.untouched == () and {patch.cause for patch in found.patches} == {Cause.LATER}
        assert found.stock_left_mm == 0.0

    def test_a_thread_is_no_fault_as_deep_as_it_goes(self):
        """M10 × 1.5 drawn at its major diameter, tapped: its minor diameter is 8.376 mm (ISO 724, from memory)."""
        tapped = shapes.plate(grid_over(SOLID, 0.2), SOLID, [shapes.Hole(2, (20.0, 15.0), 8.376)])
        depth = 0.541266 * 1.5
        assert {one.cause for one in self.compared(tapped, threads={6: depth}).patches} == {Cause.THREAD}
        assert Cause.LEFT in {one.cause for one in self.compared(tapped, threads={6: depth / 2}).patches}


class TestCorners:
    """A square pocket with sharp corners, milled along its walls with 6 mm: what is left lies outside 3 mm discs."""

    lines = "G0 X13 Y13 Z16\nG1 Z9\nX27\nY17\nX13\nY13\nY15\nX27"
    surface = surface_of(pocket_mesh(SOLID, ((10.0, 10.0), (30.0, 20.0)), 9.0))

    def compared(self, **given):
        return compare(run(self.lines).columns, self.surface, expected=Expected(**given))

    def test_what_a_round_tool_leaves_in_a_sharp_corner_is_told_apart(self):
        assert {one.cause for one in self.compared(tool_radius_mm=3.0).patches} == {Cause.CORNER}

    def test_a_smaller_tool_would_have_left_less(self):
        assert Cause.LEFT in {one.cause for one in self.compared(tool_radius_mm=1.5).patches}

    def test_without_a_known_tool_it_is_stock_left(self):
        found = self.compared()
        assert {one.cause for one in found.patches} == {Cause.LEFT}
        assert 1.8 <= found.stock_left_mm <= 3.0  # 3 - √(9 - (3 - x)²) at a distance x up to a pitch from the corner

    def test_an_edge_broken_on_purpose_is_told_from_a_gouge(self):
        chamfer = Tool(1, "c", ToolShape.CHAMFER, 6.0, point_angle_deg=90.0)
        # Tip 1 mm beside the wall and 1.3 mm under the top: a leg of 0.3 mm.
        broken = run("G0 X-10 Y-1 Z20\nG1 Z13.7\nX50", chamfer).columns
        surface = surface_of(box_mesh(SOLID))
        assert {one.cause for one in compare(broken, surface, expected=Expected(edge_break_mm=0.3)).patches} == {
            Cause.EDGE
        }
        assert Cause.GOUGE in {
            one.cause for one in compare(broken, surface, expected=Expected(edge_break_mm=0.2)).patches
        }


class TestMotions:
    lines = "G0 X-10 Y-2.8 Z20\nG0 Z-1\nG1 X50\nG0 Z20\nG0 X20 Y15\nG1 Z14.9\nX25"

    def test_a_gouge_names_the_motion_that_made_it(self):
        cut = run(self.lines)
        found = with_motions(
            compare(cut.columns, surface_of(box_mesh(SOLID))), motions(self.lines), {1: FLAT}, conditions()
        )
        by_line = {int(motions(self.lines).line[patch.motion]): patch for patch in found.of(Cause.GOUGE)}
        assert {9, 12, 13} == set(by_line)
        assert by_line[9].most_mm == pytest.approx(-0.2, abs=1e-4)
        assert by_line[13].most_mm == pytest.approx(-0.1, abs=1e-4)

    def test_stock_left_names_the_motion_that_passed_over_it(self):
        lines = "G0 X-60 Y15 Z20\nG0 Z14.2\nG1 X90"
        wide = Tool(1, "face", ToolShape.FACE, 80.0)
        low = ((0.0, 0.0, 0.0), (40.0, 30.0, 14.0))
        found = with_motions(
            compare(run(lines, wide).columns, surface_of(box_mesh(low))), motions(lines), {1: wide}, conditions()
        )
        (left,) = found.of(Cause.LEFT)
        assert motions(lines).line[left.motion] == 9 and left.most_mm == pytest.approx(0.2, abs=1e-4)

    def test_where_no_cutter_came_no_motion_is_named(self):
        low = ((0.0, 0.0, 0.0), (40.0, 30.0, 14.0))
        found = with_motions(compare(block(), surface_of(box_mesh(low))), motions("G0 X5"), {1: FLAT}, conditions())
        assert [patch.motion for patch in found.patches] == [-1]


def test_the_error_of_the_grid_is_stated():
    found = compare(material(pitch=0.5), surface_of(box_mesh(SOLID), chord_mm=0.01), chord_mm=0.005)
    assert "0.015 mm on curved" in found.error and "0.5 mm apart" in found.error
