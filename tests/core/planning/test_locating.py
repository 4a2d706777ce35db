"""What a setup is located by, and whether its grip suffices."""

from dataclasses import replace

import pytest

from shopflow.core.planning.clamping.holding import holding
from shopflow.core.planning.clamping.locating import grip_note, locating
from shopflow.core.planning.placement import rotation
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid import Pmi, PmiItem
from tests.core.planning.parts import a_reading

RULES = PlanRules()
BOX = ((0.0, 0.0, 0.0), (60.0, 40.0, 12.0))
BLANK = (65.0, 45.0, 19.0)


def held(index, up):
    return holding(index, up, BOX, BLANK, RULES)


def with_datums(**faces):
    items = tuple(PmiItem("datum", "datum feature", datums=(letter,), faces=(face,)) for letter, face in faces.items())
    return a_reading(pmi=Pmi(items=items))


def test_the_first_setup_is_located_on_raw_sides_and_serves_no_datum():
    found = locating(0, "+Z", held(0, "+Z"), with_datums(A=1))
    assert found.located_on.startswith("raw") and found.datums == ""


def test_a_part_turned_over_lies_on_the_face_that_was_up():
    found = locating(1, "-Z", held(1, "-Z"), a_reading())
    assert "looks to +Z on the parallels" in found.located_on


@pytest.mark.parametrize(("face", "side"), [(0, "+Z"), (5, "-Y"), (3, "-X")])
def test_the_datums_are_those_of_the_face_below_the_fixed_jaw_and_the_stop(face, side):
    """Turned over about X: +Z lies below; the model's -Y looks to the back, its -X to the left. Faces as box_planes."""
    rows = rotation("-Z", held(1, "-Z").along_x)
    assert (rows[0:3], rows[3:6]) == ((1.0, 0.0, 0.0), (0.0, -1.0, 0.0))
    assert locating(1, "-Z", held(1, "-Z"), with_datums(B=face)).datums == "B", side


def test_a_datum_on_another_face_is_not_served():
    assert locating(1, "-Z", held(1, "-Z"), with_datums(B=2)).datums == ""


def test_a_part_on_the_table_has_no_jaw_and_no_stop():
    clamped = replace(held(1, "-Z"), grip_mm=None)
    found = locating(1, "-Z", clamped, a_reading())
    assert (found.fixed_jaw, found.stop_side) == ("", "") and "on the table" in found.located_on


def test_a_tall_part_in_a_low_grip_is_named_with_both_lengths():
    note = grip_note("+Z", held(0, "+Z").grip_mm, (65.0, 45.0, 60.0), RULES)
    assert "grips 4 mm and stands 56 mm over the jaws" in note


def test_a_low_part_needs_no_word_about_its_grip():
    assert grip_note("+Z", held(0, "+Z").grip_mm, BLANK, RULES) == ""
