"""Computed figures of a part in the reader's units: volume, area, mass."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from django import template
from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from shopflow.core.solid import guess_by_major
from shopflow.core.solid.reading import FaceFacts, Hole, PmiItem
from shopflow.jobs.models import Threads
from shopflow.people.templatetags.ui import quantity

register = template.Library()

MM_PER_IN = 25.4
MOST_DECIMALS = 8
KG_PER_LB = 0.45359237
"""Exact by definition since 1959 (international pound)."""

HOWS = {
    "same": (_("same"), ""),
    "moved": (_("moved"), _("M")),
    "changed": (_("changed"), _("C")),
    "added": (_("added"), _("A")),
    "gone": (_("gone"), _("G")),
}
"""How a face of two models differs, and the letter that stands for it in the picture."""
FACES = {
    ("plane", False): _("flat face"),
    ("cylinder", False): _("round face"),
    ("cylinder", True): _("round face, inside"),
    ("cone", False): _("conical face"),
    ("cone", True): _("conical face, inside"),
    ("sphere", False): _("ball face"),
    ("sphere", True): _("ball face, inside"),
    ("torus", False): _("rounding"),
    ("torus", True): _("rounding, inside"),
}
BOTTOMS = {
    "through": _("through"),
    "flat": _("blind, flat bottom"),
    "pointed": _("blind, drill point"),
    "round": _("blind, round bottom"),
}


@register.simple_tag(takes_context=True)
def volume(context: Mapping[str, Any], mm3: float | None) -> SafeString:
    """A volume in cm³ or in³, with four figures."""
    if mm3 is None:
        return quantity(None)
    return quantity(_four(mm3 / MM_PER_IN**3), "in³") if _inches(context) else quantity(_four(mm3 / 1000), "cm³")


@register.simple_tag(takes_context=True)
def area(context: Mapping[str, Any], mm2: float | None) -> SafeString:
    """An area in cm² or in², with four figures."""
    if mm2 is None:
        return quantity(None)
    return quantity(_four(mm2 / MM_PER_IN**2), "in²") if _inches(context) else quantity(_four(mm2 / 100), "cm²")


@register.simple_tag(takes_context=True)
def mass(context: Mapping[str, Any], kg: float | None) -> SafeString:
    """A mass in kg or lb, with four figures."""
    if kg is None:
        return quantity(None)
    return quantity(_four(kg / KG_PER_LB), "lb") if _inches(context) else quantity(_four(kg), "kg")


@register.filter
def annotation(item: PmiItem) -> str:
    """What an annotation is about, in words."""
    words = {
        "dimension": gettext("dimension, %s"),
        "tolerance": gettext("tolerance, %s"),
        "finish": gettext("finish %s"),
    }
    return words[item.kind] % item.name if item.kind in words else gettext("datum %s") % " ".join(item.datums)


@register.simple_tag
def notes_said(items: Iterable[PmiItem]) -> str:
    """ ", 2 finishes, 3 notes"; "" where there are none."""
    kinds = Counter(item.kind for item in items)
    finishes, notes = kinds["finish"], kinds["note"]
    said = [
        ngettext("%d finish", "%d finishes", finishes) % finishes if finishes else "",
        ngettext("%d note", "%d notes", notes) % notes if notes else "",
    ]
    return "".join(f", {words}" for words in said if words)


@register.simple_tag(takes_context=True)
def micrometres(context: Mapping[str, Any], mm: float) -> SafeString:
    """A surface finish in µm, or µin for who reads inches."""
    if _inches(context):
        return quantity(f"{mm / MM_PER_IN * 1e6:.3g}", "µin")
    return quantity(f"{mm * 1000:.3g}", "µm")


@register.simple_tag
def thread_question(hole: Hole, shown: str) -> str:
    """What to ask about a hole that may be a thread. shown: how the model shows threads (Threads), "" while unknown."""
    if shown in (Threads.PLAIN, Threads.NONE):
        return ""
    if shown == Threads.MAJOR:
        thread = guess_by_major(hole.diameter_mm)
        return gettext("major diameter of %s: a thread?") % thread if thread else ""
    return gettext("size of %s: a thread?") % hole.thread_guess if hole.thread_guess else ""


@register.filter
def bottom(hole: Hole) -> str:
    """How a hole ends, in words."""
    return str(BOTTOMS.get(hole.bottom, hole.bottom))


@register.filter
def how(name: str) -> str:
    """How something differs, in a word."""
    return str(HOWS[name][0])


@register.filter
def how_letter(name: str) -> str:
    return str(HOWS[name][1])


@register.filter
def face_kind(face: FaceFacts) -> str:
    """What kind of face it is, in words."""
    return str(FACES.get((face.kind, face.is_inside and face.kind != "plane"), _("free-form face")))


def _inches(context: Mapping[str, Any]) -> bool:
    return getattr(context.get("user"), "units", "mm") == "in"


def _four(value: float) -> str:
    """Four figures, never with an exponent."""
    if value == 0:
        return "0"
    decimals = min(MOST_DECIMALS, max(0, 3 - math.floor(math.log10(abs(value)))))
    return f"{value:.{decimals}f}"
