"""What a vise closes on in a setup after the first, what it does where nothing is flat, and how the zero is found.

How much flat side is enough is common practice, no source.
"""

from dataclasses import replace

import pytest

from shopflow.core.planning.clamping.gripping import Stand, clasps, outside_cut_mm
from shopflow.core.planning.clamping.holding import HeldIn, holding
from shopflow.core.planning.clamping.locating import locating
from shopflow.core.planning.directions import AXES
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid import FaceFacts, Pmi, PmiItem
from tests.core.planning.parts import a_hole, a_reading

RULES = PlanRules()
ALL = sum(1 << bit for bit in range(6))


def flat(index, side, low, high, *sides, fill=1.0):
    """A flat face that looks to a side and fills its box; sides: from which it is in sight, all but behind if none."""
    axis = "XYZ".index(side[1])
    a, b = (high[n] - low[n] for n in range(3) if n != axis)
    names = list(AXES)
    place = sum(1 << names.index(one) for one in sides) if sides else ALL & ~(1 << (names.index(side) ^ 1))
    centre = tuple((p + q) / 2 for p, q in zip(low, high, strict=True))
    return FaceFacts(index, 0, "plane", a * b * fill, centre, AXES[side], 0.0, False, low, high, (place,) * 5)


def block(x=60.0, y=40.0, z=12.0):
    """The six faces of a block, numbered as box_planes."""
    return {
        "+Z": flat(0, "+Z", (0.0, 0.0, z), (x, y, z)), "-Z": flat(1, "-Z", (0.0, 0.0, 0.0), (x, y, 0.0)),
        "+X": flat(2, "+X", (x, 0.0, 0.0), (x, y, z)), "-X": flat(3, "-X", (0.0, 0.0, 0.0), (0.0, y, z)),
        "+Y": flat(4, "+Y", (0.0, y, 0.0), (x, y, z)), "-Y": flat(5, "-Y", (0.0, 0.0, 0.0), (x, 0.0, z)),
    }  # fmt: skip


def reading_of(faces, size=(60.0, 40.0, 12.0), **changes):
    return a_reading(size=size, faces=tuple(faces.values()), **{"holes": (), **changes})


def second(reading, up="-Z", before=("+Z",), rules=RULES):
    """The holding of a setup after the first."""
    box = (reading.box_min_mm, reading.box_max_mm)
    return holding(len(before), up, box, (99.0, 99.0, 99.0), rules, Stand(up, before, reading))


def test_a_block_turned_over_is_held_across_its_shorter_sides():
    held = second(reading_of(block()))
    assert (held.held_in, held.grip_mm, held.along_x, held.cautions) == (HeldIn.VISE, 4.0, "+X", ())
    assert "across Y, 40 mm apart" in held.workholding


def test_sides_that_are_round_are_not_held_as_if_they_were_flat():
    faces = block()
    for side in ("+X", "-X", "+Y", "-Y"):
        faces[side] = replace(faces[side], kind="cylinder")
    held = second(reading_of(faces))
    assert held.held_in is HeldIn.SOFT_JAWS and "soft jaws cut to the part's shape" in held.workholding
    assert any("no two flat sides" in text for text in held.cautions)


def test_a_round_part_is_held_in_jaws_bored_to_it():
    faces = {key: face for key, face in block(40.0, 40.0).items() if key[1] == "Z"}
    faces["round"] = FaceFacts(9, 0, "cylinder", 900.0, (20.0, 0.0, 6.0), AXES["-Y"], 20.0, False, (0.0, 0.0, 0.0),
                               (40.0, 40.0, 12.0), (ALL,) * 5)  # fmt: skip
    held = second(reading_of(faces, size=(40.0, 40.0, 12.0)))
    assert "bored to ⌀40 mm" in held.workholding and "V-block" in held.cautions[0]


def test_where_the_nearer_sides_are_not_flat_the_jaws_close_on_the_other_two():
    faces = block()
    faces["+Y"] = replace(faces["+Y"], kind="freeform")
    held = second(reading_of(faces))
    assert "across X, 60 mm apart" in held.workholding and held.along_x == "+Y"
    assert any(text.startswith("closes across X") for text in held.cautions)


def test_sides_that_begin_further_up_are_gripped_there():
    """Upside down the underside is +Z: a step takes the upper 5 mm of both sides away, so 4 mm are held above that."""
    faces = block(z=30.0)
    for side in ("+X", "-X", "+Y", "-Y"):
        face = faces[side]
        faces[side] = replace(face, high_mm=(*face.high_mm[:2], 25.0))
    held = second(reading_of(faces, size=(60.0, 40.0, 30.0)))
    assert held.grip_mm == 9.0 and any("flat only from 5 mm up" in text for text in held.cautions)


def test_flat_sides_that_do_not_lie_opposite_hold_nothing():
    faces = block()
    faces["+Y"] = replace(faces["+Y"], high_mm=(20.0, 40.0, 12.0), area_mm2=240.0)
    faces["-Y"] = replace(faces["-Y"], low_mm=(30.0, 0.0, 0.0), area_mm2=360.0)
    assert [one.axis for one in clasps(Stand("-Z", ("+Z",), reading_of(faces)), 4.0)] == [0]


def test_a_side_that_no_setup_has_cut_yet_is_not_held():
    faces = block()
    faces["+Y"] = flat(4, "+Y", (0.0, 40.0, 0.0), (60.0, 40.0, 12.0), "-Z")
    assert [one.axis for one in clasps(Stand("-Z", ("+Z",), reading_of(faces)), 4.0)] == [0]


@pytest.mark.parametrize(("fill", "count"), [(1.0, 2), (0.2, 1)])
def test_a_frame_holds_less_than_its_box(fill, count):
    faces = block()
    faces["+Y"] = replace(faces["+Y"], area_mm2=720.0 * fill)
    assert len(clasps(Stand("-Z", ("+Z",), reading_of(faces)), 4.0)) == count


def test_a_wall_cut_below_the_top_of_the_jaws_is_named_with_both_heights():
    """A wall that only this setup sees reaches down to 2 mm over the underside; the jaws hold 4 mm."""
    faces = block()
    faces["low"] = flat(9, "+Y", (0.0, 30.0, 0.0), (60.0, 30.0, 10.0), "-Z")
    reading = reading_of(faces)
    assert outside_cut_mm(Stand("-Z", ("+Z",), reading), 1, ()) == 2.0
    assert any("down to 2 mm" in text and "cover 4 mm" in text for text in second(reading).cautions)


def test_a_tall_part_is_gripped_deeper_on_its_finished_sides():
    """100 mm high at ten times the grip: 100 / 11, up to the next whole millimetre."""
    assert second(reading_of(block(z=100.0), size=(60.0, 40.0, 100.0))).grip_mm == 10.0


def test_a_tall_part_is_gripped_no_deeper_than_its_lowest_cut_allows():
    faces = block(z=100.0)
    faces["low"] = flat(9, "+Y", (0.0, 30.0, 0.0), (60.0, 30.0, 93.0), "-Z")
    assert second(reading_of(faces, size=(60.0, 40.0, 100.0))).grip_mm == 6.0


def test_a_part_that_no_grip_holds_is_clamped_to_an_angle_plate():
    held = second(reading_of(block(z=500.0), size=(60.0, 40.0, 500.0)))
    assert held.held_in is HeldIn.CLAMPS and held.grip_mm is None and "angle plate" in held.cautions[-1]


def test_a_thin_plate_says_that_its_grip_is_thin():
    held = second(reading_of(block(z=3.0), size=(60.0, 40.0, 3.0)))
    assert held.grip_mm == 1.5 and "grips only 1.5 mm" in held.cautions[0]


def test_an_underside_without_a_flat_face_is_said():
    faces = block()
    faces["+Z"] = replace(faces["+Z"], kind="freeform")
    assert any("little that is flat" in text for text in second(reading_of(faces)).cautions)


def test_a_reading_of_an_earlier_version_is_planned_by_its_box():
    faces = {key: replace(face, low_mm=None, high_mm=None, seen=()) for key, face in block().items()}
    held = second(reading_of(faces))
    assert held.held_in is HeldIn.VISE and held.cautions == ()


def datums(**faces):
    items = tuple(PmiItem("datum", "datum feature", datums=(letter,), faces=(face,)) for letter, face in faces.items())
    return Pmi(items=items)


def located(reading):
    held = second(reading)
    return held, locating(1, "-Z", held, reading, Stand("-Z", ("+Z",), reading))


@pytest.mark.parametrize("jaw", ["+Y", "-Y"])
def test_the_datum_side_lies_on_the_fixed_jaw_whichever_it_is(jaw):
    _, found = located(reading_of(block(), pmi=datums(B={"+Y": 4, "-Y": 5}[jaw])))
    assert found.datums == "B" and f"{jaw.replace('-', '−')} on the fixed jaw" in found.located_on


@pytest.mark.parametrize("end", [2, 3])
def test_the_stop_stands_at_the_end_that_is_a_datum(end):
    _, found = located(reading_of(block(), pmi=datums(C=end)))
    assert found.datums == "C" and found.stop_side in ("left", "right")


def test_the_zero_is_on_the_datums_when_jaw_and_stop_both_touch_one():
    held, found = located(reading_of(block(), pmi=datums(A=0, B=4, C=2)))
    assert found.datums == "A, B, C" and held.zero_mm == (60.0, 40.0, 0.0)
    assert "datums of the print" in held.pick_up and held.pick_up_by == "edge finder"


def test_without_a_flat_end_there_is_no_stop():
    faces = block()
    faces["+X"] = faces["-X"] = replace(faces["+X"], kind="cylinder")
    _, found = located(reading_of(faces))
    assert found.stop_side == "" and "no end is flat for a stop" in found.located_on


def test_a_part_with_round_ends_is_picked_up_by_a_bore_that_is_cut_already():
    faces = block()
    faces["+X"] = replace(faces["+X"], kind="cylinder")
    held = second(reading_of(faces, holes=[a_hole(20.0, 10.0)]))
    assert held.pick_up_by == "indicator" and held.zero_mm[:2] == (20.0, 10.0) and "⌀6.6" in held.pick_up


def test_a_part_with_one_straight_end_and_no_bore_is_picked_up_at_a_corner():
    faces = block()
    faces["+X"] = replace(faces["+X"], kind="cylinder")
    held = second(reading_of(faces))
    assert held.pick_up_by == "edge finder" and held.zero_mm[0] == 0.0 and held.zero_mm[1] in (0.0, 40.0)


def test_the_zero_of_soft_jaws_is_in_the_jaws():
    faces = {key: replace(face, kind="cylinder") if key[1] != "Z" else face for key, face in block().items()}
    held = second(reading_of(faces))
    assert held.pick_up_by == "stop" and "soft jaws" in held.pick_up
