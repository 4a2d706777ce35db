"""How fast a plan is proposed for parts with many holes, against 2 seconds; and how that grows with the holes.

`make bench` runs it. The model is read before; the slowest of five.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from shopflow.core.planning import Given, propose  # noqa: E402
from shopflow.core.types import Material  # noqa: E402
from tests.core.planning.parts import MILL, a_hole, a_pocket, a_reading, hss, tool  # noqa: E402

REACH_S = 2.0
STEEL = Material("1018", "low carbon steel", 7870.0, 0.05)
CRIB = [
    tool(1, "face mill", 50.0),
    *(tool(10 + n, "flat end mill", float(n)) for n in range(2, 21)),
    *(hss(40 + n, "drill", 2.0 + n / 10, flute_length_mm=80.0) for n in range(120)),
    tool(2, "spot drill", 10.0, point_angle_deg=90.0),
    tool(3, "chamfer mill", 10.0, point_angle_deg=90.0),
]


def a_part(holes, *, sizes):
    """A plate with this many holes, of so many different sizes, and a tenth as many pockets."""
    made = [a_hole(float(n % 40) * 10, float(n // 40) * 10, diameter_mm=3.0 + n % sizes / 10) for n in range(holes)]
    pockets = [a_pocket(depth_mm=5.0 + n / 10) for n in range(holes // 10)]
    return a_reading(size=(420.0, 120.0, 20.0), holes=made, pockets=tuple(pockets))


def slowest(reading):
    seconds = []
    for _ in range(5):
        began = time.perf_counter()
        propose(reading, Given(crib=CRIB, machines=[MILL], material=STEEL))
        seconds.append(time.perf_counter() - began)
    return max(seconds)


def main():
    for holes, sizes in ((20, 20), (200, 1), (200, 100), (200, 200), (1000, 100)):
        seconds = slowest(a_part(holes, sizes=sizes))
        missed = "" if holes > 200 or seconds < REACH_S else "  MISSED"
        print(f"plan of {holes:5d} holes of {sizes:3d} sizes: {seconds:6.3f} s (reach {REACH_S:g} s for 200){missed}")


if __name__ == "__main__":
    main()
