"""The smallest cover, tilted clampings, and what is toleranced to one another."""

import itertools
from math import cos, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.cover import MOST_EXACT, smallest_cover
from shopflow.core.planning.needs import needs_of
from shopflow.core.planning.orientations import orientations
from shopflow.core.planning.related import relations, together
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tilting.tilts import tilts
from shopflow.core.solid import Pmi, PmiItem
from tests.core.planning.parts import DOWN, RIGHT, UP, a_hole, a_reading

RULES = PlanRules()
CHOICES = 7


@given(st.lists(st.frozensets(st.integers(0, CHOICES - 1), min_size=1), max_size=8))
def test_the_cover_is_as_small_as_brute_force_finds_it(wanted):
    found = smallest_cover(wanted, CHOICES)
    sets = (s for n in range(CHOICES + 1) for s in itertools.combinations(range(CHOICES), n))
    least = next(s for s in sets if all(one & set(s) for one in wanted))
    assert found == least


@given(st.lists(st.frozensets(st.integers(0, 40), min_size=1), max_size=30))
def test_a_cover_of_many_choices_covers_everything(wanted):
    found = smallest_cover(wanted, MOST_EXACT + 23)
    assert all(one & set(found) for one in wanted)


def test_what_nothing_covers_is_refused():
    with pytest.raises(ValueError, match="nothing covers"):
        smallest_cover([frozenset()], 3)


# -- tilts


def slanted(degrees, **changes):
    way = (sin(radians(degrees)), 0.0, cos(radians(degrees)))
    given_ = {"axis": way, "through": False, "bottom": "pointed", "depth_mm": 6.0, "reach": (way,)}
    return a_hole(**{**given_, **changes})


def tilted(*holes):
    _sides, unreached = orientations(needs_of(a_reading(holes=holes), RULES))
    return tilts(unreached)


def test_a_slanted_hole_says_how_the_part_is_tilted_for_it():
    (one,), left = tilted(slanted(30.0))
    assert (one.words, left) == ("30.0° from +Z up", [])


def test_holes_of_one_slant_share_a_clamping():
    made, _left = tilted(slanted(30.0), slanted(30.0, x=40.0), slanted(60.0))
    assert sorted((tilt.words, len(tilt.needs)) for tilt in made) == [("30.0° from +X up", 1), ("30.0° from +Z up", 2)]


def test_a_slanted_hole_through_the_part_takes_the_tilt_that_another_one_needs():
    way = (sin(radians(30.0)), 0.0, cos(radians(30.0)))
    back = (-way[0], 0.0, -way[2])
    made, _left = tilted(slanted(30.0, through=True, reach=(way, back)), slanted(30.0, axis=back, reach=(back,)))
    assert len(made) == 1


# -- toleranced to one another


def with_position(holes, faces, datum_faces):
    items = (
        PmiItem("datum", "datum feature", datums=("A",), faces=datum_faces),
        PmiItem("tolerance", "position", 0.1, datums=("A",), faces=faces),
    )
    return a_reading(holes=holes, pmi=Pmi(tolerances=1, datums=("A",), items=items))


def planned(reading):
    needs = needs_of(reading, RULES)
    sides, _unreached = orientations(needs)
    return together(sides, relations(reading, needs))


def setup_of(sides, hole):
    return next(n for n, side in enumerate(sides, start=1) if hole in side.holes)


def test_a_through_hole_is_cut_with_the_blind_one_it_is_toleranced_to():
    below = a_hole(axis=DOWN, through=False, bottom="flat", depth_mm=6.0, reach=(DOWN,), faces=(8,))
    through = a_hole(40.0, 10.0, faces=(9,))
    more = [a_hole(20.0, float(y), faces=(20 + y,)) for y in range(3)]  # they make +Z the first side
    sides, apart = planned(with_position([below, through, *more], faces=(9,), datum_faces=(8,)))
    assert setup_of(sides, through) == setup_of(sides, below) and apart == []


def test_what_must_be_cut_apart_is_named_with_its_setups():
    above = a_hole(axis=UP, through=False, bottom="flat", depth_mm=6.0, reach=(UP,), faces=(8,))
    beside = a_hole(axis=RIGHT, through=False, bottom="flat", depth_mm=6.0, reach=(RIGHT,), faces=(9,))
    _sides, (apart,) = planned(with_position([above, beside], faces=(9,), datum_faces=(8,)))
    assert apart.what == "position 0.1 to A" and len(apart.setups) == 2


def test_nothing_is_lost_when_features_move():
    below = a_hole(axis=DOWN, through=False, bottom="flat", depth_mm=6.0, reach=(DOWN,), faces=(8,))
    reading = with_position([below, a_hole(faces=(9,))], faces=(9,), datum_faces=(8,))
    before, _ = orientations(needs_of(reading, RULES))
    after, _ = planned(reading)
    assert sorted(n.what for s in after for n in s.needs) == sorted(n.what for s in before for n in s.needs)
