"""Volume, area and box against closed formulas, in either unit and any placement; the mesh against both."""

import math

import pytest
import trimesh
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopflow.core import solid
from shopflow.core.solid.features import holes
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.occ import graph as occ_graph
from shopflow.core.solid.occ import measure
from shopflow.core.solid.occ import mesh as occ_mesh
from tests.core.solid import parts

PI = math.pi

FORMS = {
    "block": (parts.box(30, 20, 10), 6000.0, 2 * (600 + 300 + 200)),
    "cylinder": (parts.cylinder(7, 25), PI * 49 * 25, 2 * PI * 7 * (7 + 25)),
    "cone": (parts.cone(9, 0, 12), PI * 81 * 12 / 3, PI * 9 * (9 + 15)),
    "frustum": (parts.cone(9, 4, 12), PI * 12 * (81 + 36 + 16) / 3, PI * (81 + 16 + 13 * 13)),
    "ball": (parts.sphere(11), 4 / 3 * PI * 11**3, 4 * PI * 121),
    "drilled block": (
        parts.cut(parts.box(30, 20, 10), parts.cylinder(4, 10, (15, 10, 0))),
        6000 - PI * 16 * 10,
        2200 - 2 * PI * 16 + 2 * PI * 4 * 10,
    ),
}


@pytest.mark.parametrize("unit", ["MM", "INCH", "M"])
@pytest.mark.parametrize("name", ["cone", "drilled block"])
def test_volume_and_area_are_those_of_the_formula_in_every_unit(read_shape, name, unit):
    shape, volume, area = FORMS[name]
    reading = read_shape(shape, unit)
    assert (reading.volume_mm3, reading.area_mm2) == (pytest.approx(volume, rel=1e-6), pytest.approx(area, rel=1e-6))


@pytest.mark.parametrize("name", FORMS)
def test_the_kernel_measures_what_the_formula_says(name):
    shape, volume, area = FORMS[name]
    assert measure.volume_mm3(shape) == pytest.approx(volume, rel=1e-9)
    assert measure.area_and_centre(shape)[0] == pytest.approx(area, rel=1e-9)


@pytest.mark.parametrize("name", FORMS)
def test_a_fine_mesh_has_the_volume_and_area_of_the_solid(name):
    shape, volume, area = FORMS[name]
    mesh = occ_mesh.tessellate([shape], [0], 0.005, 0.05)
    other = trimesh.Trimesh(mesh.points, mesh.triangles, process=False)
    other.merge_vertices(digits_vertex=3)  # the two sides of a seam differ in the last bit
    other.update_faces(other.nondegenerate_faces())
    assert other.is_watertight
    assert (other.volume, other.area) == (pytest.approx(volume, rel=2e-3), pytest.approx(area, rel=2e-3))


def test_the_box_is_that_of_the_solid_and_not_of_its_control_points():
    slanted = parts.turned(parts.cylinder(7, 25), (0, 1, 0), 30)
    side = 25 * math.sin(PI / 6) + 2 * 7 * math.cos(PI / 6)
    assert measure.exact_box(slanted).size[0] == pytest.approx(side, abs=1e-4)


axes = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda axis: sum(part * part for part in axis) > 0.01)
moves = st.tuples(*[st.floats(-500, 500)] * 3)
PLATE = parts.cut(
    parts.box(80, 60, 20),
    parts.drill(8, 12, (20, 20, 20)),
    parts.drill(6, 20, (60, 20, 20), point_deg=None),
    parts.cylinder(6, 5, (60, 20, 15)),
    parts.drill(5, 9, (40, 0, 10), (0, 1, 0), point_deg=None),
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(axis=axes, degrees=st.floats(-180, 180), move=moves)
def test_holes_and_sizes_do_not_depend_on_where_the_part_lies(axis, degrees, move):
    shape = parts.turned(PLATE, axis, degrees, move)
    mesh = occ_mesh.tessellate([shape], [0], 0.05)
    found = holes.find(occ_graph.build([shape], 1e-3), Sight(mesh))
    facts = [(h.diameter_mm, h.depth_mm, h.bottom, h.counterbore_mm or 0.0, len(h.reach)) for h in found]
    assert [fact[2] for fact in facts] == ["flat", "through", "pointed"]
    assert [fact[:2] for fact in facts] == [pytest.approx(pair, abs=1e-5) for pair in ((5, 9), (6, 20), (8, 12))]
    assert [fact[3] for fact in facts] == pytest.approx([0, 12, 0]) and [fact[4] for fact in facts] == [1, 2, 1]
    assert measure.volume_mm3(shape) == pytest.approx(measure.volume_mm3(PLATE), rel=1e-9)


def test_a_mesh_that_takes_too_long_gets_coarser_and_says_so(read_shape):
    reading = read_shape(parts.sphere(40), limits=solid.Limits(mesh_s=0.3), deflection_mm=0.00001)
    assert "it took too long" in reading.warnings[0]
    assert reading.mesh is None or reading.mesh_deflection_mm > 0.00001


def test_a_mesh_over_the_size_limit_gets_coarser_and_says_so(read_shape):
    reading = read_shape(parts.sphere(40), limits=solid.Limits(output_bytes=20_000))
    assert len(reading.mesh.to_bytes()) < 20_000 and "it grew too large" in reading.warnings[0]
    assert reading.volume_mm3 == pytest.approx(4 / 3 * PI * 40**3)


def test_the_mesh_is_finer_when_asked(read_shape):
    coarse, fine = (read_shape(parts.sphere(40), deflection_mm=deflection) for deflection in (0.5, 0.05))
    assert len(fine.mesh.triangles) > 2 * len(coarse.mesh.triangles)


def test_a_file_larger_than_life_asks_about_its_unit(read_shape):
    reading = read_shape(parts.box(3000, 200, 100))
    assert reading.unit_doubtful and "25.4" in reading.unit_reason


def test_names_in_a_file_arrive_clean(plain_part, tmp_path):
    text = plain_part.read_text()
    name = text.split("PRODUCT('", 1)[1].split("'", 1)[0]
    path = tmp_path / "named.step"
    path.write_text(text.replace(f"'{name}'", r"'<b>\X2\00D8\X0\20</b>'"))
    assert solid.read(path).solids[0].name == "<b>Ø20</b>"
