"""What the review page shows of findings and of what keeps a program from being signed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from shopflow.core.review import Weight
from shopflow.people.access import Act, may
from shopflow.people.models import User
from shopflow.programs import queries
from shopflow.programs.forms import DecideForm, FilterForm, SignOffForm
from shopflow.programs.queries import Found, Reviewed

MOST_BLOCKING = 20
MOST_SHOWN = 100
"""Findings on a page at once; the filter finds the rest."""


def counts(found: list[Found]) -> dict[str, int]:
    return {
        "must_fix": sum(finding.weight == Weight.MUST_FIX for finding in found),
        "open": sum(finding.is_open and finding.weight != Weight.MUST_FIX for finding in found),
        "decided": sum(finding.decision is not None and not finding.is_open for finding in found),
        "notes": sum(finding.weight == Weight.NOTE for finding in found),
        "all": len(found),
    }


def findings_context(seen: Reviewed, user: User, asked: Mapping[str, str]) -> dict[str, Any]:
    revision = seen.revision
    sections = seen.reading["sections"] if seen.reading else []
    tools = sorted({section["tool"] for section in sections} - {0})
    setups = sorted({section["setup"] for section in sections} - {0})
    form = FilterForm(asked, tools=tools, setups=setups)
    everything = seen.findings
    shown = queries.findings(revision, form.wanted(), seen=seen)
    may_decide = may(user, Act.DECIDE) and seen.is_newest
    return {
        "filter_form": form,
        "groups": _groups(shown),
        "not_shown": max(0, len(shown) - MOST_SHOWN),
        "is_filtered": len(shown) < len(everything),
        "counts": counts(everything),
        "may_decide": may_decide and bool(everything),
        "decide_form": DecideForm(),
        "marked": [],
        "reasons": queries.reasons_for(revision, [finding.code for finding in everything]) if may_decide else [],
    }


def _groups(found: list[Found]) -> list[dict[str, Any]]:
    """Findings by weight, then by setup and tool, in the order of the program; counted all, shown the first of them."""
    words = {Weight.MUST_FIX: _("Must be mended"), Weight.DECIDE: _("To decide"), Weight.NOTE: _("Notes")}
    shown = found[:MOST_SHOWN]
    return [
        {
            "weight": weight,
            "title": title,
            "count": sum(finding.weight == weight for finding in found),
            "parts": _parts([finding for finding in shown if finding.weight == weight]),
        }
        for weight, title in words.items()
        if any(finding.weight == weight for finding in shown)
    ]


def _parts(rows: list[Found]) -> list[dict[str, Any]]:
    """Findings of one weight by the place where they stand."""
    by_place: dict[tuple[int, int], list[Found]] = {}
    for row in rows:
        by_place.setdefault((row.setup, row.tool), []).append(row)
    return [{"title": _place(*place), "findings": found} for place, found in by_place.items()]


def _place(setup: int, tool: int) -> str:
    parts = [_("Setup %d") % setup if setup else "", f"T{tool}" if tool else ""]
    return ", ".join(part for part in parts if part) or _("The program as a whole")


def sign_context(seen: Reviewed, user: User) -> dict[str, Any]:
    revision = seen.revision
    blocking = queries.blocking(revision, seen=seen)
    return {
        "blocking": [_condition(item) for item in blocking[:MOST_BLOCKING]],
        "blocking_more": max(0, len(blocking) - MOST_BLOCKING),
        "may_sign": may(user, Act.SIGN_OFF) and seen.is_newest and not blocking,
        "is_reviewer": may(user, Act.SIGN_OFF),
        "sign_form": SignOffForm(initial={"printed_name": user.full_name}),
        "sign_offs": list(revision.sign_offs.select_related("signed_by")),
    }


def _condition(item: queries.Blocking) -> dict[str, Any]:
    return {
        "text": item.reason,
        "met": False,
        "mend": f"#finding-{item.finding.pk}" if item.finding else "",
        "mend_text": _("Show it"),
    }
