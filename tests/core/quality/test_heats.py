"""Heats as people type them, shared out over the pieces of an order."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.quality.heats import HeatShare, pattern_of, read_heats, shared_out


@pytest.mark.parametrize(
    ("text", "shares"),
    [
        ("", []),
        ("2211", [("2211", None)]),
        ("2211 × 8, 2212 × 4", [("2211", 8), ("2212", 4)]),
        ("A-17 x8; B x 4", [("A-17", 8), ("B", 4)]),
        ("2211: 8, 2212", [("2211", 8), ("2212", None)]),
        ("2211, 2211", [("2211", None)]),
        ("8 x 12 bar", [("8 x 12 bar", None)]),
    ],
)
def test_heats_are_read_as_they_are_typed(text, shares):
    assert read_heats(text) == [HeatShare(*one) for one in shares]


def test_the_first_heat_is_used_up_before_the_next():
    assert shared_out(read_heats("a × 8, b × 8"), 12) == [HeatShare("a", 8), HeatShare("b", 4)]


def test_a_heat_that_is_not_needed_gets_no_pieces():
    assert shared_out(read_heats("a × 12, b × 8"), 12) == [HeatShare("a", 12)]


@pytest.mark.parametrize("text", ["a, b", "a × 3, b × 4"])
def test_nobody_guesses_where_a_count_is_missing_or_too_small(text):
    assert shared_out(read_heats(text), 12) == []


@given(st.lists(st.integers(1, 50), min_size=1, max_size=5), st.integers(1, 100))
def test_shared_out_pieces_are_all_of_them_or_none(counts, quantity):
    found = shared_out([HeatShare(str(n), count) for n, count in enumerate(counts)], quantity)
    assert sum(one.pieces for one in found) == (quantity if sum(counts) >= quantity else 0)


@pytest.mark.parametrize(
    ("words", "found"), [("2211", True), ("2212", True), ("221", False), ("22.1", False), ("2212 × 4", True)]
)
def test_a_heat_is_found_whole_among_others(words, found):
    assert bool(re.search(pattern_of(words), "2211 × 8, 2212 × 4")) == found
