"""Sampling plans of MIL-STD-105E, and which pieces are measured."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.quality.milstd105e import AQLS, LEVELS
from shopflow.core.quality.sampling import NotASampling, Plan, asked_of, code_letter, read_rule, single

REFERENCE = Path(__file__).resolve().parents[4] / "shared" / "reference"
LOTS = st.integers(2, 600_000)


def reference(name):
    if not REFERENCE.exists():
        pytest.skip("the folder ../shared/reference is not here: its tables were not compared")
    return list(csv.DictReader((REFERENCE / name).read_text(encoding="utf-8").splitlines()[1:]))


def test_code_letters_are_those_of_table_one():
    """MIL-STD-105E table I, as the reference folder has it."""
    for row in reference("milstd105e-code-letters.csv"):
        ends = [int(row["lot_from"]), int(row["lot_to"] or 10**9)]
        assert [code_letter(lot, level) for lot in ends for level in LEVELS] == [row[level] for level in LEVELS] * 2


def followed(rows, index, column):
    """The reference's own cell, its arrows followed."""
    while (cell := rows[index][column]) in ("v", "^"):
        index += 1 if cell == "v" else -1
    return rows[index]["code"], int(rows[index]["n"]), int(cell.split("/")[0]), int(cell.split("/")[1])


def test_plans_are_those_of_table_two_a():
    """MIL-STD-105E table II-A, single sampling, normal inspection, as the reference folder has it."""
    rows = reference("milstd105e-normal-single.csv")
    lots = {row["II"]: int(row["lot_to"] or 10**7) for row in reference("milstd105e-code-letters.csv")}
    for index, row in enumerate(rows):
        lot = lots.get(row["code"])
        for aql in AQLS if lot else ():
            letter, size, accept, reject = followed(rows, index, f"AQL_{aql}")
            found = single(lot, aql)
            assert (found.letter, found.size, found.accept, found.reject) == (letter, min(size, lot), accept, reject)


def test_a_worked_example_of_the_table():
    """Lot of 1,000, level II, AQL 1.0: letter J, sample 80, accept on 2 (read off tables I and II-A)."""
    assert single(1000, "1.0") == Plan("J", 80, 2)


def test_an_arrow_down_takes_the_larger_sample_of_the_plan_below():
    """Lot of 20, level II, AQL 1.5: letter C points down to D, 8 pieces, accept on 0."""
    assert single(20, "1.5") == Plan("D", 8, 0)


@given(LOTS, st.sampled_from(AQLS), st.sampled_from(LEVELS))
def test_a_sample_is_never_larger_than_its_lot(lot, aql, level):
    assert 0 < single(lot, aql, level).size <= lot


def test_values_that_the_standard_does_not_have_are_refused():
    with pytest.raises(KeyError, match="AQL"):
        single(100, "3")
    with pytest.raises(KeyError, match="levels"):
        code_letter(100, "IV")


@pytest.mark.parametrize(
    ("text", "pieces"),
    [("first", {1}), ("1 in 5", {1, 6, 11}), ("all", set(range(1, 13))), ("1 in 50", {1})],
)
def test_the_pieces_that_are_measured(text, pieces):
    assert asked_of(read_rule(text), 12).pieces == pieces


def test_one_piece_of_the_lot_suffices_where_nothing_else_was_said():
    assert asked_of(read_rule(""), 12).any_one


@given(st.integers(1, 400), st.sampled_from(AQLS), st.text(max_size=4))
def test_a_draw_has_the_size_of_its_plan_and_lies_in_the_lot(lot, aql, seed):
    asked = asked_of(read_rule(f"AQL {aql}"), lot, seed=seed)
    assert len(asked.pieces) == asked.plan.size and asked.pieces <= set(range(1, lot + 1))


@given(st.integers(2, 60), st.text(max_size=4))
def test_a_lot_that_lost_a_piece_keeps_the_rest_of_its_draw(lot, seed):
    before, after = (asked_of(read_rule("AQL 4.0"), size, seed=seed).pieces for size in (lot, lot - 1))
    assert len(after) < len(before) or before - {lot} <= after


def test_another_lot_draws_other_pieces():
    draws = {asked_of(read_rule("AQL 1.0"), 100, seed=str(n)).pieces for n in range(20)}
    assert len(draws) > 15


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("", ""), ("one", ""), (" First ", "first"), ("ALL", "all"), ("1in10", "1 in 10"), ("1/10", "1 in 10"),
        ("aql 1", "AQL 1.0 level II"), ("AQL 0,65 level i", "AQL 0.65 level I"), ("AQL 10.0 S2", "AQL 10 level S2"),
    ],
)  # fmt: skip
def test_what_is_typed_is_kept_in_one_form_that_reads_the_same(typed, kept):
    assert str(read_rule(typed)) == kept and read_rule(kept) == read_rule(typed)


@pytest.mark.parametrize("typed", ["some", "1 in 0", "AQL", "AQL 3", "2 in 5", "AQL 1.0 level IV"])
def test_what_says_no_sampling_is_refused_with_what_would(typed):
    with pytest.raises(NotASampling, match="Type first|It has 0.010"):
        read_rule(typed)
