"""The real models, against what an independent measurement wrote down (facts.csv beside them, see ORIGIN.md there)."""

import csv

import pytest

from shopflow.core import solid
from shopflow.core.errors import Unreadable

REFUSED = {
    "nist_ftc_08_asme1_ap242-e1-tg.stp": "triangle mesh only",
    "plate_mode_samples_rhino.stp": "surfaces only",
}
READ = [
    "NIST_MBE_PMI_5.stp",
    "box_sides.STEP",
    "featuretype.STEP",
    "nist_ctc_01_asme1_ap242-e1.stp",
    "nist_ctc_04_asme1_ap242-e1.stp",
    "nist_ctc_05_asme1_ap242-e1.stp",
    "nist_ftc_07_asme1_ap242-e2.stp",
    "nist_stc_08_asme1_ap242-e3.stp",
    "odri_body_structure_bottom.STEP",
    "odri_hip_aa_support.STEP",
]


@pytest.fixture(scope="module")
def facts(models):
    with (models / "facts.csv").open() as handle:
        return {row["file"]: row for row in csv.DictReader(handle)}


@pytest.fixture(scope="module")
def readings(models):
    return {name: solid.read(models / name) for name in READ}


def test_the_list_here_is_the_list_of_the_set(facts):
    assert set(facts) == set(READ) | set(REFUSED)


@pytest.mark.parametrize("name", READ)
def test_box_and_volume_are_those_of_the_solids(readings, facts, name):
    reading, fact = readings[name], facts[name]
    size = [float(fact[f"bbox_{axis}_mm"]) for axis in "xyz"]
    assert reading.bbox_mm == pytest.approx(size, abs=1e-3)  # written to four decimals
    assert reading.volume_mm3 == pytest.approx(float(fact["volume_solids_mm3"]), rel=1e-6, abs=2e-3)


@pytest.mark.parametrize("name", READ)
def test_solids_faces_and_validity_are_as_measured(readings, facts, name):
    reading, fact = readings[name], facts[name]
    assert len(reading.solids) == int(fact["solids"])
    assert sum(one.faces for one in reading.solids) == int(fact["faces_of_solids"])
    assert all(one.valid for one in reading.solids) == (fact["brepcheck_valid"] == "True")


@pytest.mark.parametrize("name", READ)
def test_annotations_are_as_counted(readings, facts, name):
    pmi, fact = readings[name].pmi, facts[name]
    counts = (int(fact["pmi_dimensions"]), int(fact["pmi_geometric_tolerances"]))
    assert (pmi.dimensions, pmi.tolerances) == counts
    assert pmi.datums == tuple(fact["pmi_datum_letters"].split())


@pytest.mark.parametrize(("name", "said"), REFUSED.items())
def test_files_without_an_exact_solid_are_refused_and_told_apart(models, name, said):
    with pytest.raises(Unreadable, match=said) as caught:
        solid.read(models / name)
    assert "solid" in caught.value.mend


def test_several_solids_ask_for_a_choice(readings):
    reading = readings["box_sides.STEP"]
    assert reading.needs_choice and "Choose" in reading.warnings[0]
    assert [one.name for one in reading.solids][:2] == ["box_base", "side_long"]


def test_one_chosen_solid_is_measured_alone(models, readings):
    whole = readings["box_sides.STEP"]
    alone = solid.read(models / "box_sides.STEP", solid_index=3)
    assert alone.chosen_solid == 3 and not alone.needs_choice
    assert alone.volume_mm3 == pytest.approx(whole.solids[3].volume_mm3)
    assert alone.bbox_mm == pytest.approx(whole.solids[3].bbox_mm)


def test_more_solids_than_the_limit_are_listed_without_features(models):
    reading = solid.read(models / "box_sides.STEP", limits=solid.Limits(solids=9))
    assert len(reading.solids) == 10 and reading.holes == () and "choose one" in reading.warnings[-1]
    assert reading.volume_mm3 == pytest.approx(263542.031, abs=0.01)


def test_a_solid_that_is_not_there_is_refused(models):
    with pytest.raises(Unreadable, match="holds 10"):
        solid.read(models / "box_sides.STEP", solid_index=10)


# Two half-round ends of slots, 50 mm apart on one axis (faces 155 and 161): their angles add up to a full turn in the
# count of facts.csv, and there is no bore.
NOT_BORES = {"nist_ctc_04_asme1_ap242-e1.stp": 1}


def bores(reading):
    """Whole bores as facts.csv counts them: one for each axis and diameter, so a counterbored hole counts twice and
    two equal bores on one axis once."""
    found = set()
    for hole in reading.holes:
        for step in hole.steps:
            if step.kind == "cylinder":
                found.add((_line(hole), round(step.from_diameter_mm, 2)))
    return len(found)


def _line(hole):
    along = max(hole.axis, key=abs)
    axis = [part if along > 0 else -part for part in hole.axis]
    travel = sum(a * p for a, p in zip(axis, hole.position_mm, strict=True))
    foot = [p - travel * a for p, a in zip(hole.position_mm, axis, strict=True)]
    return tuple(round(value, 2) + 0.0 for value in (*axis, *foot))


@pytest.mark.parametrize("name", [name for name in READ if name != "NIST_MBE_PMI_5.stp"])
def test_bores_are_as_counted(readings, facts, name):
    assert bores(readings[name]) == int(facts[name]["hole_like_cylinders"]) - NOT_BORES.get(name, 0)


def test_bores_of_general_surfaces_are_found_again(readings):
    # The same part as CTC 05, an earlier release through another converter, all its round faces B-splines (ORIGIN.md).
    general, exact = readings["NIST_MBE_PMI_5.stp"], readings["nist_ctc_05_asme1_ap242-e1.stp"]
    assert len(general.holes) == len(exact.holes)
    assert bores(general) == bores(exact)


def test_drill_points_are_no_countersinks(readings):
    # 90° : 30 countersinks, 118° : 22 drill points (facts.csv, cone_included_angles_deg)
    holes = readings["nist_ctc_04_asme1_ap242-e1.stp"].holes
    assert sum(hole.countersink_angle_deg == pytest.approx(90) for hole in holes) == 30
    assert sum(hole.point_angle_deg == pytest.approx(118) for hole in holes) == 22


@pytest.mark.parametrize("name", READ)
def test_a_reading_survives_json(readings, name):
    reading = readings[name]
    assert solid.Reading.from_json(reading.to_json(), reading.mesh) == reading


@pytest.mark.parametrize("name", READ)
def test_the_mesh_encloses_the_measured_volume(readings, name):
    trimesh = pytest.importorskip("trimesh")
    reading = readings[name]
    mesh = trimesh.Trimesh(reading.mesh.points, reading.mesh.triangles, process=True)
    assert mesh.volume == pytest.approx(reading.volume_mm3, rel=0.01)
    assert mesh.extents == pytest.approx(reading.bbox_mm, abs=2 * reading.mesh_deflection_mm)
