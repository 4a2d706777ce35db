"""Reading models with features and mesh, against Open CASCADE's own read, transfer and mesh: `make bench` runs it.

Both run in forks of a warm parent, the slowest of five each. Reach: the median over the files of the time taken, less
0.2 s, at most 1.5 times the baseline.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from shopflow.core import solid  # noqa: E402
from shopflow.core.errors import Unreadable  # noqa: E402

MODELS = ROOT.parent / "shared" / "models"
RUNS, REACH, ALLOWANCE_S = 5, 1.5, 0.2


def ours(path: Path) -> float:
    start = time.perf_counter()
    solid.read(path)
    return time.perf_counter() - start


def baseline(path: Path, kernel: solid.Kernel) -> float:
    try:
        solid.read(path, using=kernel)
    except Unreadable as told:
        return float(told.what)
    raise AssertionError("the baseline tells its time by refusing")


def main() -> None:
    if not MODELS.is_dir():
        print("the folder ../shared/models is not here: nothing to time")
        return
    bare = solid.Kernel(work="tests.bench.solid_baseline")
    ratios = []
    for path in sorted(MODELS.glob("*.[sS][tT]*")):
        try:
            ours(path)
        except Unreadable:
            continue
        # One after the other, so that both meet the same load of the machine.
        runs = [(baseline(path, bare), ours(path)) for _ in range(RUNS)]
        base, took = max(run[0] for run in runs), max(run[1] for run in runs)
        ratios.append((took - ALLOWANCE_S) / base)
        print(f"{path.name:<40} base {base:6.3f} s   read {took:6.3f} s   (read - 0.2) / base {ratios[-1]:5.2f}")
    median = statistics.median(ratios)
    print(f"median {median:.2f}, reach {REACH} {'' if median <= REACH else 'MISSED'}")
    bare.close()
    solid.kernel().close()


if __name__ == "__main__":
    main()
