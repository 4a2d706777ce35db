"""Square views drawn a hair off the part's axis, which no eye sees, and put back on it.

Exactly along a hole its wall is a line, and taking hidden lines away takes three to eight times as long over it.
"""

from __future__ import annotations

from dataclasses import replace

from shopflow.core.solid.drawing import Drawing, Polyline, View
from shopflow.core.solid.values import Vector

HAIR = 1e-4
"""Radians: 0.005 mm over a wall of 50 mm."""
ROUNDING_MM = 0.1
"""A drawing and the part's own box differ by less, unless the box is that of other solids."""


def off_axis(view: View) -> View:
    """The view turned by a hair."""
    ways = zip(view.towards, view.flat_right, view.up, strict=True)
    x, y, z = (t + HAIR * r + 0.7 * HAIR * u for t, r, u in ways)
    return View(view.name, (x, y, z), view.right)


def on_axis(drawing: Drawing, view: View, box: tuple[Vector, Vector] | None) -> Drawing:
    """What was drawn a hair off the axis, as seen along it: its sizes are those of the part's box again."""
    if box is None:
        return replace(drawing, view=view)
    (low, high), ends = drawing.box(), [view.place(corner) for corner in box]
    true = [(min(values), max(values)) for values in zip(*ends, strict=True)]
    spans = [(low[i], high[i], *true[i]) for i in (0, 1)]
    if any(abs(a - c) > ROUNDING_MM or abs(b - d) > ROUNDING_MM or b <= a for a, b, c, d in spans):
        return replace(drawing, view=view)

    def moved(lines: tuple[Polyline, ...]) -> tuple[Polyline, ...]:
        return tuple(tuple((_onto(x, *spans[0]), _onto(y, *spans[1])) for x, y in line) for line in lines)

    return replace(
        drawing,
        view=view,
        visible=moved(drawing.visible),
        smooth=moved(drawing.smooth),
        hidden=moved(drawing.hidden),
    )


def _onto(value: float, low: float, high: float, true_low: float, true_high: float) -> float:
    return true_low + (value - low) * (true_high - true_low) / (high - low)
