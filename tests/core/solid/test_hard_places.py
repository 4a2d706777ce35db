"""Bosses, thin walls, and faces that no setup sees."""

import pytest

from shopflow.core.solid.features import recognise, unreached
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.occ import graph as occ_graph
from shopflow.core.solid.occ import mesh as occ_mesh
from tests.core.solid import parts


def read(shape):
    """The features of a shape, its hard places, and the faces that neither a setup nor a hole's own axis sees."""
    graph = occ_graph.build([shape], 1e-3)
    sight = Sight(occ_mesh.tessellate([shape], [0], 0.05))
    features, hard = recognise.everything(graph, sight), recognise.hard_places(graph, sight)
    return features, hard, unreached.outside_holes(hard.unreached, features.holes, hard.enclosed)


def bosses(shape):
    return read(shape)[0].bosses


def thin_places(shape):
    return read(shape)[1].thin


def hidden_faces(shape):
    return read(shape)[2]


STUD = parts.fuse(parts.box(60, 60, 10), parts.cylinder(12, 15, (30, 30, 10)))


@pytest.mark.parametrize("turn", [0, 25, 180])
def test_a_boss_has_its_diameter_height_and_foot(turn):
    (boss,) = bosses(parts.turned(STUD, (1, 0, 0), turn))
    assert (boss.diameter_mm, boss.height_mm) == (pytest.approx(24), pytest.approx(15))


def test_a_boss_with_a_fillet_at_its_foot_keeps_its_height():
    shape = parts.fillet(STUD, 2, lambda m: abs(m[2] - 10) < 0.1 and 17 < m[0] < 43 and 17 < m[1] < 43)
    (boss,) = bosses(shape)
    assert boss.height_mm == pytest.approx(15) and boss.position_mm == pytest.approx((30, 30, 10))


def test_a_disc_alone_is_no_boss():
    assert bosses(parts.cylinder(20, 10)) == ()


def test_a_thin_floor_is_found_with_its_thickness():
    (place,) = thin_places(parts.cut(parts.box(60, 40, 20), parts.box(40, 20, 19, (10, 10, 1))))
    assert place.thickness_mm == pytest.approx(1, abs=1e-3)


def test_a_thin_rib_is_found_once():
    shape = parts.cut(parts.box(60, 40, 20), parts.box(28, 40, 15, (0, 0, 5)), parts.box(30.5, 40, 15, (29.5, 0, 5)))
    (place,) = thin_places(shape)
    assert place.thickness_mm == pytest.approx(1.5, abs=1e-3)


def test_a_thick_part_has_no_thin_place():
    assert thin_places(STUD) == ()


def test_a_plain_part_is_seen_all_over():
    assert hidden_faces(STUD) == ()


def test_the_sides_of_a_t_slot_are_seen_along_it():
    slot = parts.fuse(parts.box(60, 8, 10, (0, 26, 10)), parts.box(60, 20, 6, (0, 20, 6)))
    assert hidden_faces(parts.cut(parts.box(60, 60, 20), slot)) == ()


def test_a_blind_t_slot_s_undercut_is_seen_from_nowhere():
    slot = parts.fuse(parts.box(30, 8, 14, (15, 26, 6)), parts.box(30, 20, 6, (15, 20, 6)))
    found, _, seen_from_nowhere = read(parts.cut(parts.box(60, 60, 20), slot))
    ceilings = {face.index for face in found.faces if face.kind == "plane" and face.normal == pytest.approx((0, 0, -1))}
    hidden = set(seen_from_nowhere)
    assert len(hidden & ceilings) == 2  # the two ledges, not the underside of the part
    assert all(6 - 1e-6 <= face.centre_mm[2] <= 12 + 1e-6 for face in found.faces if face.index in hidden)


def test_a_closed_cavity_is_seen_from_nowhere():
    assert len(hidden_faces(parts.cut(parts.box(30, 30, 30), parts.box(10, 10, 10, (10, 10, 10))))) == 6


def test_a_slanted_hole_is_seen_along_its_own_axis():
    assert hidden_faces(parts.cut(STUD, parts.drill(6, 13, (10, 27.5, 14.330127), (0, 0.5, -0.8660254)))) == ()
