"""Two revisions compared for the page: what the difference does to time, reach and feeds."""

from dataclasses import replace

import pytest

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.programs.comparing import ReadAs, compare

BEFORE = b"G17 G21 G90 G54 G94 S1000 M3\nG0 X0 Y0 Z5\nG1 Z-1 F100\nX60\nY30 F200\nG0 Z5\nM30\n"


def compared(old, new, machine=None):
    assert old in BEFORE
    return compare(BEFORE, BEFORE.replace(old, new, 1), ReadAs(nc.CONTROLS["calculator"], machine))


def test_a_faster_feed_is_told_with_the_time_that_it_saves():
    found = compared(b"F100", b"F300")
    assert (found["removed_feeds"], found["added_feeds"]) == ([100.0], [300.0])
    assert found["slower"] == 0
    assert found["faster"] == pytest.approx(66 / 100 * 60 - 66 / 300 * 60, abs=1)


def test_a_longer_way_is_told_with_the_axis_that_it_reaches_along():
    found = compared(b"X60", b"X90")
    assert found["reach"] == [{"axis": "X", "before": (0.0, 60.0), "after": (0.0, 90.0)}]
    assert found["slower"] > 0


def test_a_comment_changes_neither_time_nor_reach():
    found = compared(b"X60", b"X60 (wall)")
    assert (found["slower"], found["faster"], found["reach"]) == (0, 0, [])


def test_the_time_is_that_of_the_machine_of_the_plan():
    """60 mm further at rapid-like feed: a slow axis reaches the feed later, so that the same change costs it more."""
    slow = replace(TYPICAL_MACHINE, name="old mill", acceleration_mm_s2=(50.0, 50.0, 50.0))
    changed = b"X60 F9000", b"X200 F9000"
    before = BEFORE.replace(b"X60", changed[0])
    typical, old = (
        compare(before, before.replace(*changed), ReadAs(nc.CONTROLS["calculator"], machine))
        for machine in (None, slow)
    )
    assert (typical["machine"], old["machine"]) == ("", "old mill")
    assert old["slower"] > typical["slower"] > 0
