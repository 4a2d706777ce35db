"""What kinds of characteristics there are, in what they are said, and how fine a gauge has to be for them."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum

from shopflow.core.measure import DEGREE, MICROINCH, MICROMETRE, Measure

RESOLVES = 10
"""A gauge resolves a tenth of the tolerance (common practice, no source)."""


class Kind(StrEnum):
    """Names of ISO 1101 for form, orientation, place and run-out; a size where it is none of them.

    An attribute has no value: a piece conforms or does not (a thread by its plug gauge, a note, a mark).
    """

    SIZE = ""
    ATTRIBUTE = "attribute"
    ANGLE = "angle"
    FINISH = "finish"
    STRAIGHTNESS = "straightness"
    FLATNESS = "flatness"
    ROUNDNESS = "roundness"
    CYLINDRICITY = "cylindricity"
    PARALLELISM = "parallelism"
    PERPENDICULARITY = "perpendicularity"
    ANGULARITY = "angularity"
    POSITION = "position"
    CONCENTRICITY = "concentricity"
    SYMMETRY = "symmetry"
    PROFILE = "profile"
    RUN_OUT = "run-out"


class Quantity(StrEnum):
    LENGTH = "length"
    ANGLE = "angle"
    FINISH = "finish"


_YES = ("yes", "y", "ok", "go", "good", "pass", "conforms")
_NO = ("no", "n", "no go", "nogo", "not ok", "bad", "fail", "does not conform")
_SPELLED = {"circularity": Kind.ROUNDNESS, "coaxiality": Kind.CONCENTRICITY, "squareness": Kind.PERPENDICULARITY}
_PARTS = {"profile": Kind.PROFILE, "run": Kind.RUN_OUT}


def quantity_of(kind: Kind) -> Quantity:
    return Quantity(kind) if kind in (Kind.ANGLE, Kind.FINISH) else Quantity.LENGTH


def quantity_of_unit(unit: str) -> Quantity:
    """A micrometre is a length too; on a shop floor it says a finish, and a gauge for finishes shows it."""
    if unit == DEGREE:
        return Quantity.ANGLE
    return Quantity.FINISH if unit in (MICROMETRE, MICROINCH) else Quantity.LENGTH


def unit_of(kind: Kind, length_unit: str) -> str:
    """In what a number without a unit is meant. length_unit: "mm" or "in"."""
    if kind is Kind.ANGLE:
        return DEGREE
    if kind is Kind.FINISH:
        return MICROINCH if length_unit == "in" else MICROMETRE
    return length_unit


def fits(kind: Kind, unit: str) -> bool:
    """Whether a value in this unit can be of the kind; a finish may be said in any unit of length."""
    return (unit == DEGREE) == (kind is Kind.ANGLE)


def is_one_sided(kind: Kind) -> bool:
    """Whether the upper limit is the whole tolerance: it begins at nothing."""
    return kind not in (Kind.SIZE, Kind.ANGLE, Kind.ATTRIBUTE)


def is_shown_by_one_gauge(kind: Kind) -> bool:
    """Whether one gauge put to the piece shows it. Form, direction and place are found from several readings."""
    return kind in (Kind.SIZE, Kind.ANGLE, Kind.FINISH)


def conforms(text: str) -> bool | None:
    """What was typed of an attribute: it conforms, it does not, or None where it says neither."""
    word = " ".join(text.casefold().replace("-", " ").split())
    return True if word in _YES else False if word in _NO else None


def kind_named(name: str) -> Kind:
    """The kind that an annotation's name says, such as "Flatness" or "position"; a size where it says none."""
    word = name.strip().casefold().replace("_", " ")
    if word in _SPELLED:
        return _SPELLED[word]
    first = word.replace("-", " ").split(" ")[0]
    if any(part in word.replace("-", " ").split(" ") for part in ("runout", "run")):
        return Kind.RUN_OUT
    known = {kind.value for kind in Kind if kind is not Kind.SIZE}
    found = next((part for part in (word, first, *word.split(" ")) if part in known), "")
    return Kind(found) if found else _PARTS.get(first, Kind.SIZE)


def finest_step(kind: Kind, lower: Measure | None, upper: Measure | None) -> Measure | None:
    """The coarsest resolution that still does, in the unit of the upper limit; None where no tolerance is known."""
    if upper is None or (lower is None and not is_one_sided(kind)):
        return None
    width = upper.value - (lower.in_unit(upper.unit) if lower else Decimal(0))
    step = (width / RESOLVES).quantize(Decimal("0.0000001")).normalize()
    return Measure(f"{step:f}{upper.unit if upper.unit == DEGREE else f' {upper.unit}'}", step, upper.unit)
