"""G0 to G3, G28, G30 and G53 [NISTIR 6556, 3.5.1 to 3.5.3, 3.5.8, 3.5.12]."""

from __future__ import annotations

import math

from shopflow.core.nc import arcs
from shopflow.core.nc.blocks import Word
from shopflow.core.nc.codes import Codes, name
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.extent import PLANE_AXES
from shopflow.core.nc.reading import AXES, Reading
from shopflow.core.nc.transforms import flips, scale_of, turned

CENTRE_LETTERS = "IJK"


def straight(reading: Reading, codes: Codes, *, feeding: bool) -> None:
    """G0 or G1 to the block's axis words."""
    commanded = [letter in codes.values for letter in AXES]
    end = reading.target(codes)
    _hold_corner(reading, codes)
    if feeding:
        reading.feed(end, commanded=commanded)
    else:
        reading.rapid(end, commanded=commanded)


def _hold_corner(reading: Reading, codes: Codes) -> None:
    """,R or ,C: the move ends in a corner that the next move decides."""
    given = [word for letter in (",R", ",C") if (word := codes.take(letter))]
    if not given:
        return
    size = reading.length(given[0])
    if len(given) > 1 or size <= 0.0 or reading.compensation is not None:
        raise Fault("a corner word twice, not more than zero, or with cutter compensation on")
    reading.corners.hold(given[0].letter[1], size)


def arc(reading: Reading, codes: Codes, *, clockwise: bool) -> None:
    """G2 or G3 by centre or radius, flat, helical, or a full circle."""
    first, second, normal = PLANE_AXES[reading.state.plane]
    commanded = [letter in codes.values for letter in AXES]
    _check_arc_words(reading, codes, first, second)
    scale = _scale(reading)
    clockwise = clockwise != flips(reading.state.transforms)
    start_known = reading.state.known
    if not (start_known[first] and start_known[second]):
        raise Fault("an arc from a place that is not known; move to a stated point first")
    start = list(reading.state.position)
    end = reading.target(codes)
    centre_words = [codes.take(CENTRE_LETTERS[axis]) for axis in (first, second)]
    radius_word = codes.take("R")
    flat_start, flat_end = (start[first], start[second]), (end[first], end[second])
    tolerance = _tolerance(reading)
    if radius_word is not None:
        radius = reading.length(radius_word) * scale
        centre = arcs.centre_by_radius(flat_start, flat_end, radius, clockwise=clockwise, tolerance=tolerance)
    else:
        centre = _stated_centre(reading, flat_start, centre_words, (first, second))
        arcs.check_radii(centre, flat_start, flat_end, tolerance=tolerance, share=reading.control.arc_tolerance_share)
    turn = arcs.turn_about(centre, flat_start, flat_end, clockwise=clockwise)
    place = [0.0, 0.0, 0.0]
    place[first], place[second], place[normal] = centre[0], centre[1], start[normal]
    way = math.hypot(math.radians(abs(turn)) * math.dist(centre, flat_start), end[normal] - start[normal])
    reading.arc(end, commanded=commanded, centre=place, turn=turn, length=way)


def _scale(reading: Reading) -> float:
    """How much arcs grow under the transforms in force."""
    transforms = reading.state.transforms
    if not transforms:
        return 1.0
    if reading.state.plane != 17 or scale_of(transforms) == 0.0:
        raise Fault("an arc under a transform that makes it no circle, or outside the XY plane")
    return scale_of(transforms)


def _stated_centre(reading: Reading, start: arcs.Point, words: list[Word | None], axes: tuple[int, int]) -> arcs.Point:
    """Centre by I J K: increments from the start, or places where G90.1 is in force."""
    state = reading.state
    if not state.absolute_centres:
        offsets = [0.0 if word is None else reading.length(word) for word in words]
        if state.transforms:
            offsets = list(turned(state.transforms, (offsets[0], offsets[1])))
        return start[0] + offsets[0], start[1] + offsets[1]
    if state.transforms:
        raise Fault("an arc under G90.1 and a transform at once")
    if None in words:
        raise Fault("an arc under G90.1 needs both words of its centre")
    shifts = [state.shift[axis] + state.local_shift[axis] for axis in axes]
    places = [reading.length(word) + shift for word, shift in zip(words, shifts, strict=True) if word]
    return places[0], places[1]


def _check_arc_words(reading: Reading, codes: Codes, first: int, second: int) -> None:
    by_centre = any(CENTRE_LETTERS[axis] in codes.values for axis in (first, second))
    by_radius = "R" in codes.values
    has_end = any(AXES[axis] in codes.values for axis in (first, second))
    if by_centre and by_radius:
        raise Fault("an arc with both R and a centre; which one counts depends on the control")
    if not by_centre and not by_radius:
        needed = f"{CENTRE_LETTERS[first]}, {CENTRE_LETTERS[second]} or R"
        raise Fault(f"an arc without {needed}: its centre is not stated")
    if not has_end and not (by_centre and reading.control.full_circle_without_end):
        raise Fault(f"an arc with no axis word of its plane ({AXES[first]} or {AXES[second]})")
    if "plane" not in reading.state.stated:
        reading.assume("plane-not-stated", "no G17, G18 or G19 before the first arc or cycle: read as G17")


def _tolerance(reading: Reading) -> float:
    if reading.state.unit_mm == 1.0:
        return reading.control.arc_tolerance_mm
    return reading.control.arc_tolerance_in * reading.state.unit_mm


def home(reading: Reading, codes: Codes) -> None:
    """G28 or G30: by way of the point given, to the machine's home (machine zero unless the profile says more)."""
    named = [axis for axis, letter in enumerate(AXES) if letter in codes.values]
    if reading.state.side:
        raise Fault(f"{name(codes.g['once'])} with cutter compensation on")
    if named and not _stays(reading, codes):
        straight(reading, codes, feeding=False)
    axes = named if named and reading.control.named_home_axes_only else range(3)
    reading.machine_move(dict.fromkeys(axes, 0.0))
    reading.assume("home-assumed", f"{name(codes.g['once'])} goes to the machine's home, read as machine zero")


def _stays(reading: Reading, codes: Codes) -> bool:
    """G91 G28 Z0, the usual way home: the point on the way is the present one. Takes the words."""
    words = [codes.values[letter] for letter in AXES if letter in codes.values]
    if reading.state.absolute or any(word.value for word in words):
        return False
    for word in words:
        codes.take(word.letter)
    return True


def to_machine_place(reading: Reading, codes: Codes) -> None:
    """G53: one move in machine coordinates."""
    state = reading.state
    if state.motion not in (0, 10) and reading.control.machine_move_needs_mode:
        raise Fault("G53 needs G0 or G1 in force")
    if state.side:
        raise Fault("G53 is not allowed with cutter compensation on")
    if not codes.has_axes():
        raise Fault("G53 has no axis word")
    goals = {axis: reading.length(word) for axis, letter in enumerate(AXES) if (word := codes.take(letter))}
    if not state.absolute:
        raise Fault("G53 under G91; what it means depends on the control")
    reading.machine_move(goals, feeding=state.motion == 10 and "motion" in state.stated)
