"""The traveler's picture along the spindle: X+ of the machine points right and Y+ up, whichever way the part stands."""

from dataclasses import replace

import pytest

from shopflow.core.planning import AXES, directions_along_x
from shopflow.core.planning.placement import rotation, turn
from shopflow.core.solid import Drawing
from shopflow.papers.pictures import on_axis, views_of, zero_mark

POINT = (3.0, 5.0, 7.0)


@pytest.mark.parametrize(("up", "along_x"), [(up, along_x) for up in AXES for along_x in directions_along_x(up)])
def test_the_picture_is_turned_as_the_part_is_on_the_machine(up, along_x):
    flat, _ = views_of(up, along_x)
    assert flat.place(POINT) == pytest.approx(turn(rotation(up, along_x), POINT)[:2])


@pytest.mark.parametrize("up", AXES)
def test_where_nobody_said_what_lies_along_x_the_usual_view_is_drawn(up):
    assert views_of(up, "")[0].towards == AXES[up]


@pytest.fixture
def square():
    """A drawing from above of a square of 100 mm whose lower left corner is the model's origin."""
    edge = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0), (0.0, 0.0))
    return Drawing(views_of("+Z", "+X")[0], visible=(edge,), hidden=(), smooth=())


def test_part_zero_is_marked_where_it_lies_on_paper(square):
    assert 'cx="30.000" cy="80.000"' in zero_mark(square, (30.0, 20.0, 5.0))


@pytest.mark.parametrize("zero", [None, (300.0, 20.0, 0.0)])
def test_a_part_zero_that_is_unknown_or_off_the_paper_is_not_marked(square, zero):
    assert zero_mark(square, zero) == ""


def test_what_is_drawn_a_hair_off_the_axis_has_the_sizes_of_the_part_again(square):
    off = replace(square, visible=(((-0.0004, 0.0), (100.0008, 0.0), (100.0008, 40.0006), (-0.0004, 40.0006)),))
    seen = on_axis(off, views_of("+Z", "+X")[0], ((0.0, 0.0, 0.0), (100.0, 40.0, 25.0)))
    low, high = seen.box()
    assert (*low, *high) == pytest.approx((0, 0, 100, 40), abs=1e-9)


def test_a_drawing_of_one_solid_is_not_stretched_to_the_box_of_several(square):
    seen = on_axis(square, views_of("+Z", "+X")[0], ((0.0, 0.0, 0.0), (250.0, 100.0, 25.0)))
    assert seen.visible == square.visible
