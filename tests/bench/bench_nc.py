"""Reading programs: a 100,000-line 3D program into motion arrays, against PyPI gcodeparser splitting the same text.

`make bench` runs it. After compiling, the slowest of five of ours against the fastest of two of the baseline's. Reach:
20 times as fast, and a million lines under 600 MB of memory.
"""

from __future__ import annotations

import math
import resource
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from shopflow.core import nc  # noqa: E402

REACH, MOST_MEMORY_MB = 20.0, 600.0


def surface_program(lines: int) -> bytes:
    """Parallel passes over a wavy surface in short moves, four decimals; G1 in each line, as the baseline needs it."""
    out = ["G17 G21 G90 G94 G54", "T1 M6", "G43 H1", "S12000 M3", "G0 X0 Y0 Z5", "G1 Z0 F2000"]
    for step in range(lines - len(out) - 2):
        x, y = (step % 500) * 0.2, (step // 500) * 0.25
        z = math.sin(x / 7) * math.cos(y / 5) * 4
        out.append(f"G1 X{x:.4f} Y{y:.4f} Z{z:.4f}")
    return "\n".join([*out, "G0 Z50", "M30", ""]).encode()


def seconds(work: object, runs: int) -> list[float]:
    times = []
    for _ in range(runs):
        begin = time.perf_counter()
        work()  # type: ignore[operator]
        times.append(time.perf_counter() - begin)
    return times


def compare(lines: int) -> bool:
    from gcodeparser import parse_gcode_lines

    data = surface_program(lines)
    text = data.decode()
    nc.read(data, fast=True)
    ours = max(seconds(lambda: nc.read(data), 5))
    theirs = min(seconds(lambda: list(parse_gcode_lines(text)), 2))
    ratio = theirs / ours
    print(
        f"{lines:,} lines: ours {ours * 1000:.0f} ms (slowest of 5), gcodeparser {theirs * 1000:.0f} ms (fastest of 2)"
    )
    print(f"{ratio:.1f} times as fast, reach {REACH:.0f} times{'' if ratio >= REACH else '  MISSED'}")
    return ratio >= REACH


def read_a_million() -> None:
    """In a process of its own: prints seconds and the peak of its memory in MB."""
    data = surface_program(1_000_000)
    begin = time.perf_counter()
    program = nc.read(data)
    taken = time.perf_counter() - begin
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(len(program.motions), f"{taken:.2f}", f"{peak:.0f}")


def million() -> None:
    done = subprocess.run([sys.executable, __file__, "million"], capture_output=True, text=True, check=True)
    motions, taken, peak = done.stdout.split()
    missed = "" if float(peak) < MOST_MEMORY_MB else "  MISSED"
    print(
        f"1,000,000 lines: {int(motions):,} motions in {taken} s, peak {peak} MB, reach {MOST_MEMORY_MB:.0f} MB{missed}"
    )


if __name__ == "__main__":
    if sys.argv[1:] == ["million"]:
        read_a_million()
    else:
        compare(100_000)
        million()
