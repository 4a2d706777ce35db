"""What the review page says of the removal of material: how far it is, what it showed, what it did not look at."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Setup
from shopflow.programs.queries import Reviewed


def removal_context(seen: Reviewed) -> dict[str, Any]:
    """For programs/_removal.html: the removal of material, or why there is none."""
    return {
        "removal": seen.removal if seen.is_done else None,
        "unheld": _unheld(seen) if seen.is_done and seen.removal else [],
        "taken": _taken(seen) if seen.is_done and seen.removal else [],
        "removal_work": seen.simulation if seen.is_done else None,
        "lacking": seen.lacking if seen.is_done else None,
        "removal_url": reverse("programs:removal", args=[seen.revision.pk]),
    }


def _unheld(seen: Reviewed) -> list[tuple[Setup, str]]:
    """Setups whose workholding was not looked at, each with what the plan does not say."""
    bare = {row["number"] for row in seen.removal["setups"] if not row.get("holding")}
    setups = seen.revision.program.setups.filter(number__in=bare)
    return [(setup, jobs.why_not_held(setup)) for setup in setups]


def _taken(seen: Reviewed) -> list[tuple[Setup, str]]:
    """Setups whose table lies where the plan does not say, each with where it was taken to lie."""
    numbers = {row["number"] for row in seen.removal["setups"] if row.get("holding")}
    said = ((setup, jobs.table_taken(setup)) for setup in seen.revision.program.setups.filter(number__in=numbers))
    return [(setup, words) for setup, words in said if words]
