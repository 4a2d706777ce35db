"""One bar for several jobs: what is left behind them and what each pays for."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.blanks.nesting import pieces_from
from shopflow.core.planning.blanks.sharing import Cuts, left_behind, shares

CUTS = st.lists(st.builds(Cuts, st.integers(5, 120), st.integers(1, 6)), min_size=1, max_size=4)
BAR = {"kerf_mm": 2, "stub_mm": 5}


@given(st.integers(50, 900), st.integers(5, 120))
def test_one_job_alone_leaves_what_sawing_equal_pieces_leaves(length, piece):
    fit = pieces_from(length, piece, **BAR)
    if fit.count:
        assert left_behind(length, [Cuts(piece, fit.count)], **BAR) == pytest.approx(fit.left_mm)
    assert left_behind(length, [Cuts(piece, fit.count + 1)], **BAR) is None


@given(st.integers(50, 2000), CUTS, st.integers(0, 200))
def test_what_all_of_them_take_and_what_is_left_add_up_to_the_bar(length, cuts, least):
    found = shares(length, cuts, **BAR, least_mm=least)
    if found is not None:
        assert sum(one.used_mm for one in found) + found[-1].left_mm == pytest.approx(length)


@given(st.integers(50, 2000), CUTS)
def test_nobody_pays_less_than_the_length_of_their_pieces(length, cuts):
    for one, share in zip(cuts, shares(length, cuts, **BAR, least_mm=50) or [], strict=False):
        assert share.used_mm >= one.piece_mm * one.count - 1e-9


@given(st.integers(300, 2000), CUTS)
def test_who_gives_back_leaves_room_for_all_who_come_behind(length, cuts):
    if left_behind(length, cuts, **BAR) is not None:
        assert all(left_behind(length, cuts[:n] + cuts[n + 1 :], **BAR) is not None for n in range(len(cuts)))


def test_the_first_pays_for_the_stub_and_the_last_for_an_end_too_short_to_keep():
    first, last = shares(300, [Cuts(100, 1), Cuts(80, 2)], **BAR, least_mm=50)
    assert (first.used_mm, first.left_mm, last.used_mm, last.left_mm) == (107, 193, 193, 0)  # 193 - 2 × 82 = 29
