"""What each of the six sides sees of a face, and how far a face reaches."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.core.orientation import AXES
from shopflow.core.solid.features.cells import Cells
from shopflow.core.solid.features.sight import Sight
from tests.core.solid import parts

NAMES = tuple(AXES)


def sides(place):
    return {name for bit, name in enumerate(NAMES) if place >> bit & 1}


@pytest.fixture(scope="module")
def slotted(read_shape):
    """A block 60 × 40 × 20 with a T-slot along X: 8 wide and 8 deep, then 16 wide and 5 high."""
    neck, head = parts.box(60, 8, 8, at=(0, 16, 12)), parts.box(60, 16, 5, at=(0, 12, 7))
    return read_shape(parts.cut(parts.box(60, 40, 20), neck, head))


def faces_at(reading, axis, level, normal):
    return [
        face
        for face in reading.faces
        if face.low_mm[axis] == pytest.approx(level) == face.high_mm[axis]
        and face.normal[axis] == pytest.approx(normal)
    ]


def test_the_top_is_seen_from_above_and_along_itself_and_never_from_below(slotted):
    (top, *_) = faces_at(slotted, 2, 20.0, 1.0)
    assert all({"+Z"} <= sides(place) <= {"+Z", "+X", "-X", "+Y", "-Y"} for place in top.seen)


def test_the_roof_of_a_t_slot_is_seen_from_its_open_ends_only(slotted):
    roofs = faces_at(slotted, 2, 12.0, -1.0)
    assert len(roofs) == 2
    assert all(sides(place) == {"+X", "-X"} for roof in roofs for place in roof.seen)


def test_a_face_s_box_is_that_of_the_face(slotted):
    (floor,) = faces_at(slotted, 2, 7.0, 1.0)
    assert floor.low_mm == pytest.approx((0.0, 12.0, 7.0)) and floor.high_mm == pytest.approx((60.0, 28.0, 7.0))


def test_a_hollow_inside_is_seen_from_nowhere(read_shape):
    reading = read_shape(parts.cut(parts.box(30, 30, 30), parts.sphere(5, at=(15, 15, 15))))
    (hollow,) = [face for face in reading.faces if face.kind == "sphere"]
    assert set(hollow.seen) == {0} and hollow.aslant == ()


def test_a_floor_under_a_slanted_pocket_is_seen_along_its_slant(read_shape):
    """A pocket turned by 45 degrees about Y and so deep that no side looks to its floor."""
    tilted = parts.turned(parts.box(6, 6, 60, at=(-3, 17, 8)), (0, 1, 0), 45.0)
    reading = read_shape(parts.cut(parts.box(80, 40, 40), tilted))
    dark = [face for face in reading.faces if face.seen and set(face.seen) == {0}]
    half = 2**-0.5
    assert dark and all(any(np.allclose(way, (half, 0, half), atol=1e-6) for way in face.aslant) for face in dark)


def test_what_was_seen_survives_being_stored(slotted):
    again = type(slotted).from_json(slotted.to_json())
    assert [face.seen for face in again.faces] == [face.seen for face in slotted.faces]
    assert again.faces[0].low_mm == slotted.faces[0].low_mm


def test_a_reading_of_an_earlier_version_says_nothing_of_sight(slotted):
    data = slotted.to_json()
    for face in data["faces"]:
        for name in ("low_mm", "high_mm", "seen", "aslant"):
            del face[name]
    assert all(face.seen == () and face.low_mm is None for face in type(slotted).from_json(data).faces)


spots = st.lists(st.tuples(*[st.floats(-10, 70)] * 3), min_size=1, max_size=20)


@settings(max_examples=60)
@given(spots, st.sampled_from(NAMES))
def test_many_lines_at_once_say_what_each_says_alone(slotted, starts, side):
    sight = Sight(slotted.mesh)
    together = sight.lines_are_clear(np.array(starts), AXES[side])
    assert together.tolist() == [sight.line_is_clear(start, AXES[side]) for start in starts]


boxes = st.lists(st.tuples(*[st.floats(0, 50)] * 2, *[st.floats(0, 9)] * 2), min_size=1, max_size=40)


@given(boxes, st.lists(st.tuples(st.floats(-5, 60), st.floats(-5, 60)), min_size=1, max_size=10))
def test_every_box_over_a_spot_is_among_those_near_it(boxed, where):
    low = np.array([(x, y) for x, y, _, _ in boxed])
    high = low + np.array([(w, d) for _, _, w, d in boxed])
    owners, near = Cells.over(low, high).near(np.array(where))
    found = set(zip(owners.tolist(), near.tolist(), strict=True))
    over = {
        (n, m) for n, (x, y) in enumerate(where) for m in range(len(low))
        if low[m, 0] <= x <= high[m, 0] and low[m, 1] <= y <= high[m, 1]
    }  # fmt: skip
    assert over <= found
