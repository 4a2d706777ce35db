"""What must be cut and what is hard about it, on the intake page."""

from dataclasses import replace

import pytest
from django.urls import reverse

from shopflow.core.solid import Boss, Chamfer, FaceFacts, Fillet, Pocket, ThinPlace
from shopflow.jobs.templatetags.features import edges_cut, faces_of_solid, hard_about, recesses, studs
from tests.core.planning.parts import UP, a_hole, a_reading
from tests.jobs.objects import a_read_job


def a_pocket(**changes):
    plain = Pocket(0, "pocket", True, 12.0, 25.0, 40.0, 6.0, 0, 0.0, UP, (0.0, 0.0, 0.0), 0.48, (UP,), (4, 5))
    return replace(plain, **changes)


def words(reading):
    return [str(hard.words) for hard in hard_about(reading)]


def test_pockets_of_one_size_are_one_row_with_the_faces_of_all():
    (group,) = recesses(a_reading(pockets=(a_pocket(), a_pocket(faces=(8, 9)))))
    assert (group.count, group.faces) == (2, (4, 5, 8, 9))


def test_chamfers_and_roundings_are_told_apart_by_size_and_side():
    rounds = [Fillet(0, 3.0, inside, 10.0, (number,)) for number, inside in enumerate((True, False, True))]
    broken = Chamfer(0, 1.0, 1.0, 45.0, 60.0, False, (7,))
    found = edges_cut(a_reading(fillets=tuple(rounds), chamfers=(broken,)))
    assert [(str(one.words), one.count) for one in found] == [
        ("chamfer", 1), ("outside radius", 1), ("inside radius", 2),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"depth_to_width": 3.2}, "pocket, deep for its width"),
        ({"radius_mm": 1.2}, "pocket, deep for the cutter that fits its corners"),
        ({"sharp_corners": 4}, "pocket with inside corners that have no radius: a round cutter leaves some"),
    ],
)
def test_a_pocket_says_what_is_hard_about_it(changes, said):
    assert words(a_reading(holes=(), pockets=(a_pocket(**changes),))) == [said]


def test_studs_and_thin_walls_of_one_size_are_counted_together():
    stud, wall = Boss(0, 5.0, 2.0, UP, (0.0, 0.0, 0.0), (1,)), ThinPlace(0.8, (0.0, 0.0, 0.0), (1, 2))
    reading = a_reading(holes=(), bosses=(stud, replace(stud, faces=(2,))), thin=(wall, replace(wall, faces=(3, 4))))
    assert [(group.count, group.faces) for group in studs(reading)] == [(2, (1, 2))]
    assert [(hard.count, hard.faces) for hard in hard_about(reading)] == [(2, (1, 2, 3, 4))]


def test_steps_come_after_what_has_walls_round_it():
    step = a_pocket(kind="step", depth_mm=90.0)
    assert [group.first.kind for group in recesses(a_reading(pockets=(step, a_pocket())))] == ["pocket", "step"]


def test_each_of_several_solids_has_its_faces():
    faces = tuple(FaceFacts(number, number // 2, "plane", 1.0, (0.0, 0.0, 0.0), UP, 0.0, False) for number in range(4))
    reading = a_reading(faces=faces)
    two = replace(reading, solids=(reading.solids[0], replace(reading.solids[0], index=1)))
    assert faces_of_solid(two, 1) == [2, 3] and faces_of_solid(reading, 0) == []


def test_an_ordinary_part_has_nothing_hard_about_it():
    assert words(a_reading(holes=(a_hole(diameter_mm=8.0, depth_mm=20.0),), pockets=(a_pocket(),))) == []


def test_deep_holes_thin_walls_hidden_and_freeform_faces_are_hard():
    reading = a_reading(
        holes=(a_hole(diameter_mm=4.0, depth_mm=40.0),),
        thin=(ThinPlace(0.8, (0.0, 0.0, 0.0), (1, 2)),),
        unreached=(3,),
        faces=(FaceFacts(5, 0, "freeform", 1.0, (0.0, 0.0, 0.0), UP, 0.0, False),),
    )
    found = hard_about(reading)
    assert [(hard.times, hard.length_mm, hard.faces[-1]) for hard in found[1:]] == [
        (None, 0.8, 2), (None, None, 3), (None, None, 5),
    ]  # fmt: skip
    assert found[0].times == pytest.approx(10)


@pytest.mark.django_db
def test_the_intake_shows_them_with_their_faces(client, viewer, programmer):
    job = a_read_job(programmer, a_reading(pockets=(a_pocket(sharp_corners=4, radius_mm=None),)))
    client.force_login(viewer)
    shown = client.get(reverse("jobs:intake", args=[job.pk])).content.decode()
    for part in ("Hard about it", "Pockets, slots and steps", 'data-faces="4 5"', "sharp"):
        assert part in shown
