"""The part zero as a person says it: a named place of the part as it stands, or three numbers on the model."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.planning import Standing, directions_along_x, long_side_along_x
from shopflow.core.solid import Reading
from shopflow.jobs import queries
from shopflow.jobs.actions.lengths import typed_place
from shopflow.jobs.actions.plan import ZERO
from shopflow.jobs.models import Setup
from shopflow.people.choosing import offer

if TYPE_CHECKING:
    _Base = forms.Form
else:
    _Base = object

MOST_HOLES = 60
OF = {"part": gettext_lazy("finished part"), "blank": gettext_lazy("blank")}
HEIGHTS = {"top": gettext_lazy("top of the"), "bottom": gettext_lazy("bottom of the")}
ACROSS = {
    "left front": gettext_lazy("left front corner"),
    "middle front": gettext_lazy("middle of the front side"),
    "right front": gettext_lazy("right front corner"),
    "left middle": gettext_lazy("middle of the left side"),
    "middle middle": gettext_lazy("middle"),
    "right middle": gettext_lazy("middle of the right side"),
    "left back": gettext_lazy("left back corner"),
    "middle back": gettext_lazy("middle of the back side"),
    "right back": gettext_lazy("right back corner"),
}
ANGLES = ("tilt_x", "tilt_y", "turn_z")
STANDS = ("up", "along_x", *ANGLES, "blank_x", "blank_y", "blank_z", "blank_over")
"""What a named place moves with."""


class ZeroMixin(_Base):
    """For the form over a setup: turns a chosen place into numbers, and finds the place of numbers that were typed.

    Numbers that were typed win over a place that was left as it was; a place that was chosen wins over old numbers.
    """

    setup: Setup
    unit: str
    reading: Reading | None

    def offer_places(self) -> None:
        """Fill the two choices from the part as it stands now; without a model or a direction along X they go away."""
        standing = queries.standing_of(self.setup, self.reading) if self.reading else None
        if standing is None:
            standing = _as_proposed(self.setup, self.reading)
        if standing is None or not (standing.flat_places and standing.heights):
            del self.fields["place"], self.fields["height"]
            return
        offer(self, "place", [("", _("as typed below")), *_places(standing)])
        offer(self, "height", [("", _("as typed below")), *_heights(standing)])
        if zero := queries.zero_mm(self.setup):
            self.initial["place"], self.initial["height"] = standing.named(zero)

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        place, height = typed.pop("place", ""), typed.pop("height", "")
        if self.errors:
            return typed
        if typed["along_x"] and typed["along_x"] not in directions_along_x(typed["up"]):
            self.add_error("along_x", _("It cannot lie along X when it points up or down: choose one that lies flat."))
            return typed
        if any(typed[name] for name in ANGLES) and not typed["along_x"]:
            self.add_error("along_x", _("Say which direction of the model lies along X+ before it is turned."))
            return typed
        if self._is_wanted(place, height, is_aslant=any(typed[name] for name in ANGLES)):
            self._take_place(typed, place, height)
        missing = [name for name in ZERO if not typed[name]]
        if missing and len(missing) < len(ZERO):
            self.add_error(missing[0], _("Type all three numbers of the part zero, or none."))
        return typed

    def _is_wanted(self, place: str, height: str, *, is_aslant: bool) -> bool:
        """Whether the named place says where the zero is, and not the numbers beside it.

        A part that is turned by an angle keeps its zero: sides of it are no places then.
        """
        changed = set(self.changed_data)
        is_chosen = bool({"place", "height"} & changed)
        moves = bool(set(STANDS) & changed) and not set(ZERO) & changed and not is_aslant
        return bool(place and height) and (is_chosen or moves)

    def _take_place(self, typed: dict[str, Any], place: str, height: str) -> None:
        setup = _with(self.setup, typed)
        try:
            standing = queries.standing_of(setup, self.reading)
            if standing is None:
                self.add_error("along_x", _("Say which direction of the model lies along X+ first."))
                return
            point = standing.point(place, height)
        except KeyError:
            self.add_error("place", _("The part has no such place as it stands now. Choose another, or type numbers."))
        else:
            typed |= {name: typed_place(at, self.unit) for name, at in zip(ZERO, point, strict=True)}


def _as_proposed(setup: Setup, reading: Reading | None) -> Standing | None:
    """Where nobody has said what lies along X+, the places are named for the direction that a proposal would take."""
    if reading is None:
        return None
    along_x = long_side_along_x(setup.up, reading.bbox_mm)
    return Standing(setup.up, along_x, queries.part_box(reading), None, reading.holes)


def _with(setup: Setup, typed: dict[str, Any]) -> Setup:
    """A setup that says what was typed; never saved."""
    return Setup(job=setup.job, **{name: typed[name] for name in STANDS})


def _places(standing: Standing) -> list[tuple[str, Any]]:
    """In groups: nine places of the part, nine of the blank, the holes."""
    groups: list[tuple[str, Any]] = [
        (str(OF[of]), [(f"{of} {key}", words) for key, words in ACROSS.items()]) for of in standing.boxes
    ]
    holes = [
        (
            key,
            _("hole \u2300 %(size)s mm at model %(where)s") % {"size": f"{hole.diameter_mm:g}", "where": _where(hole)},
        )
        for key, hole in list(standing.upright_holes.items())[:MOST_HOLES]
    ]
    return [*groups, (_("centre of a hole"), holes)] if holes else groups


def _where(hole: Any) -> str:
    return ", ".join(f"{round(at, 2) + 0:g}" for at in hole.position_mm)


def _heights(standing: Standing) -> list[tuple[str, str]]:
    return [(key, f"{HEIGHTS[key.split()[1]]} {OF[key.split()[0]]}") for key in standing.heights]
