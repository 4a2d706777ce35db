"""Template tags and filters of every page: marks, numbers, fields, icons. How to use them: shopflow/docs/look.md."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal

from django import forms, template
from django.forms import BoundField
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from shopflow.core.measure import MM_PER_IN, Measure
from shopflow.people import page_access
from shopflow.people.models import User

register = template.Library()

STAMPS = {"plain", "done", "solid", "quiet", "held", "you", "void"}
STAMP_ICONS = {"done": "check", "held": "hold", "you": "hand"}
WEIGHTS = {"must-fix": "solid", "decide": "you", "note": "quiet"}
UNKNOWN = "\u2013"
"""Shown where there is no value: an en dash."""


@register.filter
def may_open(user: User, page: str) -> bool:
    """Whether a link to a page is for this person: {% if user|may_open:"jobs:new" %}."""
    return page_access.may_open(user, page)


@register.simple_tag
def icon(name: str, label: str = "") -> SafeString:
    """One of our own drawings (templates/icons); with a label it is said aloud, without one it is decoration."""
    return render_to_string(f"icons/{name}.svg", {"label": label})


@register.simple_tag
def stamp(word: object, kind: str = "plain") -> SafeString:
    """A word in a ruled box. kind: plain, done, solid, quiet, held, you (the reader is needed) or void."""
    if kind not in STAMPS:
        raise template.TemplateSyntaxError(f"no stamp of kind {kind!r}; there are {', '.join(sorted(STAMPS))}")
    drawn = icon(STAMP_ICONS[kind]) if kind in STAMP_ICONS else ""
    return format_html('<span class="stamp stamp-{}">{}{}</span>', kind, drawn, word)


@register.simple_tag
def weight(value: object) -> SafeString:
    """How much a finding weighs (must-fix, decide, note) as a stamp."""
    return stamp(value, WEIGHTS.get(str(value), "plain"))


@register.simple_tag
def quantity(value: object, unit: str = "") -> SafeString:
    """A number as it stands, in monospace, with its unit; a dash where there is none."""
    if value is None or value == "":
        return mark_safe(f'<span class="num">{UNKNOWN}</span>')
    shown = format_html('<span class="unit">{}</span>', unit) if unit else ""
    return format_html('<span class="num">{}{}</span>', value, shown)


@register.simple_tag
def measure(value: Measure | None) -> SafeString:
    """A length exactly as it was typed; the unit is added where the text does not already say it."""
    if value is None:
        return quantity(None)
    says_unit = any(not (character.isdigit() or character in " .,+-/") for character in value.text)
    return quantity(value.text, "" if says_unit else value.unit)


def in_units(millimetres: float | Decimal, units: str, places: int) -> str:
    """Millimetres with `places` decimals, or inches with one more: 0.01 mm and 0.001 in are read alike."""
    number = Decimal(str(millimetres))
    return f"{number / MM_PER_IN:.{places + 1}f}" if units == "in" else f"{number:.{places}f}"


@register.simple_tag(takes_context=True)
def length(context: Mapping[str, Any], millimetres: float | Decimal | None, places: int = 2) -> SafeString:
    """A computed length in the units the reader chose. Never for what a person typed: that is `measure`."""
    if millimetres is None or millimetres == "":  # a template gives "" for what is not there yet
        return quantity(None)
    units = getattr(context.get("user"), "units", "mm")
    return quantity(in_units(millimetres, units, places), units)


@register.simple_tag(takes_context=True)
def box(context: Mapping[str, Any], sizes_mm: Sequence[float] | None, places: int = 2) -> SafeString:
    """Three lengths as x × y × z in the reader's units."""
    if not sizes_mm:
        return quantity(None)
    units = getattr(context.get("user"), "units", "mm")
    return quantity(" × ".join(in_units(size, units, places) for size in sizes_mm), units)


@register.filter
def duration(seconds: float | Literal[""] | None) -> str:
    """Seconds as 45 s, 7 min 5 s or 2 h 10 min; a template gives "" for a value of something that is not there yet."""
    if seconds is None or seconds == "":
        return UNKNOWN
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")
    minutes = round(whole / 60)
    return f"{minutes // 60} h" + (f" {minutes % 60} min" if minutes % 60 else "")


@register.filter
def short_hash(digest: str | None) -> str:
    """The first twelve digits of a SHA-256, as printed on papers."""
    return digest[:12] if digest else UNKNOWN


@register.simple_tag
def when(moment: datetime | date | None, form: str = "j M Y H:i") -> SafeString:
    """A time in the shop's time zone, readable by machines too."""
    if not moment:
        return mark_safe(UNKNOWN)
    shown: date = moment
    if not isinstance(moment, datetime):
        form = form.replace(" H:i", "")
    elif timezone.is_aware(moment):
        shown = timezone.localtime(moment)
    return format_html('<time datetime="{}">{}</time>', moment.isoformat(), date_format(shown, form))


def field_kind(field: BoundField) -> str:
    """How a field is laid out: check, choices, upload, hidden or plain."""
    widget = field.field.widget
    if field.is_hidden:
        return "hidden"
    if isinstance(widget, forms.CheckboxInput):
        return "check"
    if isinstance(widget, (forms.RadioSelect, forms.CheckboxSelectMultiple)):
        return "choices"
    return "upload" if isinstance(widget, forms.FileInput) else "plain"


@register.simple_tag
def field(bound: BoundField, *, wide: bool = False, unit: str = "", label: str = "") -> SafeString:
    """A form field with label, help, the error in words and what was typed. wide: over all columns of its fieldset."""
    kind = field_kind(bound)
    is_wide = wide or kind == "upload" or isinstance(bound.field.widget, forms.Textarea)
    context = {"field": bound, "kind": kind, "wide": is_wide, "unit": unit, "label": label or bound.label}
    return render_to_string("_field.html", context)


@register.simple_tag
def meanwhile(bound: BoundField) -> SafeString:
    """What somebody else saved in a field since its form was shown (people.seen); nothing where nobody did."""
    saved = getattr(bound.form, "meanwhile", {}).get(bound.name)
    if saved is None:
        return mark_safe("")
    is_untouched = bound.name in getattr(bound.form, "untouched", ())
    return render_to_string("_meanwhile.html", {"field": bound, "saved": saved, "is_untouched": is_untouched})


@register.simple_tag
def fields(form: forms.BaseForm, names: str) -> SafeString:
    """Several fields by name, in this order: {% fields form "customer due quantity" %}."""
    return mark_safe("".join(field(form[name]) for name in names.split()))


@register.filter
def has_file(form: forms.BaseForm) -> bool:
    return form.is_multipart()


def is_current(context: Mapping[str, Any], where: str) -> bool:
    """Whether the page is `where`: a view ("workflow:home") or an app ("jobs")."""
    match = getattr(context.get("request"), "resolver_match", None)
    return match is not None and where in (match.view_name, match.app_name)


@register.simple_tag(takes_context=True)
def nav_link(context: Mapping[str, Any], url: str, word: str, where: str) -> SafeString:
    """A link of the main navigation; none where the page does not exist."""
    if not url:
        return mark_safe("")
    current = mark_safe(' aria-current="page"') if is_current(context, where) else ""
    return format_html('<a href="{}"{}>{}</a>', url, current, word)
