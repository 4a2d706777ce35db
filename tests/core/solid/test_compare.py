"""Two revisions of a part: what is the same, moved, changed, added and gone."""

import json

import pytest

from shopflow.core.solid import Comparison, compare
from tests.core.solid import parts


def plate(*, at=(20, 20), diameter=8.0, extra=None, thickness=20.0):
    shape = parts.cut(parts.box(80, 60, thickness), parts.drill(diameter, thickness, (*at, thickness), point_deg=None))
    return parts.cut(shape, extra) if extra else shape


@pytest.fixture(scope="module")
def before(read_shape):
    return read_shape(plate())


def test_a_part_is_the_same_as_itself(before, read_shape):
    found = compare(before, read_shape(plate()))
    assert found.faces.is_none and found.holes.is_none and len(found.faces.same) == len(before.faces)


def test_a_model_put_elsewhere_as_a_whole_is_unchanged(before, read_shape):
    found = compare(before, read_shape(parts.turned(plate(), (0, 0, 1), 0, (100, -50, 25))))
    assert found.shift_mm == pytest.approx((100, -50, 25)) and found.faces.is_none and found.holes.is_none


def test_a_moved_hole_is_moved_and_its_two_faces_are_changed(before, read_shape):
    found = compare(before, read_shape(plate(at=(25, 20))))
    assert found.holes.moved == ((0, 0),) and not found.holes.changed
    assert (len(found.faces.same), len(found.faces.moved), len(found.faces.changed)) == (4, 1, 2)
    assert not found.faces.added and not found.faces.gone


def test_a_wider_hole_is_changed(before, read_shape):
    found = compare(before, read_shape(plate(diameter=10)))
    assert found.holes.changed == ((0, 0),)
    assert (len(found.faces.same), len(found.faces.moved), len(found.faces.changed)) == (4, 0, 3)


def test_a_new_hole_is_added_and_one_left_out_is_gone(before, read_shape):
    more = read_shape(plate(extra=parts.drill(6, 10, (60, 40, 20))))
    added, gone = compare(before, more), compare(more, before)
    assert len(added.holes.added) == 1 and len(added.faces.added) == 2 and not added.faces.gone
    assert len(gone.holes.gone) == 1 and len(gone.faces.gone) == 2 and not gone.faces.added


def test_a_thicker_plate_moves_its_top_and_changes_its_sides(before, read_shape):
    found = compare(before, read_shape(plate(thickness=25)))
    assert len(found.faces.moved) == 1 and not found.faces.added and not found.faces.gone
    (top,) = [before.faces[one] for one, _ in found.faces.moved]
    assert top.normal == pytest.approx((0, 0, 1))
    assert len(found.holes.changed) == 1


def test_every_face_of_both_revisions_stands_in_one_place_only(before, read_shape):
    after = read_shape(plate(at=(30, 25), diameter=9, extra=parts.box(20, 20, 5, (60, 0, 15))))
    found = compare(before, after).faces
    pairs = found.same + found.moved + found.changed
    assert sorted([one for one, _ in pairs] + list(found.gone)) == list(range(len(before.faces)))
    assert sorted([other for _, other in pairs] + list(found.added)) == list(range(len(after.faces)))


def test_a_comparison_comes_back_from_json_as_it_was(before, read_shape):
    found = compare(before, read_shape(plate(at=(30, 25), diameter=9)))
    assert Comparison.from_json(json.loads(json.dumps(found.to_json()))) == found
