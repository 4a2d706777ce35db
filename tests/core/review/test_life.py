"""How long a tool lasts, against counts by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.review.life import lasts, use_of
from tests.core.nc.reading_help import CALCULATOR
from tests.core.review.test_rules import HEAD, TAIL


@pytest.mark.parametrize(
    ("each", "left", "pieces", "after"),
    [(4.0, 30.0, 20, 7), (4.0, 80.0, 20, None), (4.0, 3.9, 1, 0), (0.0, 0.0, 20, None), (0.1, 0.7, 8, 7)],
)
def test_a_tool_runs_out_after_the_last_whole_piece(each, left, pieces, after):
    assert lasts(each, left, pieces) == after


@given(each=st.floats(0.01, 50), left=st.floats(0, 500), pieces=st.integers(1, 200))
def test_what_is_cut_before_a_tool_runs_out_fits_into_what_is_left(each, left, pieces):
    after = lasts(each, left, pieces)
    cut = pieces if after is None else after
    assert cut * each <= left * 1.001 + 1e-6 and (after is None or after < pieces)


def asked(body):
    motions = nc.read((HEAD + body + TAIL).encode(), control=CALCULATOR).motions
    return use_of(motions, np.full(len(motions), 30.0), slice(None)), motions


def test_a_place_is_one_hole_however_often_it_is_pecked():
    use, _ = asked("G83 X0. Y0. Z-20. R2. Q4. F100.\nX20.\nG80\nG81 X0. Y0. Z-20. R2.")
    assert use.holes == 2


def test_only_motions_at_feed_count_as_minutes():
    use, motions = asked("G1 X10. F100.\nG0 X50.\nG1 X60.")
    assert use.minutes == pytest.approx(int(motions.feeds.sum()) * 0.5)


def test_a_way_to_the_side_is_no_hole():
    use, _ = asked("G1 X10. Z-1. F100.\nX20.")
    assert use.holes == 0
