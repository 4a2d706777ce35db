"""Where jaws, parallels and bed lie from what a plan says of a vise."""

import pytest

from shopflow.core.stock.holding import Vise, table, vise_solids

STOCK = ((-40.0, -30.0, -25.0), (40.0, 30.0, 1.0))
VISE = Vise(jaws_along=0, grip_mm=6.0, jaw_length_mm=150.0, jaw_thick_mm=20.0, parallel_height_mm=30.0,
            parallel_thick_mm=8.0)  # fmt: skip


def boxes(vise):
    return {solid.name: solid.box for solid in vise_solids(vise, STOCK)}


def test_jaws_stand_as_high_as_they_grip_and_close_on_both_sides():
    found = boxes(VISE)
    assert found["front jaw"] == ((-75.0, -50.0, -55.0), (75.0, -30.0, -19.0))
    assert found["back jaw"] == ((-75.0, 30.0, -55.0), (75.0, 50.0, -19.0))


def test_jaws_along_y_close_from_left_and_right():
    turned = Vise(jaws_along=1, grip_mm=6.0, jaw_length_mm=150.0, jaw_thick_mm=20.0)
    assert boxes(turned)["right jaw"] == ((40.0, -75.0, -25.0), (60.0, 75.0, -19.0))


def test_parallels_lie_under_the_stock_at_each_jaw():
    tops = [solid.box for solid in vise_solids(VISE, STOCK) if solid.name == "parallel"]
    assert [(low[1], high[1], high[2]) for low, high in tops] == [(-30.0, -22.0, -25.0), (22.0, 30.0, -25.0)]


def test_the_bed_lies_a_parallel_under_the_stock():
    assert boxes(VISE)["bed of the vise"][1][2] == -55.0


def test_without_parallels_the_stock_stands_on_the_bed():
    bare = Vise(jaws_along=0, grip_mm=6.0, jaw_length_mm=150.0, jaw_thick_mm=20.0)
    assert boxes(bare).keys() == {"front jaw", "back jaw", "bed of the vise"}
    assert boxes(bare)["bed of the vise"][1][2] == -25.0


@pytest.mark.parametrize("under", [0.0, 12.0])
def test_the_table_lies_under_what_the_stock_stands_on(under):
    assert table(STOCK, under).box[1][2] == -25.0 - under
