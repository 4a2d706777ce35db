"""Labels of a lot or a shipment: on a label printer's page, or ten to a sheet with lines to cut along."""

from __future__ import annotations

from typing import Any

from shopflow.floor.models import Paper
from shopflow.papers.common import job_facts, page_size

ROLL, SHEET = "roll", "sheet"
ROLL_PAGES = {"A4": "100mm 60mm", "letter": "4in 2.4in"}
"""A page of a label printer, by the shop's paper."""
NO_MARKS = "@bottom-right { content: none; }"
MOST_LABELS = 500
LABELS_A_SHEET = 10


def facts(paper: Paper) -> dict[str, Any]:
    """Everything that one label states, and how many there are."""
    lot = paper.shipment.lot if paper.shipment else paper.lot
    if lot is None:
        raise ValueError(f"{paper} is about neither a lot nor a shipment")
    return {
        **job_facts(paper.job),
        "lot": lot.number,
        "heat": lot.heat_number,
        "shipment": paper.shipment.number if paper.shipment else None,
        "pieces": paper.chosen.get("pieces"),
        "labels": paper.chosen.get("labels", 1),
        "on": paper.chosen.get("on", SHEET),
    }


def sheets(said: dict[str, Any]) -> list[range]:
    """The numbers of the labels on each sheet; a label printer takes them one after the other."""
    a_sheet = LABELS_A_SHEET if said["on"] == SHEET else MOST_LABELS
    last = said["labels"]
    return [range(first, min(first + a_sheet, last + 1)) for first in range(1, last + 1, a_sheet)]


def page(paper: Paper) -> str:
    """Size and margin of the page, as CSS."""
    if paper.chosen.get("on") == ROLL:
        return f"@page {{ size: {ROLL_PAGES[page_size()]}; margin: 3mm; {NO_MARKS} }}"
    return f"@page {{ size: {page_size()}; margin: 8mm 10mm; {NO_MARKS} }}"
