"""What makes a tool, holder or machine possible at all; each check gives errors by field, in words.

Asked by the models' clean(), so that a form, a file and an action refuse the same. A field that is no length at all is
reported by the field itself and left alone here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from shopflow.core.cutting.power import read_curve
from shopflow.core.measure import Measure
from shopflow.core.nc.machine_text import LEAST_COMMENT

if TYPE_CHECKING:
    from shopflow.shop.models import CuttingData, Holder, Machine, Material, StockBar, Tool

Problem = tuple[str, str]
"""Field and sentence."""

POINTED = frozenset({"drill", "spot drill", "countersink", "chamfer mill"})
THREADED = frozenset({"tap", "thread mill"})
TOOL_LENGTHS = (
    "corner_radius", "tip_diameter", "flute_length", "stickout", "neck_diameter", "shank_diameter", "pitch",
    "set_from", "set_to",
)  # fmt: skip


def mm(value: object) -> float | None:
    return value.mm if isinstance(value, Measure) else None


def refuse(problems: Iterator[Problem]) -> None:
    """Raise ValidationError with all of them, field by field; nothing when there are none."""
    found: dict[str, list[str]] = {}
    for field, sentence in problems:
        found.setdefault(field, []).append(sentence)
    if found:
        raise ValidationError(found)


def check_tool(tool: Tool) -> None:
    refuse(_of_tool(tool))


def _of_tool(tool: Tool) -> Iterator[Problem]:
    yield from _positive(tool, ("diameter",))
    yield from _not_negative(tool, TOOL_LENGTHS)
    yield from _of_lengths(tool)
    yield from _of_tip(tool)
    yield from _of_range(tool)
    if tool.shape in THREADED and not mm(tool.pitch):
        yield "pitch", _("Type the pitch of the thread it cuts.")
    if not tool.flutes and tool.shape != "probe":
        yield "flutes", _("Type how many flutes or teeth it has.")
    if tool.life is not None and tool.life <= 0:
        yield "life", _("A life is more than 0; leave it empty where nobody counts.")
    if tool.life_used < 0:
        yield "life_used", _("What is used is 0 or more.")


def _of_lengths(tool: Tool) -> Iterator[Problem]:
    flutes, stickout = mm(tool.flute_length), mm(tool.stickout)
    if flutes and stickout and flutes > stickout:
        yield "flute_length", _("The length of cut is longer than the stickout: it would cut inside its holder.")


def _of_range(tool: Tool) -> Iterator[Problem]:
    diameter, lowest, highest = mm(tool.diameter), mm(tool.set_from), mm(tool.set_to)
    if tool.shape != "boring head":
        if lowest or highest:
            yield (
                "set_from" if lowest else "set_to",
                _("Only a boring head is set to other diameters; leave this empty."),
            )
        return
    if diameter and lowest and lowest > diameter:
        yield "set_from", _("It is set to a smaller diameter than this already.")
    if diameter and highest and highest < diameter:
        yield "set_to", _("It is set to a larger diameter than this already.")


def _of_tip(tool: Tool) -> Iterator[Problem]:
    diameter, corner, tip = mm(tool.diameter), mm(tool.corner_radius), mm(tool.tip_diameter)
    if diameter and corner and corner > diameter / 2 + 1e-9:
        yield "corner_radius", _("The corner radius is more than half the diameter.")
    if diameter and corner and tool.shape == "ball end mill" and corner < diameter / 2 - 1e-9:
        yield "corner_radius", _("The radius of a ball is half its diameter: leave this empty.")
    if tool.shape == "corner radius end mill" and not corner:
        yield "corner_radius", _("Type its corner radius.")
    if diameter and tip and tip >= diameter:
        yield "tip_diameter", _("The tip is as wide as the tool.")
    yield from _of_point(tool)


def _of_point(tool: Tool) -> Iterator[Problem]:
    angle = float(tool.point_angle)
    if not 0 < angle <= 180:
        yield "point_angle", _("The included angle lies between 0 and 180 degrees.")
    elif tool.shape in POINTED and angle == 180:
        yield "point_angle", _("Type the included angle of its point, such as 118 or 90; 180 is flat.")


def check_holder(holder: Holder) -> None:
    refuse(_of_profile(holder.profile))


def _of_profile(profile: Sequence[Sequence[str]]) -> Iterator[Problem]:
    heights = [float(height) for height, _diameter in profile]
    if heights and heights[0] != 0:
        yield "profile", _("The profile starts at the nose, at height 0.")
    if any(above < below for below, above in zip(heights, heights[1:], strict=False)):
        yield "profile", _("The heights rise from the nose upwards.")
    if any(float(diameter) <= 0 for _height, diameter in profile):
        yield "profile", _("Every diameter is more than 0.")


def check_machine(machine: Machine) -> None:
    refuse(_of_machine(machine))


def _of_machine(machine: Machine) -> Iterator[Problem]:
    yield from _positive(machine, ("travel_x", "travel_y", "travel_z"))
    for field in ("rapid_x", "rapid_y", "rapid_z", "acceleration", "max_feed", "max_rpm"):
        if not getattr(machine, field):
            yield field, _("Type a number above 0.")
    if machine.max_rpm and machine.min_rpm > machine.max_rpm:
        yield "min_rpm", _("The lowest rpm is above the highest.")
    try:
        read_curve(machine.power_curve)
    except ValueError as error:
        yield "power_curve", _("Type pairs such as 1500 7.5, 8000 7.5: %(why)s.") % {"why": error}
    if machine.first_number > machine.last_number:
        yield "first_number", _("The first program number is above the last.")
    if machine.comment_length < LEAST_COMMENT:
        yield "comment_length", _("Type %(least)s characters or more.") % {"least": LEAST_COMMENT}
    if not machine.name_ending.lstrip(".").isalnum() and machine.name_ending:
        yield "name_ending", _("An ending is letters and digits, such as nc.")


def check_material(material: Material) -> None:
    if material.density is not None and material.density <= 0:
        raise ValidationError({"density": _("Type the density in kg/m³, such as 2700 for aluminium.")})


def check_cutting_data(row: CuttingData) -> None:
    refuse(_of_cutting_data(row))


def _of_cutting_data(row: CuttingData) -> Iterator[Problem]:
    yield from _positive(row, ("diameter", "feed_low", "feed_usual", "feed_high"))
    speeds = [row.speed_low, row.speed_usual, row.speed_high]
    feeds = [mm(row.feed_low), mm(row.feed_usual), mm(row.feed_high)]
    if not any(speeds) and not any(feeds) and not row.coolant:
        yield "speed_usual", _("Type a speed, a feed or a coolant.")
    for name, values in (("speed_usual", speeds), ("feed_usual", feeds)):
        if any(values) and not values[1]:
            yield name, _("Type what is usual; slowest and fastest may stay empty.")
        known = [value for value in values if value]
        if known != sorted(known):
            yield name, _("The three values rise from low over usual to high.")
    if any(speed is not None and speed <= 0 for speed in speeds):
        yield "speed_usual", _("A speed is more than 0.")


def check_bar(bar: StockBar) -> None:
    refuse(_of_bar(bar))


def _of_bar(bar: StockBar) -> Iterator[Problem]:
    yield from _positive(bar, ("thickness", "width", "length"))
    yield from _not_negative(bar, ("minus", "kerf"))
    thickness, width, minus = mm(bar.thickness), mm(bar.width), mm(bar.minus)
    has_width = bar.shape in ("plate", "flat bar")
    if has_width and not width:
        yield "width", _("A plate or flat bar has a width: type it.")
    if not has_width and width:
        yield "width", _("A round or hexagon has one size: leave the width empty.")
    if thickness and width and has_width and width < thickness:
        yield "width", _("The width is the larger of the two sizes.")
    if thickness and minus and minus >= thickness:
        yield "minus", _("It cannot come smaller by its whole thickness.")
    if bar.price is not None and bar.price < 0:
        yield "price", _("A price is not negative.")


def _positive(row: object, fields: Sequence[str]) -> Iterator[Problem]:
    for field in fields:
        length = mm(getattr(row, field))
        if length is not None and length <= 0:
            yield field, _("This length is more than 0.")


def _not_negative(row: object, fields: Sequence[str]) -> Iterator[Problem]:
    for field in fields:
        length = mm(getattr(row, field))
        if length is not None and length < 0:
            yield field, _("A length is not negative.")
