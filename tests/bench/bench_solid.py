"""Reading models with features and mesh, against Open CASCADE's own read, transfer and mesh: `make bench` runs it.

Both run in forks of a warm parent, the slowest of five each. Reach: the median over the files of the time taken, less
0.2 s, at most 1.5 times the baseline, by the clock: what a person waits. The processor time of all processes of a read
is told beside it, since the clock says too much when something else has one of the two cores that a read works on.
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


def ours(path: Path) -> tuple[float, float]:
    """Seconds by the clock and of processor time."""
    start, before = time.perf_counter(), solid.kernel().cpu_s
    solid.read(path)
    return time.perf_counter() - start, solid.kernel().cpu_s - before


def baseline(path: Path, kernel: solid.Kernel) -> tuple[float, float]:
    before = kernel.cpu_s
    try:
        solid.read(path, using=kernel)
    except Unreadable as told:
        return float(told.what), kernel.cpu_s - before
    raise AssertionError("the baseline tells its time by refusing")


def ratios(path: Path, bare: solid.Kernel) -> tuple[float, float]:
    """By the clock and by the processor, of one file; a line is printed."""
    # One after the other, so that both meet the same load of the machine.
    runs = [(baseline(path, bare), ours(path)) for _ in range(RUNS)]
    by = []
    for which in range(2):
        base, took = (max(run[side][which] for run in runs) for side in range(2))
        by.append((base, took, (took - ALLOWANCE_S) / base))
    told = "   ".join(
        f"{name}: base {base:6.3f} s, read {took:6.3f} s, (read - 0.2) / base {ratio:5.2f}"
        for name, (base, took, ratio) in zip(("clock", "processor"), by, strict=True)
    )
    print(f"{path.name:<36} {told}")
    return by[0][2], by[1][2]


def main() -> None:
    if not MODELS.is_dir():
        print("the folder ../shared/models is not here: nothing to time")
        return
    bare = solid.Kernel(work="tests.bench.solid_baseline")
    found = []
    for path in sorted(MODELS.glob("*.[sS][tT]*")):
        try:
            ours(path)
        except Unreadable:
            continue
        found.append(ratios(path, bare))
    by_clock, by_processor = (statistics.median(values) for values in zip(*found, strict=True))
    print(f"median by the clock {by_clock:.2f}, reach {REACH} {'' if by_clock <= REACH else 'MISSED'}")
    print(f"median by the processor {by_processor:.2f}: for comparison on a busy machine")
    bare.close()
    solid.kernel().close()


if __name__ == "__main__":
    main()
