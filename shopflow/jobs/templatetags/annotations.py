"""What a model says of its dimensions, tolerances and datums, sorted for the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django import template
from django.utils.safestring import SafeString

from shopflow.core.solid import PmiItem
from shopflow.people.templatetags.ui import in_units, quantity

register = template.Library()

MOST = 400
Numbered = tuple[int, PmiItem]


@dataclass
class ByKind:
    """Annotations with their numbers in the file, counted from 1. drawn_only: dimensions without a value. left_out: how
    many are more than a page shows."""

    datums: list[Numbered] = field(default_factory=list)
    dimensions: list[Numbered] = field(default_factory=list)
    drawn_only: list[Numbered] = field(default_factory=list)
    tolerances: list[Numbered] = field(default_factory=list)
    finishes: list[Numbered] = field(default_factory=list)
    notes: list[Numbered] = field(default_factory=list)
    left_out: int = 0


@register.simple_tag
def by_kind(items: Sequence[PmiItem]) -> ByKind:
    """All of them in the order of the file, each in the list of its kind."""
    found = ByKind(left_out=max(0, len(items) - MOST))
    lists = {
        "datum": found.datums,
        "dimension": found.dimensions,
        "tolerance": found.tolerances,
        "finish": found.finishes,
        "note": found.notes,
    }
    for number, item in enumerate(items[:MOST], start=1):
        home = found.drawn_only if item.kind == "dimension" and item.value is None else lists[item.kind]
        home.append((number, item))
    return found


@register.simple_tag(takes_context=True)
def deviations(context: Mapping[str, Any], item: PmiItem) -> SafeString:
    """From the nominal: ±0.2, or -0.025 / +0.127; a dash where the file gives none."""
    if item.lower is None or item.upper is None:
        return quantity(None)
    units = "°" if item.unit == "deg" else getattr(context.get("user"), "units", "mm")
    lower, upper = (f"{value:.3f}" if units == "°" else in_units(value, units, 3) for value in (item.lower, item.upper))
    if item.lower == -item.upper:
        return quantity(f"±{upper}", units)
    return quantity(f"{_signed(lower)} / {_signed(upper)}", units)


def _signed(number: str) -> str:
    bare = number.lstrip("-")
    if not bare.strip("0."):
        return "0"
    return f"−{bare}" if number.startswith("-") else f"+{bare}"
