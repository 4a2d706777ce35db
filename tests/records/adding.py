"""A piece of long work for tests: adding up 1 to 20, one step at a time."""

import os
import time

from shopflow.records import ledger

STEPS = 20
SUM = 210


def pause() -> None:
    """Between two steps; a test may put something here, or the seconds into the environment of another process."""
    time.sleep(float(os.environ.get("ADDING_PAUSE_S", "0")))


def add_up(work, progress):
    total = 0
    for number in range(1, STEPS + 1):
        total += number
        progress(100 * number / STEPS, f"adding {number}")
        pause()
    return {"sum": total}


def note(work, result):
    ledger.append("added_up", chain="job:1", subject=("work", work.pk), by=None, sum=result["sum"])
