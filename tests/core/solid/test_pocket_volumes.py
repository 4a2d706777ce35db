"""Volumes of pockets from their faces, against what Open CASCADE cut out of the block."""

import math

import pytest

from shopflow.core.solid.features import recognise
from shopflow.core.solid.occ import graph as occ_graph
from shopflow.core.solid.occ.measure import volume_mm3
from tests.core.solid import parts
from tests.core.solid.parts import box, cone, cut, cylinder, fillet, fuse, prism

BLOCK = (100.0, 80.0, 30.0)
LID = BLOCK[2]


def is_upright(middle):
    return LID - 10.0 < middle[2] < LID - 1.0


def rounded(shape, radius):
    """Its upright edges with a radius."""
    return fillet(shape, radius, is_upright)


def pocket(x=60.0, y=40.0, deep=12.0, at=(20.0, 20.0), radius=6.0):
    """Reaches a millimetre out of the block, where the cut leaves nothing."""
    made = box(x, y, deep + 4.0, (at[0], at[1], LID - deep))
    return fillet(made, radius, lambda middle: _is_side_edge(middle, deep)) if radius else made


def _is_side_edge(middle, deep):
    return abs(middle[2] - (LID - deep + (deep + 4.0) / 2)) < 1e-6


def floor_filleted(radius):
    return fillet(pocket(deep=12.0, radius=8.0), radius, lambda middle: abs(middle[2] - (LID - 12.0)) < 1e-6)


def slot():
    ends = [cylinder(6.0, 14.0, (x, 40.0, LID - 10.0)) for x in (30.0, 70.0)]
    return fuse(box(40.0, 12.0, 14.0, (30.0, 34.0, LID - 10.0)), *ends)


def of_many_sides():
    return prism([(15, 15), (85, 20), (80, 45), (50, 40), (45, 65), (20, 60)], LID - 9.0, 13.0)


def drafted():
    """A cone's pocket in the middle of a plate: flat floor, wall that leans out by 8 degrees."""
    return cone(20.0, 20.0 + 14.0 * math.tan(math.radians(8)), 14.0, (50.0, 40.0, LID - 10.0))


def open_slot():
    whole = box(40.0, 12.0, 40.0, (70.0, 34.0, -5.0))
    return fuse(whole, cylinder(6.0, 40.0, (70.0, 40.0, -5.0)))


WITH = {
    "rounded corners": [pocket()],
    "sharp corners": [pocket(radius=0.0)],
    "an island as high as the block": [cut(pocket(), box(20.0, 10.0, 30.0, (40.0, 35.0, 10.0)))],
    "a round island lower than the block": [cut(pocket(), cylinder(8.0, 18.0, (50.0, 40.0, 7.0)))],
    "fillets on the floor and round its corners": [floor_filleted(3.0)],
    "another pocket in its floor": [pocket(), pocket(30.0, 20.0, 20.0, (30.0, 30.0), 4.0)],
    "walls at odd angles": [of_many_sides()],
    "a hole in its floor": [pocket(), cylinder(5.0, 60.0, (50.0, 40.0, -10.0))],
    "full round ends": [slot()],
    "two sides open": [box(120.0, 30.0, 20.0, (-10.0, 25.0, LID - 8.0))],
    "one side open": [box(60.0, 30.0, 20.0, (-10.0, 25.0, LID - 8.0))],
    "no floor, round corners": [
        fillet(box(50.0, 30.0, 50.0, (25.0, 25.0, -10.0)), 5.0, lambda m: abs(m[2] - 15.0) < 1e-6)
    ],
    "no floor and an open end": [open_slot()],
}


@pytest.mark.parametrize("name", WITH)
@pytest.mark.parametrize("is_skew", [False, True], ids=["square", "skew"])
def test_pockets_and_holes_hold_what_was_cut_out_of_the_block(name, is_skew):
    """Within a thousandth of Open CASCADE's volume of the block less the part; however the part lies in space."""
    part = cut(box(*BLOCK), *WITH[name])
    gone = math.prod(BLOCK) - volume_mm3(part)
    if is_skew:
        part = parts.turned(part, (0.3, -0.7, 0.5), 47.0, (12.0, -80.0, 5.0))
    found = recognise.everything(occ_graph.build([part], 0.01), None)
    holes = sum(math.pi / 4 * hole.diameter_mm**2 * hole.depth_mm for hole in found.holes)
    assert sum(one.volume_mm3 for one in found.pockets) + holes == pytest.approx(gone, rel=1e-3)


def test_a_pocket_whose_wall_leans_holds_what_was_cut_out_of_the_block():
    """Whether it is told as a hole or as a pocket, a hundredth is far below what roughing minutes can say."""
    part = cut(box(*BLOCK), drafted(), box(60.0, 10.0, 20.0, (20.0, 35.0, LID - 10.0)))
    gone = math.prod(BLOCK) - volume_mm3(part)
    found = recognise.everything(occ_graph.build([part], 0.01), None)
    assert sum(one.volume_mm3 for one in found.pockets) == pytest.approx(gone, rel=1e-2)


def test_the_floor_of_a_pocket_is_measured_with_the_hole_in_it_and_without_its_island():
    part = cut(box(*BLOCK), *WITH["a hole in its floor"])
    [found] = recognise.everything(occ_graph.build([part], 0.01), None).pockets
    assert found.floor_mm2 == pytest.approx(60 * 40 - (4 - math.pi) * 36, rel=1e-6)
