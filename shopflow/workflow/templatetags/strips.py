"""The tag that draws a job's strip."""

from __future__ import annotations

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from shopflow.workflow import strips

register = template.Library()


@register.simple_tag
def strip(shown: strips.Strip, *, alone: bool = False) -> SafeString:
    """Draw a strip. alone: without the job's name and due date beside it, as on the job's own page."""
    words = list(zip(shown.ops, strips.in_words(shown), strict=True))
    context = {"strip": shown, "drawing": strips.draw(shown), "words": words, "alone": alone}
    return render_to_string("_strip.html", context)
