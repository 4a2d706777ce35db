"""Where a setup's part zero is: as numbers on the model, as a placement for pictures, and in the machinist's words."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.measure import MM_PER_IN
from shopflow.core.planning import Reference, Standing, blank_box, placement
from shopflow.core.solid import Reading
from shopflow.core.types import Box, Placement, Vector
from shopflow.jobs.models import Setup
from shopflow.jobs.queries.blank_model import blank_model_box
from shopflow.jobs.queries.model import reading_of

SIDES = {
    "left": gettext_lazy("left side"),
    "right": gettext_lazy("right side"),
    "front": gettext_lazy("front side"),
    "back": gettext_lazy("back side"),
    "top": gettext_lazy("top"),
    "bottom": gettext_lazy("bottom"),
    "middle": gettext_lazy("middle"),
}
OF = {
    "part": gettext_lazy("of the finished part"),
    "blank": gettext_lazy("of the blank"),
    "blank and part": gettext_lazy("of blank and finished part"),
}
TOWARDS = {
    "X": (gettext_lazy("right of the"), gettext_lazy("left of the")),
    "Y": (gettext_lazy("behind the"), gettext_lazy("in front of the")),
    "Z": (gettext_lazy("above the"), gettext_lazy("below the")),
}
"""By machine axis: towards plus, towards minus."""


@dataclass(frozen=True)
class Zero:
    """The part zero of a setup, told. words: what X0, Y0 and Z0 lie on; "" where the model is gone, or
    where the part stands by an angle at no place that has a name.

    numbers: the point of the model, as typed: "X 30 mm", "Y 1/2 in" … way: the direction of the model along X+.
    """

    words: str
    numbers: tuple[str, ...]
    way: str


def placement_of(setup: Setup) -> Placement | None:
    """Where the part sits in the setup's own coordinates; None while its zero is not known as a point of the model."""
    zero = zero_mm(setup)
    return placement(setup.up, setup.along_x, zero, setup.angles) if zero else None


def zero_mm(setup: Setup) -> Vector | None:
    """The part zero in the model's coordinates."""
    if setup.zero is None:
        return None
    x, y, z = setup.zero
    return x.mm, y.mm, z.mm


def standing_of(setup: Setup, reading: Reading | None = None) -> Standing | None:
    """The part as it stands in the setup; None without a model or where nobody has said what lies along X."""
    reading = reading or reading_of(setup.job)
    if reading is None or not setup.along_x:
        return None
    blank = blank_of(setup, reading)
    return Standing(setup.up, setup.along_x, part_box(reading), blank, reading.holes, setup.angles)


def part_box(reading: Reading) -> Box:
    return reading.box_min_mm, reading.box_max_mm


def blank_of(setup: Setup, reading: Reading) -> Box | None:
    """The box of what the setup begins with, in the model's coordinates; None while its size or height is not said, or
    while the model that it is was not read."""
    if setup.blank_file:
        return blank_model_box(setup)
    x, y, z, over = setup.blank_x, setup.blank_y, setup.blank_z, setup.blank_over
    if not (x and y and z and over):
        return None
    return blank_box(part_box(reading), (x.mm, y.mm, z.mm), setup.up, over.mm)


def zero_of(setup: Setup, *, units: str = "mm") -> Zero | None:
    """The zero in words and numbers; None while it is not known as a point of the model. units: of distances."""
    at = zero_mm(setup)
    if setup.zero is None or at is None:
        return None
    numbers = tuple(f"{name} {typed}" for name, typed in zip("XYZ", setup.zero, strict=True))
    standing = standing_of(setup)
    references = standing.references(at) if standing else None
    words = in_words(references, units) if references else ""
    return Zero(words, numbers, setup.get_along_x_display())


def zero_text(setup: Setup) -> str:
    """One line for papers and programs: what X0, Y0 and Z0 lie on, else what a person wrote; "" where nobody did."""
    zero = zero_of(setup)
    if zero and not zero.words and setup.is_aslant:
        return _("X0 Y0 Z0 at the model's %s") % " ".join(zero.numbers)
    return zero.words if zero and zero.words else setup.zero_point


def in_words(references: tuple[Reference, Reference, Reference], units: str) -> str:
    """Such as "X0 left side, Y0 back side, Z0 top of the finished part": what is said of three is said once."""
    x, y, z = references
    if x.of == "hole":
        size = _length(x.diameter_mm, units)
        return _("X0 Y0 centre of the hole \u2300 %(size)s, Z0 %(z)s") % {"size": size, "z": _said(z, "Z", units)}
    if x.of == y.of == z.of and not (x.off_mm or y.off_mm or z.off_mm):
        sides = [f"{name}0 {SIDES[one.side]}" for name, one in zip("XYZ", references, strict=True)]
        return ", ".join(sides) + f" {OF[x.of]}"
    said = [_said(one, name, units) for name, one in zip("XYZ", references, strict=True)]
    if said[0] == said[1]:
        return f"X0 Y0 {said[0]}, Z0 {said[2]}"
    return ", ".join(f"{name}0 {words}" for name, words in zip("XYZ", said, strict=True))


def _said(one: Reference, axis: str, units: str) -> str:
    where = f"{SIDES[one.side]} {OF[one.of]}"
    if not one.off_mm:
        return where
    plus, minus = TOWARDS[axis]
    towards = plus if one.off_mm > 0 else minus
    return f"{_length(abs(one.off_mm), units)} {towards} {where}"  # such as: 12.5 mm right of the left side of …


def _length(length_mm: float, units: str) -> str:
    return (
        f"{length_mm / float(MM_PER_IN):.4f} in"
        if units == "in"
        else f"{length_mm:.3f}".rstrip("0").rstrip(".") + " mm"
    )
