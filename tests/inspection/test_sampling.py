"""The inspection step asks for what the plan says: which pieces, and when a sample refuses the lot."""

import pytest

from shopflow.floor.actions import NotNow
from shopflow.inspection import actions, queries
from tests.floor.objects import op
from tests.inspection.objects import at_the_bench, balloon

PIECES = 3


@pytest.fixture
def lot(lead):
    found = at_the_bench(lead, quantity=PIECES)
    balloon(found, 2).delete()
    return found


def sampled(lot, text):
    row = balloon(lot, 1)
    row.sampling = text
    row.save()
    return row


def measured(lot, lead, **values):
    """p1="10.02" measures piece 1."""
    for piece, value in values.items():
        actions.measure(balloon(lot, 1), lot, int(piece[1:]), value, by=lead)


def points(lot):
    return " ".join(queries.open_points(lot, op(lot, 40)))


def test_without_a_sampling_one_piece_of_the_lot_is_enough(lot, lead):
    measured(lot, lead, p3="10.02")
    assert points(lot) == ""


def test_every_piece_is_asked_for_where_the_plan_says_all(lot, lead):
    sampled(lot, "all")
    measured(lot, lead, p1="10.02")
    assert "1 (piece 2, 3)" in points(lot)


def test_one_in_two_asks_for_the_first_and_the_third(lot, lead):
    sampled(lot, "1 in 2")
    measured(lot, lead, p2="10.02")
    assert "1 (piece 1, 3)" in points(lot)


def test_the_first_piece_is_enough_where_the_plan_says_first(lot, lead):
    sampled(lot, "first")
    measured(lot, lead, p1="10.02")
    assert points(lot) == ""


def test_pieces_do_not_pass_before_the_sample_is_measured(lot, lead):
    sampled(lot, "all")
    with pytest.raises(NotNow, match="Not measured yet"):
        actions.pass_pieces(lot, op(lot, 40), PIECES, by=lead)


def drawn(lot):
    """Pieces of the draw: 2 of 3 at AQL 6.5 (letter A), accepted on none."""
    (row,) = queries.table(lot, op(lot, 40))
    return sorted(cell.piece for cell in row.cells if cell.is_asked)


def test_a_sample_of_the_standard_has_its_size(lot, lead):
    sampled(lot, "AQL 6.5 level II")
    assert len(drawn(lot)) == 2


def test_a_lot_whose_sample_missed_is_measured_piece_by_piece(lot, lead):
    sampled(lot, "AQL 6.5 level II")
    one, other = drawn(lot)
    measured(lot, lead, **{f"p{one}": "11.00", f"p{other}": "10.02"})
    assert "the lot is not accepted" in points(lot) and len(drawn(lot)) == PIECES


def test_a_piece_that_was_reworked_does_not_make_the_sample_good_again(lot, lead):
    sampled(lot, "AQL 6.5 level II")
    one, other = drawn(lot)
    measured(lot, lead, **{f"p{one}": "11.00", f"p{other}": "10.02"})
    measured(lot, lead, **{f"p{one}": "10.03"})
    assert "the lot is not accepted" in points(lot)


def test_pieces_that_come_later_have_numbers_of_their_own(lot, lead):
    sampled(lot, "all")
    measured(lot, lead, p1="10.02", p2="10.02", p3="10.02")
    actions.pass_pieces(lot, op(lot, 40), 2, by=lead)
    assert queries.pieces_to_measure(lot, op(lot, 40)) == [1, 2, 3]
