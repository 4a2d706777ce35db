"""The kinds of papers beside the traveler: who may ask for one, what it is about, and what it says."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from shopflow.floor.models import Paper
from shopflow.papers import certificate, labels, reports, shipments, spread
from shopflow.papers.codes import LABEL_MODULE_MM, qr_svg
from shopflow.papers.common import address, frame, page_size
from shopflow.papers.printing import Part
from shopflow.people.access import Act

Facts = dict[str, Any]


def _sheet(paper: Paper) -> str:
    return f"@page {{ size: {page_size()}; }}"


def _wide_sheet(paper: Paper) -> str:
    return f"@page {{ size: {page_size()} landscape; }}"


@dataclass(frozen=True)
class PaperKind:
    """facts: all that the paper says, as plain values. of_shipment: about a shipment, else about a lot.

    beside: what follows from the same records and is printed too; no digest of the paper holds it.
    replaces: whether a newer one makes an older one void; more labels do not.
    """

    act: Act
    template: str
    facts: Callable[[Paper], Facts]
    of_shipment: bool
    page: Callable[[Paper], str] = _sheet
    replaces: bool = True
    beside: Callable[[Paper], Facts] = lambda _paper: {}


KINDS: dict[str, PaperKind] = {
    Paper.Kind.CERTIFICATE: PaperKind(Act.SHIP, "papers/certificate.html", certificate.facts, True),
    Paper.Kind.PACKING_SLIP: PaperKind(Act.SHIP, "papers/packing_slip.html", shipments.packing_slip, True),
    Paper.Kind.LABELS: PaperKind(
        Act.MEASURE, "papers/labels.html", labels.facts, False, page=labels.page, replaces=False
    ),
    Paper.Kind.FIRST_ARTICLE: PaperKind(
        Act.MEASURE, "papers/first_article.html", reports.first_article, False, beside=reports.made_by
    ),
    Paper.Kind.INSPECTION: PaperKind(
        Act.MEASURE,
        "papers/inspection_report.html",
        reports.inspection_report,
        False,
        page=_wide_sheet,
        beside=spread.beside,
    ),
}


def parts_of(paper: Paper, facts: Facts) -> Iterator[Part]:
    """What is set for a paper, one part after the other; only an inspection report has more than one."""
    kind = KINDS[paper.kind]
    code_of = address("papers:scan", paper.pk)
    context = {**frame(paper.job, code_of), "paper": paper, "says": facts}
    if paper.kind == Paper.Kind.LABELS:
        context |= {"sheets": labels.sheets(facts), "code": qr_svg(code_of, module_mm=LABEL_MODULE_MM)}
    yield Part(kind.template, {**context, **kind.beside(paper)})
    if paper.kind == Paper.Kind.INSPECTION:
        parts = reports.parts(facts)
        for number, blocks in enumerate(parts, start=1):
            more = {"blocks": blocks, "is_last": number == len(parts)}
            yield Part("papers/inspection_values.html", {**context, **more})
