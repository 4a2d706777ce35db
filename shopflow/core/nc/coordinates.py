"""G68/G69, G50/G51, G50.1/G51.1: transforms of program coordinates (common practice, no source)."""

from __future__ import annotations

from shopflow.core.nc.codes import Codes
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.reading import AXES, Reading
from shopflow.core.nc.transforms import Transform, rotation
from shopflow.core.types import DecimalRule


def transform(reading: Reading, codes: Codes) -> None:
    """Carry out the block's transforming codes, if it has any."""
    given = [group for group in ("rotation", "scaling", "mirror") if group in codes.g]
    if not given:
        return
    if len(given) > 1 and any(codes.g[group] not in _ENDS for group in given):
        raise Fault("a transform begins beside another one in one block; which comes first depends on the control")
    if reading.state.plane != 17:
        raise Fault("transforms are read in the XY plane (G17) only")
    if reading.compensation is not None:
        raise Fault("a transform begins or ends with cutter compensation on")
    for group in given:
        _SETTERS[codes.g[group]](reading, codes)


def _rotate(reading: Reading, codes: Codes) -> None:
    """G68 X Y R: about a point, or about the present one."""
    angle = codes.take("R")
    if angle is None:
        raise Fault("G68 has no R word: the angle is not stated")
    if angle.value and not angle.pointed and reading.control.decimal_rule is DecimalRule.INCREMENT:
        raise Fault("the angle of G68 without a decimal point; what it counts depends on the control")
    if not reading.state.absolute:
        raise Fault("G68 under G91; what its angle and centre mean depends on the control")
    reading.state.transforms["rotation"] = rotation(_centre(reading, codes), angle.value)


def _scale(reading: Reading, codes: Codes) -> None:
    """G51 X Y Z P: all axes, or I J K: each its own."""
    factor = codes.take("P")
    each = [codes.take(letter) for letter in "IJK"]
    if (factor is None) == all(word is None for word in each):
        raise Fault("G51 needs P, or I J K: the factor is not stated")
    factors = [factor.value if factor else (word.value if word else 1.0) for word in each]
    if 0.0 in factors:
        raise Fault("G51 with a factor of zero")
    if not all(word.pointed for word in (factor, *each) if word):
        raise Fault("G51 with a factor without a point; what it counts depends on the control")
    centre = _centre(reading, codes)
    reading.state.transforms["scaling"] = Transform(centre, a=factors[0], d=factors[1], e=factors[2])


def _mirror(reading: Reading, codes: Codes) -> None:
    """G51.1 X Y: each named axis about its place."""
    if "Z" in codes.values or not codes.has_axes():
        raise Fault("G51.1 needs X or Y, the place to mirror about, and no Z")
    signs = [-1.0 if letter in codes.values else 1.0 for letter in "XY"]
    old = reading.state.transforms.get("mirror")
    centre = _centre(reading, codes, old.centre if old else None)
    if old:
        signs = [-1.0 if sign < 0.0 or was < 0.0 else 1.0 for sign, was in zip(signs, (old.a, old.d), strict=True)]
    reading.state.transforms["mirror"] = Transform(centre, a=signs[0], d=signs[1])


def _centre(
    reading: Reading, codes: Codes, otherwise: tuple[float, float, float] | None = None
) -> tuple[float, float, float]:
    state = reading.state
    centre = list(otherwise or state.position)
    for axis, letter in enumerate(AXES):
        if word := codes.take(letter):
            centre[axis] = reading.length(word) + state.shift[axis] + state.local_shift[axis]
    return centre[0], centre[1], centre[2]


def _end_rotation(reading: Reading, codes: Codes) -> None:
    reading.state.transforms.pop("rotation", None)


def _end_scaling(reading: Reading, codes: Codes) -> None:
    reading.state.transforms.pop("scaling", None)


def _end_mirror(reading: Reading, codes: Codes) -> None:
    """G50.1 alone ends it; with axes it ends for those."""
    state = reading.state
    named = [letter for letter in "XY" if codes.take(letter)]
    mirror = state.transforms.get("mirror")
    if mirror is None:
        return
    signs = [
        1.0 if not named or letter in named else sign for letter, sign in zip("XY", (mirror.a, mirror.d), strict=True)
    ]
    if min(signs) > 0.0:
        del state.transforms["mirror"]
    else:
        state.transforms["mirror"] = Transform(mirror.centre, a=signs[0], d=signs[1])


_ENDS = frozenset((690, 500, 501))

_SETTERS = {
    680: _rotate,
    690: _end_rotation,
    510: _scale,
    500: _end_scaling,
    511: _mirror,
    501: _end_mirror,
}
