"""What differs between two models, and from which sides it is cut; parts by exact dimensions."""

from dataclasses import replace

import pytest

from shopflow.core.planning import AXES, are_other_edges, cut_from, differences, is_cut_from, is_other_box
from shopflow.core.solid import FaceFacts, SharpEdges, compare
from tests.core.planning.parts import RIGHT, UP, a_hole, a_pocket, a_reading


def a_face(index, *, normal=UP, centre=(30.0, 20.0, 12.0), area=2400.0, kind="plane", radius=0.0, is_inside=False):
    return FaceFacts(index, 0, kind, area, centre, normal, radius, is_inside)


TOP, SIDE = a_face(0), a_face(1, normal=RIGHT, centre=(60.0, 20.0, 6.0), area=480.0)
BORE = a_face(7, kind="cylinder", normal=RIGHT, centre=(10.0, 10.0, 6.0), area=248.8, radius=3.3, is_inside=True)
PLATE = a_reading(holes=(a_hole(faces=(7,)),), faces=(TOP, SIDE, *(replace(BORE, index=n) for n in range(2, 8))))


def changed(after):
    return differences(compare(PLATE, after), PLATE, after)


def test_nothing_differs_in_the_same_model():
    assert changed(PLATE) == []


def test_a_moved_hole_is_told_once_and_its_wall_with_it():
    faces = [replace(face, centre_mm=(15.0, 10.0, 6.0)) if face.index == 7 else face for face in PLATE.faces]
    after = replace(PLATE, holes=(a_hole(15.0, 10.0, faces=(7,)),), faces=tuple(faces))
    (hole,) = changed(after)
    assert (hole.how, hole.is_hole, hole.old_faces, hole.new_faces) == ("moved", True, (7,), (7,))
    assert hole.moved_mm == pytest.approx(5.0)


def test_how_far_a_thing_moved_leaves_out_how_the_whole_model_was_moved():
    shifted = [replace(f, centre_mm=tuple(c + 100.0 for c in f.centre_mm)) for f in PLATE.faces]
    hole = a_hole(112.0, 110.0, faces=(7,), position_mm=(112.0, 110.0, 112.0))
    after = replace(
        PLATE, box_min_mm=(100.0,) * 3, box_max_mm=(160.0, 140.0, 112.0), faces=tuple(shifted), holes=(hole,)
    )
    (found,) = changed(after)
    assert found.how == "moved" and found.moved_mm == pytest.approx(2.0)


def test_an_added_and_a_gone_hole_stand_on_their_own_side():
    more = replace(PLATE, holes=(*PLATE.holes, a_hole(50.0, 30.0, faces=(9,))))
    (added,) = changed(more)
    assert (added.how, added.before, added.new_faces) == ("added", None, (9,))
    (gone,) = differences(compare(more, PLATE), more, PLATE)
    assert (gone.how, gone.after, gone.old_faces) == ("gone", None, (9,))


def test_a_hole_is_cut_from_where_it_is_open():
    more = replace(PLATE, holes=(*PLATE.holes, a_hole(50.0, 30.0, faces=(9,), reach=(UP,), through=False)))
    assert cut_from(changed(more)[0], PLATE, more) == {"+Z"}


def test_a_gone_hole_was_cut_from_where_it_had_been_open():
    less = replace(PLATE, holes=())
    assert cut_from(changed(less)[0], PLATE, less) == {"+Z", "-Z"}


def test_a_top_is_cut_from_above_or_from_its_sides():
    after = replace(PLATE, faces=(replace(TOP, centre_mm=(30.0, 20.0, 11.0)), *PLATE.faces[1:]))
    (top,) = changed(after)
    assert cut_from(top, PLATE, after) == {"+Z", "+X", "-X", "+Y", "-Y"}


def test_a_wall_of_a_pocket_is_cut_from_where_the_pocket_is_open():
    after = replace(
        PLATE, faces=(TOP, replace(SIDE, area_mm2=400.0), *PLATE.faces[2:]), pockets=(a_pocket(faces=(1,)),)
    )
    (wall,) = changed(after)
    assert cut_from(wall, PLATE, after) == {"+Z"}


def test_a_slanted_face_is_cut_from_the_sides_it_looks_at():
    slanted = a_face(0, normal=(0.6, 0.0, 0.8), kind="freeform")
    after = replace(PLATE, faces=(slanted, *PLATE.faces[1:]))
    item = next(item for item in changed(after) if item.after == slanted)
    assert cut_from(item, PLATE, after) == {"+Z", "+X"}


SLANT = (0.6, 0.0, 0.8)


def test_a_slanted_hole_that_is_new_is_cut_in_the_clamping_that_tilts_it_up():
    after = replace(PLATE, holes=(*PLATE.holes, a_hole(30.0, 20.0, axis=SLANT, reach=(SLANT,), faces=(8,))))
    (item,) = changed(after)
    assert cut_from(item, PLATE, after) == frozenset()
    assert is_cut_from(item, PLATE, after, SLANT)
    assert not is_cut_from(item, PLATE, after, (0.0, 0.6, 0.8)) and not is_cut_from(item, PLATE, after, UP)


def test_a_slanted_face_is_cut_in_a_tilted_clamping_that_it_looks_up_in():
    slanted = a_face(0, normal=SLANT, kind="freeform")
    after = replace(PLATE, faces=(slanted, *PLATE.faces[1:]))
    item = next(item for item in changed(after) if item.after == slanted)
    assert is_cut_from(item, PLATE, after, SLANT) and not is_cut_from(item, PLATE, after, (-0.8, 0.0, 0.6))


@pytest.mark.parametrize("up", sorted(AXES))
def test_a_straight_way_is_judged_as_the_side_is(up):
    less = replace(PLATE, holes=())
    for item, after in ((changed(less)[0], less), (changed(replace(PLATE, holes=(a_hole(30.0),)))[0], PLATE)):
        assert is_cut_from(item, PLATE, after, AXES[up]) is (up in cut_from(item, PLATE, after))


@pytest.mark.parametrize(("size", "other"), [((60.0, 40.0, 12.0), False), ((60.0, 40.0, 12.5), True)])
def test_another_size_of_the_part_is_another_box(size, other):
    assert is_other_box(PLATE, a_reading(size)) is other


def test_more_sharp_edges_are_other_edges():
    assert are_other_edges(PLATE, replace(PLATE, sharp_edges=SharpEdges(13, 460.0, ())))
    assert not are_other_edges(PLATE, PLATE)
