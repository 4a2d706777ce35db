"""That the bench of the home page still runs: it fills tables by statements of its own that nothing else would miss."""

import os
import subprocess
import sys

from tests.services import ROOT


def test_the_bench_of_the_home_page_fills_its_shops_and_times_them():
    done = subprocess.run(
        [sys.executable, "tests/bench/bench_home.py"],
        cwd=ROOT,
        env=os.environ | {"BENCH_SMALL": "1"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert "queries, reach" in done.stdout
