"""Bars, nesting and the ranking of what to saw blanks from."""

import csv
import itertools
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.blanks.bars import (
    COMMON_ROUND_IN,
    COMMON_THICK_IN,
    Bar,
    Section,
    cold_finished_minus_mm,
    common_plate_mm,
    common_round_mm,
    fits_hexagon,
    ways,
)
from shopflow.core.planning.blanks.nesting import Length, bars_to_open, pieces_from
from shopflow.core.planning.blanks.options import Sawing, stock_options

REFERENCE = Path(__file__).resolve().parents[4] / "shared" / "reference"
LENGTHS = st.integers(1, 400)


def flat(key="B-01", t=20.0, w=50.0, length=1000.0, **fields):
    return Bar(key, Section.FLAT, t, w, length, **{"on_rack": 1, "heat": "H1", **fields})


# -- pieces from one bar


def cut_one_by_one(length, piece, kerf, stub):
    """What a person at the saw does: the stub, then a piece and a kerf at a time while a whole piece is left."""
    left, count = length - stub, 0
    while left >= piece:
        count += 1
        left = max(0, left - piece - kerf)
    return (count, left) if count else (0, length)


@given(LENGTHS, LENGTHS, st.integers(0, 5), st.integers(0, 20))
def test_a_bar_gives_what_sawing_piece_by_piece_gives(length, piece, kerf, stub):
    fit = pieces_from(length, piece, kerf_mm=kerf, stub_mm=stub)
    assert (fit.count, fit.left_mm) == pytest.approx(cut_one_by_one(length, piece, kerf, stub))


@given(LENGTHS, LENGTHS, st.integers(0, 5), st.integers(0, 20))
def test_pieces_cuts_stub_and_remnant_add_up_to_the_bar(length, piece, kerf, stub):
    fit = pieces_from(length, piece, kerf_mm=kerf, stub_mm=stub)
    if fit.left_mm and fit.count:
        assert stub + fit.count * (piece + kerf) + fit.left_mm == pytest.approx(length)


def test_a_piece_that_is_no_length_is_refused():
    with pytest.raises(ValueError, match="longer than 0"):
        pieces_from(100, 0, kerf_mm=2, stub_mm=0)


# -- which bars to open

BARS = st.lists(st.tuples(st.integers(1, 60), st.integers(0, 5)), max_size=7)


@given(st.integers(0, 18), BARS)
def test_the_bars_opened_are_the_shortest_set_that_gives_the_pieces(pieces, given_bars):
    bars = [Length(str(n), length, capacity) for n, (length, capacity) in enumerate(given_bars)]
    chosen = bars_to_open(pieces, bars)
    sets = [s for n in range(len(bars) + 1) for s in itertools.combinations(range(len(bars)), n)]
    enough = [s for s in sets if sum(bars[i].capacity for i in s) >= pieces]
    if enough:
        best = min((sum(bars[i].length_mm for i in s), len(s)) for s in enough)
        assert (sum(bars[i].length_mm for i in chosen), len(chosen)) == best
    else:
        assert chosen == [n for n, bar in enumerate(bars) if bar.capacity]


def test_a_rack_too_large_to_search_gives_enough_all_the_same():
    bars = [Length(str(n), 100.0, n % 7) for n in range(400)]
    chosen = bars_to_open(900, bars)
    assert sum(bars[i].capacity for i in chosen) >= 900 and len(set(chosen)) == len(chosen)


# -- how a blank lies in a bar


def test_a_blank_lies_along_a_flat_bar_in_each_way_that_its_section_allows():
    assert [(way.along, way.thick, way.size_mm) for way in ways((100, 48, 18), flat())] == [(0, 2, (100, 50, 20))]


def test_a_bar_that_may_come_thinner_than_the_blank_gives_none():
    assert ways((100, 48, 19.9), flat(minus_mm=0.2)) == []


def test_a_blank_longer_than_the_bar_does_not_come_out_of_it():
    assert ways((1001, 48, 18), flat()) == []


@given(st.floats(1, 50), st.floats(1, 50))
def test_a_rectangle_comes_out_of_a_round_exactly_when_its_diagonal_does(a, b):
    bar = Bar("R", Section.ROUND, 40.0, 0.0, 1000.0)
    assert bool(ways((a, b, 900.0), bar)) == (math.hypot(a, b) <= 40.0 + 1e-6)


@given(st.floats(1, 50), st.floats(1, 50))
def test_a_rectangle_fits_a_hexagon_exactly_when_its_corners_lie_inside(a, b):
    corners = [(x * a / 2, y * b / 2) for x in (-1, 1) for y in (-1, 1)]
    normals = [(math.cos(math.radians(30 + 60 * n)), math.sin(math.radians(30 + 60 * n))) for n in range(6)]
    inside = all(x * nx + y * ny <= 20.0 + 1e-6 for x, y in corners for nx, ny in normals)
    assert fits_hexagon(a, b, 40.0) == inside


def test_a_plate_is_sawn_to_width_as_often_as_it_gives():
    plate = Bar("P", Section.PLATE, 20.0, 300.0, 500.0, kerf_mm=2.0)
    way = next(way for way in ways((100, 60, 18), plate) if way.along == 0)
    assert (way.across, way.size_mm) == (4, (100, 60, 20.0))  # 4 × 60 + 3 × 2 = 246, a fifth would need 308


# -- the ranking


def option_for(pieces, *bars, need=(100.0, 48.0, 18.0), **sawing):
    return stock_options(need, 50_000.0, pieces, bars, Sawing(**sawing))


def test_what_is_on_the_rack_comes_before_what_is_cheaper_to_buy():
    dear, cheap = flat("A", price=90.0), flat("B", t=22.0, on_rack=0, price=10.0)
    assert [option.bar.key for option in option_for(4, cheap, dear)] == ["A", "B"]


def test_one_heat_is_taken_where_one_suffices():
    (option,) = option_for(
        9, flat("A", heat="H1", length=500.0), flat("B", heat="H2", length=500.0), flat("C", heat="H3")
    )
    assert option.heats == ("H3",)


def test_two_heats_are_named_where_one_is_not_enough():
    (option,) = option_for(12, flat("A", heat="H1"), flat("B", heat="H2"))
    assert option.heats == ("H1", "H2") and "needs 2 heats" in option.why


def test_remnants_are_used_up_before_a_new_bar_is_opened():
    remnants = flat("R", length=310.0, on_rack=2, is_clean=True)
    (option,) = option_for(6, flat("A"), remnants)
    assert [(pick.key, pick.bars, pick.pieces) for pick in option.picks] == [("R", 2, 3)]


def test_what_the_rack_does_not_give_is_bought_in_full_bars():
    (option,) = option_for(20, flat("A"))
    assert (option.missing, option.to_buy, option.why[0]) == (11, 2, "2 to buy")


def test_a_short_end_is_no_remnant():
    (long,) = option_for(8, flat("A"), least_remnant_mm=150.0)
    (short,) = option_for(8, flat("A"), least_remnant_mm=250.0)
    assert (long.picks[0].left_mm, short.picks[0].left_mm) == (179.0, 0.0)  # 1000 - 5 - 8 × 102


def test_the_yield_is_part_over_what_is_sawn_off():
    (option,) = option_for(8, flat("A"), least_remnant_mm=150.0)
    assert option.yield_share == pytest.approx(8 * 50_000 / ((1000 - 179) * 20 * 50))


def test_a_remnant_that_goes_back_is_not_paid_for():
    (option,) = option_for(8, flat("A", price=100.0), least_remnant_mm=150.0)
    assert option.cost == pytest.approx(82.1)


# -- tables of the trade


def reference(name):
    if not REFERENCE.exists():
        pytest.skip("the folder ../shared/reference is not here: its tables were not compared")
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()[1:]
    return list(csv.DictReader(lines))


def test_cold_finished_tolerances_are_those_of_astm_a108():
    """ASTM A108-03 table A1.1 as a bar maker reproduces it (stated in the reference file)."""
    shapes = {"round": Section.ROUND, "hexagon": Section.HEXAGON, "flat": Section.FLAT}
    for row in reference("cold-finished-bar-tolerance.csv"):
        if row["shape"] in shapes:
            found = cold_finished_minus_mm(shapes[row["shape"]], float(row["to_in"]) * 25.4)
            assert found == pytest.approx(float(row["minus_in_max_C_0.28pct"]) * 25.4), row


def test_a_size_between_the_rows_of_the_table_has_no_tolerance():
    assert cold_finished_minus_mm(Section.ROUND, 3 * 25.4) is None


def test_common_sizes_are_those_of_the_reference():
    """Common US warehouse sizes: common practice, no source."""
    rows = reference("stock-sizes-inch.csv")
    read = {shape: [_inches(row["size_in"]) for row in rows if row["shape"] == shape] for shape in
            ("plate thickness", "round diameter")}  # fmt: skip
    assert list(COMMON_THICK_IN) == read["plate thickness"] and list(COMMON_ROUND_IN) == read["round diameter"]


def _inches(text):
    whole, _, part = text.partition("-") if "-" in text else ("0", "", text)
    top, _, bottom = part.partition("/")
    return float(whole) + float(top) / float(bottom or 1)


def test_a_blank_thicker_than_every_common_plate_has_none():
    assert common_plate_mm((200.0, 200.0, 110.0)) is None and common_round_mm((300.0, 200.0, 200.0)) is None
