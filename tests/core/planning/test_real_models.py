"""Plans of the real models and of the demo shop's parts, checked against their meshes by code that plans nothing.

The real models lie in ../shared/models beside the repository; where that folder is absent they are skipped.
"""

import itertools
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from shopflow.core import solid
from shopflow.core.errors import Unreadable
from shopflow.core.orientation import rotation
from shopflow.core.planning import AXES, Given, PlanRules, propose
from shopflow.core.planning.clamping.holding import HeldIn
from shopflow.core.planning.directions import opposite
from shopflow.core.planning.needs import Aslant, Undercut, hole_sides, needs_of
from shopflow.core.planning.operations import OperationKind
from shopflow.core.planning.related import faces_of
from shopflow.core.solid import Hole
from tests.core.planning import flats, rays
from tests.core.planning.parts import CRIB, MILL

ROOT = Path(__file__).resolve().parents[3]
MODELS = ROOT.parent / "shared" / "models"
DEMO = ROOT / "seed_data" / "models"
RULES = PlanRules()
BORES = (OperationKind.DRILL, OperationKind.BORE)
REAL = {
    "nist_ctc_01_asme1_ap242-e1.stp": 1, "nist_ctc_04_asme1_ap242-e1.stp": 1, "nist_ctc_05_asme1_ap242-e1.stp": 1,
    "NIST_MBE_PMI_5.stp": 1, "nist_ftc_07_asme1_ap242-e2.stp": 1, "nist_stc_08_asme1_ap242-e3.stp": 1,
    "featuretype.STEP": 1, "box_sides.STEP": 10, "odri_body_structure_bottom.STEP": 1, "odri_hip_aa_support.STEP": 1,
}  # fmt: skip
"""How many solids each holds, by facts.csv beside them."""
EACH = [
    *((path.name, None) for path in sorted(DEMO.glob("*.step"))),
    *((name, None if count == 1 else number) for name, count in REAL.items() for number in range(count)),
]


@cache
def planned(name, index):
    """(reading, proposal) of one solid."""
    path = (DEMO if (DEMO / name).is_file() else MODELS) / name
    if not path.is_file():
        pytest.skip("the folder of real models is not beside the repository")
    reading = solid.read(path, solid_index=index)
    return reading, propose(reading, Given(crib=CRIB, machines=[MILL]))


@cache
def in_sight(name, index):
    return rays.seen(planned(name, index)[0].mesh)


def named_faces(reading, made):
    """Faces of what is out of reach or cut with the part tilted, and of holes, which are checked by their own reach."""
    of_holes = {face for hole in reading.holes for face in hole.faces}
    return of_holes.union(*(faces_of(need) for need in (*made.unreached, *tilted_needs(made))))


def straight(made):
    return [setup for setup in made.setups if not setup.tilted]


def tilted_needs(made):
    return [need for setup in made.setups if setup.tilted for need in setup.needs]


def is_mostly_seen(sides, views):
    return np.logical_or.reduce([views[side] for side in sides]).mean() > 0.5


each_part = pytest.mark.parametrize(("name", "index"), EACH, ids=lambda value: str(value))


@each_part
def test_each_hole_is_cut_or_named_and_all_tools_are_of_the_crib(name, index):
    reading, made = planned(name, index)
    cut = [need.feature for setup in made.setups for need in setup.needs]
    named = [need.feature for need in made.unreached]
    assert all(hole in cut or hole in named for hole in reading.holes)
    bored = [one for setup in made.setups for one in setup.operations if one.kind in BORES]
    assert sum(one.count for one in bored) == len(reading.holes) - sum(hole in named for hole in reading.holes)
    own = {entry.number for entry in CRIB}
    assert all((one.tool or one.wanted) for setup in made.setups for one in setup.operations)
    assert all(entry.tool.number in own for setup in made.setups for entry in setup.tools)
    assert all(raw >= part for raw, part in zip(made.blank.size_mm, reading.bbox_mm, strict=True))


@each_part
def test_each_face_is_in_sight_of_a_setup_or_named(name, index):
    """A face that lines find mostly hidden from all setups is named as out of reach or as seen in part."""
    reading, made = planned(name, index)
    named = named_faces(reading, made).union(made.account.in_part)
    ups = [setup.up for setup in straight(made)]
    hidden = [face for face, views in in_sight(name, index).items() if not is_mostly_seen(ups, views)]
    assert set(hidden) <= named
    assert made.account.unseen == ()


@each_part
def test_each_face_named_as_hidden_is_hidden(name, index):
    reading, made = planned(name, index)
    of_holes = {face for hole in reading.holes for face in hole.faces}
    sealed = [need for need in (*made.unreached, *tilted_needs(made)) if isinstance(need.feature, Undercut | Aslant)]
    views = rays.seen(reading.mesh, 12, {face for need in sealed for face in faces_of(need)} - of_holes)
    assert [face for face, by_side in views.items() if any(clear.mean() > 0.8 for clear in by_side.values())] == []


@each_part
def test_each_tilted_clamping_turns_what_it_cuts_to_the_spindle_and_holds_every_word(name, index):
    """Angles are set to a ten-thousandth of a degree; the sentences go into fields of 200 letters."""
    for setup in (one for one in planned(name, index)[1].setups if one.tilted):
        up = rotation(setup.up, setup.holding.along_x, setup.angles)[6:9]
        assert np.dot(up, setup.tilted.tilt.direction) > 1 - 1e-9
        assert all(setup.tilted.tilt.reaches(need) for need in setup.needs)
        texts = (setup.holding.workholding, setup.holding.pick_up, setup.locating.located_on)
        assert all(0 < len(text) <= 200 for text in texts)
        assert setup.operations


@each_part
def test_no_smaller_set_of_sides_reaches_the_part(name, index):
    """Brute force over all smaller sets that turn the part over: each leaves a face hidden or a hole or pocket shut."""
    reading, made = planned(name, index)
    views = in_sight(name, index)
    of_holes = {face for hole in reading.holes for face in hole.faces}
    visible = {face: v for face, v in views.items() if face not in of_holes and is_mostly_seen(AXES, v)}
    asked = [hole_sides(need.feature) if isinstance(need.feature, Hole) else need.sides
             for need in needs_of(reading, PlanRules()) if need.sides]  # fmt: skip
    for size in range(2, len(straight(made))):
        for sides in itertools.combinations(AXES, size):
            if any(opposite(side) in sides for side in sides):
                leaves_shut = any(not one.intersection(sides) for one in asked)
                assert leaves_shut or any(not is_mostly_seen(sides, v) for v in visible.values())


FRAMED = {"nist_stc_08_asme1_ap242-e3.stp"}
"""Its rim is a frame: a reading says how far a face reaches and not its outline, so that the plan is cautious there."""


def jaws_of(setup):
    """The axis of the model that the jaws close along: the one that neither stands up nor lies along X."""
    (axis,) = {0, 1, 2} - {"XYZ".index(setup.up[1]), "XYZ".index(setup.holding.along_x[1])}
    return axis


def is_enough(length_mm, reading, setup):
    """As `gripping` has it: 10 mm or a quarter of the part's length, and all of a shorter part."""
    long_mm = reading.bbox_mm["XYZ".index(setup.holding.along_x[1])]
    return length_mm >= 0.95 * min(max(10.0, 0.25 * long_mm), long_mm)


@each_part
def test_jaws_that_close_on_finished_sides_find_them_flat_and_opposite(name, index):
    reading, made = planned(name, index)
    for setup in straight(made)[1:]:
        if setup.holding.held_in is HeldIn.VISE:
            top, tall = setup.holding.grip_mm, reading.bbox_mm["XYZ".index(setup.up[1])]
            band = (top - min(RULES.grip_mm, tall / 2), top)
            assert is_enough(flats.shared_mm(reading, setup.up, jaws_of(setup), band), reading, setup)


@each_part
def test_soft_jaws_are_asked_for_only_where_no_band_of_the_lower_half_is_flat_on_two_sides(name, index):
    reading, made = planned(name, index)
    for setup in straight(made)[1:]:
        if setup.holding.held_in is HeldIn.SOFT_JAWS:
            tall, axis = reading.bbox_mm["XYZ".index(setup.up[1])], jaws_of(setup)
            deep = min(RULES.grip_mm, tall / 2)
            if name in FRAMED:
                continue
            bands = [(start, start + deep) for start in np.arange(0.0, tall / 2 - deep, 2.0)]
            assert not any(is_enough(flats.shared_mm(reading, setup.up, axis, band), reading, setup) for band in bands)


@each_part
def test_the_part_zero_lies_where_the_edge_finder_finds_straight_sides(name, index):
    """Flat faces of the mesh at each side that the zero is taken from: both of an axis where it is in the middle."""
    reading, made = planned(name, index)
    for setup in straight(made)[1:]:
        if setup.holding.pick_up_by != "edge finder":
            continue
        for axis in {0, 1, 2} - {"XYZ".index(setup.up[1])}:
            low, high, at = reading.box_min_mm[axis], reading.box_max_mm[axis], setup.holding.zero_mm[axis]
            middle = abs(at - (low + high) / 2) < 1e-3
            for sign, level in (("-", low), ("+", high)):
                if middle or abs(at - level) < 1e-3:
                    assert any(
                        face.kind == "plane" and np.dot(face.normal, AXES[f"{sign}{'XYZ'[axis]}"]) > 0.999
                        and abs(face.centre_mm[axis] - level) < 0.05
                        for face in reading.faces
                    )  # fmt: skip


@each_part
def test_sentences_of_a_setup_fit_their_fields(name, index):
    """200 letters in the plan's table, in either unit."""
    reading, _ = planned(name, index)
    for unit in ("mm", "in"):
        for setup in propose(reading, Given(crib=CRIB, machines=[MILL], rules=PlanRules(unit=unit))).setups:
            held = setup.holding
            assert max(map(len, (held.workholding, held.pick_up, held.stock_in, setup.locating.located_on))) <= 200


@pytest.mark.skipif(not MODELS.is_dir(), reason="the folder of real models is not beside the repository")
@pytest.mark.parametrize("name", ["nist_ftc_08_asme1_ap242-e1-tg.stp", "plate_mode_samples_rhino.stp"])
def test_a_file_without_a_solid_is_refused_and_not_planned(name):
    with pytest.raises(Unreadable, match="solid"):
        solid.read(MODELS / name)
