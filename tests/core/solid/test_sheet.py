"""All views on one sheet: where each stands in third angle (ISO 5456-2), sizes and balloons once each."""

import re
import xml.etree.ElementTree as ElementTree

import pytest

from shopflow.core import solid
from shopflow.core.solid.drawing import STANDARD, Drawing
from tests.core.planning.parts import DOWN, FRONT, UP, a_hole

SVG = "{http://www.w3.org/2000/svg}"
CORNERS = [(x, y, z) for x in (0.0, 60.0) for y in (0.0, 40.0) for z in (0.0, 20.0)]


def outline(view):
    """The box of 60 × 40 × 20 mm as seen in a view, drawn by the edges of its shadow's box."""
    xs, ys = zip(*map(view.place, CORNERS), strict=True)
    low, high = (min(xs), min(ys)), (max(xs), max(ys))
    return Drawing(view, ((low, (high[0], low[1]), high, (low[0], high[1]), low),), (), ())


DRAWINGS = [outline(view) for view in STANDARD]
GROUPS = [[a_hole(axis=UP)], [a_hole(axis=FRONT, through=False, position_mm=(30.0, 0.0, 10.0), reach=(FRONT,))]]


def views(picture):
    """For each caption, where its view stands on the sheet."""
    tree = ElementTree.fromstring(picture)
    found = {}
    for group in tree.findall(f"{SVG}g"):
        x, y = map(float, re.findall(r"[-\d.]+", group.get("transform")))
        found[group.findall(f"{SVG}text")[-1].text] = (x, y)
    return found


def texts(picture):
    return [element.text for element in ElementTree.fromstring(picture).iter(f"{SVG}text")]


@pytest.fixture
def places():
    return views(solid.sheet(DRAWINGS, across=True))


@pytest.mark.parametrize(("view", "axis"), [("left", -1), ("right", 1), ("back", 1)])
def test_side_views_stand_level_with_the_front_on_the_side_they_are_seen_from(places, view, axis):
    assert places[view][1] == places["front"][1] and (places[view][0] - places["front"][0]) * axis > 0


@pytest.mark.parametrize(("view", "axis"), [("top", -1), ("bottom", 1)])
def test_top_stands_above_the_front_and_bottom_below(places, view, axis):
    assert places[view][0] == places["front"][0] and (places[view][1] - places["front"][1]) * axis > 0


def test_for_a_narrow_screen_all_views_stand_under_one_another():
    column = views(solid.sheet(DRAWINGS, across=False))
    assert {x for x, _ in column.values()} == {0.0}
    assert len({y for _, y in column.values()}) == 7


def test_each_overall_size_stands_once_on_the_sheet():
    said = texts(solid.sheet(DRAWINGS, across=True))
    assert [said.count(size) for size in ("60.00", "40.00", "20.00")] == [1, 1, 1]


def test_each_size_of_hole_has_one_balloon_on_the_sheet():
    said = texts(solid.sheet(DRAWINGS, across=True, groups=GROUPS))
    assert (said.count("1"), said.count("2")) == (1, 1)


def test_a_hole_that_opens_downwards_only_has_its_balloon_on_the_bottom_view():
    hole = a_hole(axis=DOWN, through=False, position_mm=(10.0, 10.0, 0.0))
    tree = ElementTree.fromstring(solid.sheet(DRAWINGS, across=True, groups=[[hole]]))
    (bottom,) = [group for group in tree.findall(f"{SVG}g") if group.find(f"{SVG}g") is not None]
    assert bottom.findall(f"{SVG}text")[-1].text == "bottom"


def test_nothing_reaches_beyond_the_sheet():
    picture = solid.sheet(DRAWINGS, across=True, groups=GROUPS)
    _, _, width, height = map(float, ElementTree.fromstring(picture).get("viewBox").split())
    assert all(0 <= x <= width and 0 <= y <= height for x, y in views(picture).values())


def test_names_of_views_are_escaped():
    picture = solid.sheet(DRAWINGS, across=True, names={"front": "<b>front</b>"}, title="<i>")
    assert "<b>front</b>" in texts(picture) and "<i>" not in picture


def test_a_hidden_line_of_the_isometric_view_is_left_out():
    iso = outline(STANDARD[6])
    hidden = Drawing(iso.view, iso.visible, (), iso.visible)
    assert "stroke-dasharray" not in solid.sheet([*DRAWINGS[:6], hidden], across=True)


@pytest.mark.parametrize("view", ["front", "top", "left", "bottom"])
def test_a_click_on_a_view_is_found_in_it(places, view):
    tree = ElementTree.fromstring(solid.sheet(DRAWINGS, across=True))
    left, top, wide, high = map(float, tree.get("viewBox").split())
    drawing = next(one for one in DRAWINGS if one.view.name == view)
    (low_x, low_y), (high_x, high_y) = drawing.box()
    x, y = places[view][0] + (high_x - low_x) / 4, places[view][1] + (high_y - low_y) / 2
    found = solid.view_at(DRAWINGS, (x - left) / wide, (y - top) / high)
    assert found == (view, pytest.approx(0.25, abs=1e-3), pytest.approx(0.5, abs=1e-3))


def test_a_click_far_from_every_view_finds_none():
    assert solid.view_at(DRAWINGS, 0.0, 0.0) is None


def test_a_balloon_that_was_placed_stands_on_its_view():
    picture = solid.sheet(DRAWINGS, across=True, pointed={"front": [solid.Pointed("47", 0.5, 0.5)]})
    assert texts(picture).count("47") == 1
