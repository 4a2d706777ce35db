"""Material turned by any angle: against Open CASCADE's solids and manifold3d's, and brought back."""

import math

import numpy as np
import pytest

from shopflow.core.stock import shapes
from shopflow.core.stock.columns import largest_difference
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.shapes import Hole
from shopflow.core.stock.turn import carried_back, inverse, placed
from shopflow.core.types import Placement

BLOCK = ((0.0, 0.0, 0.0), (40.0, 24.0, 16.0))
PITCH = 0.25
ERROR = PITCH * (math.sqrt(0.5) + 0.25)
"""Half the diagonal of a cell, and half of the thickest sliver."""


def about(axis, degrees, origin=(0.0, 0.0, 0.0)):
    turn = math.radians(degrees)
    c, s = math.cos(turn), math.sin(turn)
    rows = {"X": (1, 0, 0, 0, c, -s, 0, s, c), "Y": (c, 0, s, 0, 1, 0, -s, 0, c), "Z": (c, -s, 0, s, c, 0, 0, 0, 1)}
    return Placement(tuple(map(float, rows[axis])), origin)


def compound():
    one, two = (np.array(about(axis, angle).rotation).reshape(3, 3) for axis, angle in (("X", 20.0), ("Z", 35.0)))
    return Placement(tuple((two @ one).reshape(-1).tolist()), (5.0, -3.0, 2.0))


PLACEMENTS = {
    "turned 30 degrees": about("Z", 30.0), "tilted 45 degrees": about("X", 45.0, (1.0, 2.0, 3.0)),
    "on a sine bar": about("Y", 12.5), "compound": compound(),
}  # fmt: skip


@pytest.fixture(params=PLACEMENTS.values(), ids=PLACEMENTS.keys())
def placement(request):
    return request.param


@pytest.fixture(scope="module")
def part():
    """A block with a step and a bore."""
    block = shapes.plate(grid_over(BLOCK, PITCH), BLOCK, (Hole(2, (30.0, 12.0), 10.0),))
    return without_box(block, ((-1.0, -1.0, 10.0), (12.0, 25.0, 17.0)))


def without_box(columns, box):
    """Material with a box taken out, exactly."""
    made = columns.copied()
    for one in made.kept:
        first, second = (axis for axis in range(3) if axis != one.axis)
        a, b = (made.grid.middles(axis) for axis in (first, second))
        inside = ((a > box[0][first]) & (a < box[1][first]))[:, None] & ((b > box[0][second]) & (b < box[1][second]))
        low = np.where(inside, box[0][one.axis], 0.0)
        high = np.where(inside, box[1][one.axis], 0.0)
        shapes.column_kernels.take_out_all(one.count, one.ends, low, high)
    return made


def solid_of_part():
    """The same from Open CASCADE."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    block = BRepPrimAPI_MakeBox(gp_Pnt(*BLOCK[0]), gp_Pnt(*BLOCK[1])).Shape()
    step = BRepPrimAPI_MakeBox(gp_Pnt(-1, -1, 10), gp_Pnt(12, 25, 17)).Shape()
    bore = BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(30, 12, -1), gp_Dir(0, 0, 1)), 5.0, 18.0).Shape()
    return BRepAlgoAPI_Cut(BRepAlgoAPI_Cut(block, step).Shape(), bore).Shape()


def turned_shape(shape, placement):
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Trsf

    r, o = placement.rotation, placement.origin_mm
    move = gp_Trsf()
    move.SetValues(*r[0:3], o[0], *r[3:6], o[1], *r[6:9], o[2])
    return BRepBuilderAPI_Transform(shape, move, True).Shape()


def is_inside(shape, points, tolerance):
    """(n,) 1 inside, 0 on the surface within the tolerance, -1 outside."""
    from OCP.BRepClass3d import BRepClass3d_SolidClassifier
    from OCP.gp import gp_Pnt
    from OCP.TopAbs import TopAbs_IN, TopAbs_OUT

    classifier = BRepClass3d_SolidClassifier(shape)
    found = []
    for point in points.tolist():
        classifier.Perform(gp_Pnt(*point), tolerance)
        found.append({TopAbs_IN: 1, TopAbs_OUT: -1}.get(classifier.State(), 0))
    return np.array(found)


def material_at(columns, axis, points):
    """(n,) whether the column along an axis next to each point has material there."""
    one = columns.along(axis)
    first, second = (number for number in range(3) if number != axis)
    cells = np.floor((points - np.array(columns.origin)) / columns.pitch).astype(int)
    count, ends = one.count[cells[:, first], cells[:, second]], one.ends[cells[:, first], cells[:, second]]
    used = np.arange(one.capacity) < count[:, None]
    height = points[:, axis, None]
    return (used & (ends[..., 0] <= height) & (height <= ends[..., 1])).any(axis=1)


def column_points(columns, axis, count, rng):
    """Points on the middles of columns, anywhere in the grid."""
    cells = np.stack([rng.integers(0, size, count) for size in columns.shape], axis=1)
    points = np.array(columns.origin) + (cells + 0.5) * columns.pitch
    points[:, axis] += rng.uniform(-0.5, 0.5, count) * columns.pitch
    return points


def test_the_volume_is_that_of_open_cascade(part, placement):
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(turned_shape(solid_of_part(), placement), properties)
    assert placed(part, placement).volume == pytest.approx(properties.Mass(), rel=0.003)


@pytest.mark.parametrize("axis", range(3))
def test_beyond_the_stated_error_every_place_is_as_open_cascade_says(part, placement, axis):
    turned = placed(part, placement)
    points = column_points(turned, axis, 400, np.random.default_rng(7 + axis))
    said = is_inside(turned_shape(solid_of_part(), placement), points, turned.turned_mm)
    sure = said != 0
    assert sure.sum() > 200
    assert np.array_equal(material_at(turned, axis, points)[sure], said[sure] > 0)


def test_the_volume_is_that_of_manifold(part, placement):
    import manifold3d

    solid = manifold3d.Manifold.cube([40, 24, 16]) - manifold3d.Manifold.cube([13, 26, 7]).translate([-1, -1, 10])
    solid -= manifold3d.Manifold.cylinder(18, 5, 5, 256).translate([30, 12, -1])
    rows = np.hstack([np.array(placement.rotation).reshape(3, 3), np.array(placement.origin_mm)[:, None]])
    assert placed(part, placement).volume == pytest.approx(solid.transform(rows).volume(), rel=0.003)


def away_from_edges(cells):
    """Cells whose neighbours for two cells around are marked as well: edges are known to the stated error alone."""
    cells[[0, -1]] = cells[:, [0, -1]] = False
    for _ in range(2):
        cells[1:-1, 1:-1] &= cells[:-2, 1:-1] & cells[2:, 1:-1] & cells[1:-1, :-2] & cells[1:-1, 2:]
    return cells


def milled_of(back):
    """Columns in the slot."""
    high = back.along(2).extremes()[1]
    milled = away_from_edges(np.isfinite(high) & (high < 15.9))
    assert milled.sum() > 900
    return milled


def test_faces_square_to_an_axis_keep_their_place_finer_than_the_grid():
    """A block turned about Z: its top and bottom, away from their edges."""
    block = shapes.box(grid_over(BLOCK, PITCH), BLOCK)
    turned = placed(block, about("Z", 30.0))
    low, high = turned.along(2).extremes()
    met = np.isfinite(low)
    met = away_from_edges(met)
    assert met.sum() > 14000
    assert np.abs(high[met] - 16.0).max() <= 0.01 * PITCH
    assert np.abs(low[met]).max() <= 0.01 * PITCH


def test_errors_of_two_turns_are_added_up(part):
    once = placed(part, about("Z", 30.0))
    assert placed(once, about("X", 10.0)).turned_mm == pytest.approx(2 * ERROR)


def test_a_right_angle_adds_nothing(part):
    once = placed(part, about("Z", 30.0))
    assert placed(once, about("X", 90.0)).turned_mm == once.turned_mm


class TestCarriedBack:
    """A slot milled in a setup that is turned, brought back into the part's coordinates."""

    @pytest.fixture
    def result(self):
        stock = shapes.box(grid_over(BLOCK, PITCH), BLOCK)
        placement = about("Z", 30.0)
        begun = placed(stock, placement)
        return stock, carried_back(stock, begun, without_box(begun, ((5.0, 12.0, 9.0), (15.0, 20.0, 20.0))), placement)

    def test_what_it_did_not_touch_stays_exactly_where_it_was(self, result):
        stock, back = result
        low, high = back.along(2).extremes()
        was_low, was_high = stock.along(2).extremes()
        kept = high == was_high
        assert np.array_equal(low, was_low) and 0.85 < kept[np.isfinite(was_low)].mean() < 0.95

    def test_it_leaves_no_skin_over_what_it_took(self, result):
        _, back = result
        assert back.along(2).count[milled_of(back)].max() == 1

    def test_its_floor_is_where_it_was_milled(self, result):
        _, back = result
        high = back.along(2).extremes()[1]
        assert np.abs(high[milled_of(back)] - 9.0).max() <= 0.01 * PITCH

    def test_its_volume_is_the_block_without_the_slot(self, result):
        stock, back = result
        assert stock.volume - back.volume == pytest.approx(10.0 * 8.0 * 7.0, rel=0.01)

    def test_the_error_of_one_turn_is_stated(self, result):
        assert result[1].turned_mm == pytest.approx(ERROR)

    def test_a_setup_that_cuts_nothing_gives_back_the_stock_itself(self):
        stock = shapes.box(grid_over(BLOCK, PITCH), BLOCK)
        placement = compound()
        begun = placed(stock, placement)
        assert largest_difference(stock, carried_back(stock, begun, begun, placement)) == 0.0


def test_a_placement_and_its_inverse_bring_material_back(part):
    placement = about("Y", 90.0, (3.0, 4.0, 5.0))
    again = placed(placed(part, placement), inverse(placement))
    assert np.allclose(again.origin, part.origin)
    assert again.volume == pytest.approx(part.volume)


def test_a_column_that_runs_along_a_slanted_bore_holds_few_pieces():
    """A bore milled at an angle and turned upright: columns stand in its wall, which the old ones know by steps."""
    tilted = about("X", 30.0)
    block = placed(shapes.box(grid_over(BLOCK, PITCH), BLOCK), tilted)
    bored = shapes.drilled(block, Hole(2, (20.0, 6.0), 8.0))
    upright = placed(placed(bored, inverse(tilted)), tilted)
    assert max(one.count.max() for one in upright.kept) <= 24
    assert upright.volume == pytest.approx(bored.volume, rel=0.01)
