"""A setup's part zero in the words of its place and in numbers, for any template."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template

from shopflow.jobs import queries
from shopflow.jobs.models import Setup
from shopflow.jobs.queries.zero import Zero

register = template.Library()


@register.simple_tag(takes_context=True)
def part_zero(context: Mapping[str, Any], setup: Setup) -> Zero | None:
    """{% part_zero setup as zero %}: None while it is unknown in numbers. Lengths as the reader chose."""
    return queries.zero_of(setup, units=getattr(context.get("user"), "units", "mm"))
