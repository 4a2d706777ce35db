"""Faces that ask for a side, those that none sees, and the account of all of them; faces made up by hand."""

import math

from shopflow.core.planning import AXES, Given, propose
from shopflow.core.planning.directions import name_of
from shopflow.core.planning.needs import needs_of
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.sights import account, hidden_note, is_dark, most_of
from shopflow.core.solid import FaceFacts
from tests.core.planning.parts import CRIB, FRONT, MILL, UP, a_reading

RULES = PlanRules()


def bits(*sides):
    return sum(1 << bit for bit, name in enumerate(AXES) if name in sides)


def a_face(index, *places, **changes):
    """A round face of which each place is in sight from these sides."""
    return FaceFacts(index, 0, "cylinder", 20.0, (5.0, 0.0, 6.0), FRONT, 2.0, True, seen=tuple(
        bits(*sides) for sides in places), **changes)  # fmt: skip


def sides_of(reading):
    return [setup.up for setup in propose(reading, Given(crib=CRIB, machines=[MILL])).setups]


def test_a_face_that_one_side_sees_takes_a_setup_from_there():
    assert sides_of(a_reading(faces=(a_face(20, *[["-Y"]] * 5),))) == ["+Z", "-Z", "-Y"]


def test_a_face_that_a_needed_side_sees_takes_no_setup_more():
    assert sides_of(a_reading(faces=(a_face(20, *[["-Y", "+Z"]] * 5),))) == ["+Z", "-Z"]


def test_a_remnant_of_a_face_decides_no_setup_and_is_said():
    reading = a_reading(faces=(a_face(20, *[["+Z", "-Y"]] * 4, ["-Y"]),))
    made = propose(reading, Given(crib=CRIB, machines=[MILL]))
    assert len(made.setups) == 2
    assert any("only in part" in note and "−Y" in note for note in made.notes)


def test_faces_asking_for_the_same_side_are_one_need():
    reading = a_reading(faces=(a_face(20, ["-Y"]), a_face(21, ["-Y"])))
    asked = [need.what for need in needs_of(reading, RULES) if "in sight" in need.what]
    assert asked == ["2 faces in sight only from −Y"]


def test_a_dark_face_is_named_as_an_undercut_though_the_reader_s_own_list_lacks_it():
    made = propose(a_reading(faces=(a_face(20, [], [], ["+Z"]),)), Given(crib=CRIB, machines=[MILL]))
    assert ["undercut" in words for words in made.unreached_words] == [True]
    assert made.account.unseen == ()


def test_a_face_of_the_reader_s_list_that_a_side_sees_is_no_undercut():
    reading = a_reading(faces=(a_face(20, ["-Y"], ["-Y"]),), unreached=(20,))
    assert propose(reading, Given(crib=CRIB, machines=[MILL])).unreached == ()


def test_a_dark_face_that_is_open_aslant_takes_a_tilted_clamping():
    slant = (0.0, -math.sqrt(0.5), math.sqrt(0.5))
    made = propose(a_reading(faces=(a_face(20, [], aslant=(slant,)),)), Given(crib=CRIB, machines=[MILL]))
    assert made.unreached_words == []
    (tilted,) = (setup for setup in made.setups if setup.tilted)
    assert [need.what for need in tilted.needs] == ["round face that looks to −Y in sight only with the part tilted"]
    assert tilted.tilted.tilt.direction == slant


def test_faces_that_nobody_looked_at_are_asked_for_nothing():
    face = FaceFacts(20, 0, "plane", 20.0, (5.0, 0.0, 6.0), UP, 0.0, False)
    assert most_of(face) is None and not is_dark(face)
    assert hidden_note(account(a_reading(faces=(face,)), ["+Z"], ())) == ""


def test_the_account_says_which_setups_see_a_face():
    made = account(a_reading(faces=(a_face(20, ["+Z"], ["-Z", "+Y"]),)), ["+Z", "+Y"], ())
    assert made.setups == {20: (1, 2)} and made.in_part == () and made.unseen == ()


def test_what_no_setup_sees_is_said_unless_it_is_named():
    reading = a_reading(faces=(a_face(20, ["-Y"]),))
    assert account(reading, ["+Z"], ()).unseen == (20,)
    assert "in sight of no setup" in hidden_note(account(reading, ["+Z"], ()))
    assert account(reading, ["+Z"], {20}).unseen == ()


def test_a_hole_that_leans_by_one_degree_is_not_square_to_the_side():
    """1 degree over 50 mm is 0.9 mm aside: it was taken for square up to 2.6 degrees."""
    lean = math.radians(1.0)
    assert name_of((0.0, math.sin(lean), math.cos(lean))) is None
    assert name_of((0.0, math.sin(lean / 30), math.cos(lean / 30))) == "+Z"
