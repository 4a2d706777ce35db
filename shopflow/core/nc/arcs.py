"""Arcs in a plane, by centre or by radius [NISTIR 6556, 3.5.3]. Two-dimensional; lengths in any one unit."""

from __future__ import annotations

import math

from shopflow.core.nc.expressions import Fault

Point = tuple[float, float]

SAME_PLACE_MM = 1e-6
"""Ends nearer than this are one point: what sums of increments leave over, far below any control's resolution."""


def turn_about(centre: Point, start: Point, end: Point, *, clockwise: bool) -> float:
    """Signed sweep in degrees, positive counter-clockwise; a full turn when start and end are one point."""
    if math.dist(start, end) < SAME_PLACE_MM:
        return -360.0 if clockwise else 360.0
    begin = math.atan2(start[1] - centre[1], start[0] - centre[0])
    finish = math.atan2(end[1] - centre[1], end[0] - centre[0])
    sweep = math.degrees(finish - begin) % 360.0
    return sweep - 360.0 if clockwise else sweep


def check_radii(centre: Point, start: Point, end: Point, *, tolerance: float, share: float) -> None:
    """Refuse an arc whose end does not lie on its circle: tolerance in mm, or share of the radius if that is more."""
    at_start, at_end = math.dist(centre, start), math.dist(centre, end)
    if at_start < SAME_PLACE_MM:
        raise Fault("the centre of the arc is its start point: an arc without radius")
    if abs(at_start - at_end) > max(tolerance, share * at_start):
        raise Fault(
            f"the arc starts {at_start:.4f} mm from its centre and ends {at_end:.4f} mm from it; "
            f"the control allows a difference of {max(tolerance, share * at_start):.4f} mm"
        )


def centre_by_radius(start: Point, end: Point, radius: float, *, clockwise: bool, tolerance: float) -> Point:
    """Centre of the arc of this radius; a negative radius takes the way of more than half a turn."""
    chord = math.dist(start, end)
    if chord < SAME_PLACE_MM:
        raise Fault("an arc given by its radius ends where it starts; its centre could lie anywhere")
    size = abs(radius)
    if chord / 2.0 > size + tolerance:
        raise Fault(f"the arc's ends lie {chord:.4f} mm apart, more than twice its radius of {size:.4f} mm")
    height = math.sqrt(max(size * size - chord * chord / 4.0, 0.0))
    left_of_chord = clockwise == (radius < 0.0)
    side = height if left_of_chord else -height
    along = ((end[0] - start[0]) / chord, (end[1] - start[1]) / chord)
    return (start[0] + end[0]) / 2.0 - side * along[1], (start[1] + end[1]) / 2.0 + side * along[0]
