"""Line drawings: what is seen and hidden, where it lies on paper, and the SVG that is made of it."""

import math
import xml.etree.ElementTree as ElementTree

import pytest

from shopflow.core import solid
from shopflow.core.solid.drawing import STANDARD, Drawing, View
from tests.core.solid import parts

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def block(tmp_path_factory):
    """A block of 60 × 40 × 20 mm with a blind hole of 10 mm in its top and its lowest corner at (5, -7, 3)."""
    shape = parts.cut(parts.box(60, 40, 20, (5, -7, 3)), parts.drill(10, 12, (35, 13, 23)))
    return parts.write(shape, tmp_path_factory.mktemp("drawn") / "block.step")


@pytest.fixture(scope="module")
def drawings(block):
    return {drawing.view.name: drawing for drawing in solid.draw(block)}


def test_there_are_six_standard_views_and_an_isometric_one(drawings):
    assert list(drawings) == ["front", "back", "left", "right", "top", "bottom", "isometric"]
    assert all(drawing.is_exact for drawing in drawings.values())


@pytest.mark.parametrize(
    ("view", "low", "high"),
    [
        ("front", (5, 3), (65, 23)),
        ("back", (-65, 3), (-5, 23)),
        ("right", (-7, 3), (33, 23)),
        ("left", (-33, 3), (7, 23)),
        ("top", (5, -7), (65, 33)),
        ("bottom", (5, -33), (65, 7)),
    ],
)
def test_a_view_lies_where_the_part_lies(drawings, view, low, high):
    box = drawings[view].box()
    assert box[0] == pytest.approx(low, abs=1e-3) and box[1] == pytest.approx(high, abs=1e-3)


def test_a_hole_s_wall_is_hidden_from_the_front_and_its_mouth_seen_from_the_top(drawings):
    assert len(drawings["front"].visible) == 4 and len(drawings["front"].hidden) >= 4
    rim = [point for line in drawings["top"].visible for point in line if math.dist(point, (35, 13)) < 10]
    assert len(rim) > 12
    assert all(math.dist(point, (35, 13)) == pytest.approx(5, abs=0.02) for point in rim)


def test_the_bottom_view_hides_a_blind_hole(drawings):
    assert len(drawings["bottom"].visible) == 4


@pytest.mark.parametrize("view", STANDARD, ids=lambda view: view.name)
def test_paper_axes_are_square_to_each_other_and_to_the_eye(view):
    dots = [sum(a * b for a, b in zip(one, other, strict=True)) for one, other in ((view.flat_right, view.up),)]
    dots.append(sum(a * b for a, b in zip(view.up, view.towards, strict=True)))
    assert dots == pytest.approx([0, 0], abs=1e-12)


def test_exact_lines_that_take_too_long_give_way_to_quick_ones(block):
    (drawing,) = solid.draw(block, views=[STANDARD[0]], limits=solid.Limits(view_s=0.0))
    assert not drawing.is_exact
    assert drawing.box()[1] == pytest.approx((65, 23), abs=1e-3)


def test_any_other_direction_can_be_drawn(block):
    (drawing,) = solid.draw(block, views=[View("slanted", (1, 2, 3), (1, 0, 0))])
    assert drawing.visible


def test_a_drawing_survives_json(drawings):
    assert Drawing.from_json(drawings["isometric"].to_json()) == drawings["isometric"]


def texts(picture):
    return [element.text for element in ElementTree.fromstring(picture).iter(f"{SVG}text")]


def test_the_svg_shows_overall_sizes_in_either_unit(drawings):
    assert texts(solid.svg(drawings["front"])) == ["60.00", "20.00"]
    assert texts(solid.svg(drawings["front"], unit="in")) == ["2.362", "0.787"]


def test_a_slanted_view_shows_no_sizes_since_they_would_be_the_paper_s(drawings):
    assert texts(solid.svg(drawings["isometric"])) == []


def test_holes_that_open_to_the_eye_get_a_balloon(drawings, block):
    holes = solid.read(block).holes
    top, front = drawings["top"], drawings["front"]
    assert "1" in texts(solid.svg(top, balloons=solid.hole_balloons([holes], top.view)))
    assert solid.hole_balloons([holes], front.view) == []


def test_balloons_do_not_cover_one_another(drawings):
    balloons = [solid.Balloon(str(number), (35.0, 13.0, 23.0)) for number in range(5)]
    tree = ElementTree.fromstring(solid.svg(drawings["top"], balloons=balloons))
    centres = [(float(c.get("cx")), float(c.get("cy"))) for c in tree.iter(f"{SVG}circle")]
    radius = float(next(tree.iter(f"{SVG}circle")).get("r"))
    pairs = [(a, b) for i, a in enumerate(centres) for b in centres[i + 1 :]]
    assert len(pairs) == 10 and all(math.dist(a, b) > 2 * radius for a, b in pairs)


def test_the_svg_has_no_style_or_script_and_escapes_what_it_is_told(drawings):
    picture = solid.svg(drawings["top"], title="<script>alert(1)</script>", balloons=[solid.Balloon("<b>", (0, 0, 0))])
    tree = ElementTree.fromstring(picture)
    assert tree.find(f"{SVG}title").text == "<script>alert(1)</script>"
    assert not [element for element in tree.iter() if element.tag.endswith(("script", "style")) or element.get("style")]
