"""Closed forms of a body of revolution swept along a straight move, as numba compiles them.

In the frame of a move: u along it and v across it in the plan, mm from its start; s the way gone; rise: mm up a mm
gone. The lower end of a body is convex, so its height over a place, as the body goes by, is convex in s: the lowest
point is where the slope vanishes, or at an end of the stretch in which the body covers the place.
"""

from __future__ import annotations

import math

from shopflow.core.stock.compiled import compiled, compiled_inline

NOTHING = 1e30
"""Height where the body never comes."""

BISECTIONS = 18
"""For a rounded corner on a slope, which has no closed form: leaves less than 1e-6 of the corner radius."""


@compiled_inline
def height_of(squared: float, flat: float, curve: float, end: int) -> float:
    """Height of the lower end over its lowest point at a radius, given its square; the radius must be inside."""
    if squared <= flat * flat:
        return 0.0
    if end == 1:
        if flat == 0.0:
            return curve - math.sqrt(max(curve * curve - squared, 0.0))
        away = math.sqrt(squared) - flat
        return curve - math.sqrt(max(curve * curve - away * away, 0.0))
    return curve * (math.sqrt(squared) - flat)


@compiled_inline
def radius_at(height: float, flat: float, radius: float, curve: float, end: int) -> float:
    """Radius of the body at a height over its lowest point, height >= 0."""
    if end == 1:
        if height >= curve:
            return radius
        away = curve - height
        return flat + math.sqrt(max(curve * curve - away * away, 0.0))
    if curve <= 0.0:
        return radius
    return min(radius, flat + height / curve)


@compiled
def rounded_reach(across2: float, flat: float, curve: float, steep: float) -> float:
    """How far before a place, along the move, the rounded corner on a slope is lowest over it."""
    low = max(0.0, math.sqrt(across2) - flat)
    high = curve
    for _ in range(BISECTIONS):
        q = 0.5 * (low + high)
        r = flat + q
        reach = math.sqrt(max(r * r - across2, 0.0))
        if q * reach < steep * r * math.sqrt(max(curve * curve - q * q, 0.0)):
            low = q
        else:
            high = q
    r = flat + 0.5 * (low + high)
    return math.sqrt(max(r * r - across2, 0.0))


@compiled_inline
def reach_of(across2: float, flat: float, radius: float, curve: float, end: int, steep: float) -> float:
    """How far before a place, along the move, the body on a slope is lowest over it, were the move endless.

    across2: square of the distance from the line of the move, at most radius². steep: |rise|.
    """
    if end == 1:
        if flat == 0.0:
            return steep * math.sqrt(max(radius * radius - across2, 0.0) / (1.0 + steep * steep))
        return rounded_reach(across2, flat, curve, steep)
    over_flat = math.sqrt(max(flat * flat - across2, 0.0))
    if curve <= steep:
        return math.sqrt(max(radius * radius - across2, 0.0))
    return max(over_flat, math.sqrt(across2) * steep / math.sqrt(curve * curve - steep * steep))


@compiled_inline
def lowest(
    u: float, v: float, length: float, rise: float, flat: float, radius: float, curve: float, end: int
) -> tuple[float, float]:
    """Lowest height that the body reaches over a place, over its lowest point at the start, and the way gone there.

    (NOTHING, 0) where it never covers the place.
    """
    across2 = v * v
    if across2 > radius * radius:
        return NOTHING, 0.0
    s = min(max(u, 0.0), length)
    if rise != 0.0:
        half = math.sqrt(radius * radius - across2)
        first, last = max(0.0, u - half), min(length, u + half)
        if first > last:
            return NOTHING, 0.0
        steep = abs(rise)
        reach = min(reach_of(across2, flat, radius, curve, end, steep), half)
        s = u - reach if rise > 0.0 else u + reach
        s = min(max(s, first), last)
    squared = (u - s) ** 2 + across2
    if squared > radius * radius * (1.0 + 1e-12):
        return NOTHING, 0.0
    return rise * s + height_of(squared, flat, curve, end), s


@compiled_inline
def highest_rim(u: float, v: float, length: float, rise: float, radius: float) -> float:
    """Highest that the body's start height goes while it covers a place; the place must be covered."""
    half = math.sqrt(max(radius * radius - v * v, 0.0))
    return rise * (min(length, u + half) if rise > 0.0 else max(0.0, u - half))


@compiled
def band(place: float, x0: float, y0: float, x1: float, y1: float, radius: float) -> tuple[float, float]:
    """Lowest and highest y that a disc covers at x = place when it goes from (x0, y0) to (x1, y1); low > high: none."""
    low, high = 1e30, -1e30
    for k in range(2):
        x, y = (x0, y0) if k == 0 else (x1, y1)
        squared = radius * radius - (place - x) ** 2
        if squared >= 0.0:
            half = math.sqrt(squared)
            low, high = min(low, y - half), max(high, y + half)
    dx, dy = x1 - x0, y1 - y0
    length = math.sqrt(dx * dx + dy * dy)
    if length > 0.0 and dx != 0.0:
        for k in range(2):
            side = radius if k == 0 else -radius
            share = (place - x0 + side * dy / length) / dx
            if 0.0 <= share <= 1.0:
                y = y0 + share * dy + side * dx / length
                low, high = min(low, y), max(high, y)
    return low, high


@compiled
def gap_to(u: float, v: float, length: float, start: float, rise: float, radius: float, top: float) -> float:
    """Distance from a cylinder that goes by to material below a height, standing at one place; start: its tip's height.

    The cylinder reaches up without end and is `radius` wide, so that a ball or a point is nearer here than it really
    is.
    """
    low, high = 0.0, length
    for _ in range(40 if rise != 0.0 else 1):
        if rise == 0.0:
            low = high = min(max(u, 0.0), length)
            break
        one, two = low + (high - low) / 3.0, high - (high - low) / 3.0
        if _apart2(u, v, one, start + rise * one, radius, top) <= _apart2(u, v, two, start + rise * two, radius, top):
            high = two
        else:
            low = one
    s = 0.5 * (low + high)
    return math.sqrt(_apart2(u, v, s, start + rise * s, radius, top))


@compiled_inline
def _apart2(u: float, v: float, s: float, tip: float, radius: float, top: float) -> float:
    """Square of the distance from a cylinder at way s to the top of the material at a place."""
    level = max(math.sqrt((u - s) ** 2 + v * v) - radius, 0.0)
    upright = max(tip - top, 0.0)
    return level * level + upright * upright


def warm() -> None:
    """Compile for floats."""
    lowest(0.0, 0.0, 1.0, 0.5, 1.0, 2.0, 1.0, 1)
    highest_rim(0.0, 0.0, 1.0, 0.0, 1.0)
    band(0.0, 0.0, 0.0, 1.0, 1.0, 1.0)
    gap_to(0.0, 0.0, 1.0, 0.0, 0.0, 1.0, 0.0)
    radius_at(1.0, 1.0, 2.0, 1.0, 1)
