"""What a setup says of its workholding and of how blanks differ, as solids and boxes."""

import pytest

from shopflow.core.errors import NotPossible
from shopflow.core.stock.blanks import BlankForm
from shopflow.core.stock.shapes import Hole
from shopflow.jobs import queries
from tests.core.planning.parts import a_reading
from tests.jobs.objects import a_planned_job
from tests.people_fixtures import make_person

READING = a_reading()


@pytest.fixture
def setup(db):
    found = a_planned_job(make_person("the_owner", "lead", "programmer")).setups.get(number=1)
    found.grip = found._meta.get_field("grip").to_python("4 mm")
    return found


def says(setup, **typed):
    for name, value in typed.items():
        setattr(setup, name, setup._meta.get_field(name).to_python(value))
    return setup


VISE = {"held_by": "vise", "jaw_length": "100 mm", "jaw_thick": "20 mm"}


def test_a_setup_that_does_not_say_how_it_is_held_has_no_solids(setup):
    assert queries.holding_of(setup, READING) == () and "vise or clamps" in queries.why_not_held(setup)


@pytest.mark.parametrize(("name", "words"), [("jaw_length", "length of the jaws"), ("grip", "grip")])
def test_a_vise_without_a_size_says_which_one(setup, name, words):
    assert words in queries.why_not_held(
        says(setup, **VISE, **{name: ""}) if name not in VISE else says(setup, **{**VISE, name: ""})
    )


def test_a_vise_with_all_its_sizes_has_jaws_and_a_bed(setup):
    names = [solid.name for solid in queries.holding_of(says(setup, **VISE), READING)]
    assert names == ["front jaw", "back jaw", "bed of the vise", "table"]


def test_the_jaws_reach_as_high_as_the_grip_over_the_blanks_lower_side(setup):
    says(setup, **VISE)
    (low, _), jaw = queries.stock_box(setup, READING), queries.holding_of(setup, READING)[0]
    assert jaw.box[1][2] == pytest.approx(low[2] + 4.0)


def test_jaws_are_not_guessed_for_a_part_that_stands_at_an_angle(setup):
    says(setup, **VISE, turn_z="30")
    assert queries.holding_of(setup, READING) == () and "at an angle" in queries.why_not_held(setup)


def test_boxes_hold_a_part_that_stands_at_an_angle(setup):
    says(setup, held_by="clamps", solids="clamp: -60 -10 -5, -40 10 12", tilt_x="45")
    names = [solid.name for solid in queries.holding_of(setup, READING)]
    assert names == ["table", "clamp"] and not queries.why_not_held(setup)


def test_the_table_lies_under_the_lowest_edge_of_a_tilted_blank(setup):
    blank = queries.blank_of(setup, READING)
    says(setup, held_by="clamps", solids="clamp: -60 -10 -5, -40 10 12", tilt_x="90")
    table = queries.holding_of(setup, READING)[0]
    assert table.box[1][2] == pytest.approx(blank[0][1] - setup.zero[1].mm)


@pytest.mark.parametrize(
    ("said", "under"), [({}, 70.0), ({"bed_height": "3 in"}, 76.2), ({"parallel_height": "30 mm"}, 100.0)]
)
def test_the_table_lies_under_parallels_and_the_bed_of_the_vise(setup, said, under):
    says(setup, **VISE, **said)
    (low, _), solids = queries.stock_box(setup, READING), queries.holding_of(setup, READING)
    assert solids[-1].box[1][2] == pytest.approx(low[2] - under)


@pytest.mark.parametrize(
    ("said", "words"),
    [(VISE, "70 mm under the bed"), ({**VISE, "bed_height": "80 mm"}, ""), ({"held_by": "clamps"}, "on the table"),
     ({"held_by": "clamps", "parallel_height": "20 mm"}, "")],
)  # fmt: skip
def test_what_is_taken_about_the_table_is_said(setup, said, words):
    taken = queries.table_taken(says(setup, **said))
    assert words in taken and bool(words) == bool(taken)


def test_clamps_are_boxes_on_a_table(setup):
    says(setup, held_by="clamps", solids="left clamp: -60 -10 -5, -40 10 12\n1 2 3 4 5 1/4in")
    solids = queries.holding_of(setup, READING)
    assert [solid.name for solid in solids] == ["table", "left clamp", "clamp"]
    assert solids[2].box == ((1.0, 2.0, 3.0), (4.0, 5.0, 6.35))


@pytest.mark.parametrize("text", ["clamp: 1 2 3", "clamp: a b c, 1 2 3", "clamp: 0 0 0, 1 1 0"])
def test_what_is_no_box_is_refused_with_the_line(text):
    with pytest.raises(NotPossible, match="clamp"):
        queries.own_solids(text)


def test_blanks_that_do_not_differ_are_one_size(setup):
    largest, smallest = queries.blank_range_of(setup, READING)
    assert largest == smallest == queries.blank_of(setup, READING)


def test_blanks_differ_half_on_each_side_and_all_on_top(setup):
    low, high = queries.blank_of(setup, READING)
    largest, smallest = queries.blank_range_of(says(setup, vary_x="2 mm", vary_z="1 mm"), READING)
    assert largest == ((low[0] - 1.0, low[1], low[2]), (high[0] + 1.0, high[1], high[2] + 1.0))
    assert smallest == ((low[0] + 1.0, low[1], low[2]), (high[0] - 1.0, high[1], high[2] - 1.0))


def test_a_blank_cannot_be_smaller_than_nothing(setup):
    with pytest.raises(NotPossible, match="smaller by more"):
        queries.blank_range_of(says(setup, vary_x="500 mm"), READING)


def test_a_round_with_a_hole_is_told_from_a_box(setup):
    form = queries.blank_form(says(setup, blank_round="X", blank_holes="Z 30 15 1/2in\n\ny 1, 2, 3"))
    assert form == BlankForm(0, (Hole(2, (30.0, 15.0), 12.7), Hole(1, (1.0, 2.0), 3.0)))
    assert queries.blank_form(says(setup, blank_round="", blank_holes="")) == BlankForm()


@pytest.mark.parametrize("line", ["Z 1 2", "W 1 2 3", "Z 1 2 0", "Z a b c", "Z"])
def test_what_is_no_hole_is_refused_with_the_line(setup, line):
    with pytest.raises(NotPossible, match=f"“{line}”"):
        queries.blank_form(says(setup, blank_holes=line))
