"""Having papers printed: long work that ends in a file kept by its hash, and in a row of the job's history."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.floor.models import Lot, Packet, Paper, Shipment
from shopflow.jobs.models import Job
from shopflow.papers.kinds import KINDS, parts_of
from shopflow.papers.printing import in_parts, to_pdf
from shopflow.papers.queries import WITH_A_SHIPMENT
from shopflow.papers.traveler import context_of, page_of
from shopflow.people.access import require
from shopflow.people.models import User
from shopflow.records import files, ledger, work
from shopflow.records.canonical import digest
from shopflow.records.models import StoredFile, Work

TRAVELER = "print_traveler"
PAPER = "print_paper"
VERSION = "3"
PAPER_VERSION = "1"
PDF = "application/pdf"


def ask_traveler(packet: Packet) -> Work:
    """Ask a worker to print a packet's traveler; the packet gets it when it is done."""
    row = work.ask(
        TRAVELER, {"packet": packet.pk, "content": packet.content_hash}, version=VERSION, subject=("packet", packet.pk)
    )
    packet.traveler_work = row
    packet.save(update_fields=["traveler_work"])
    return row


def print_traveler(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Print, and keep the file: the same bytes under the same hash however often a worker starts again."""
    packet = _packet(row)
    progress(10, "reading the job")
    context = context_of(packet)
    progress(30, "setting the pages")
    pdf = to_pdf("papers/traveler.html", context, page=page_of())
    stored = files.store(pdf, media_type=PDF)
    return {"sha256": stored.sha256, "bytes": len(pdf)}


def keep_traveler(row: Work, result: dict[str, Any]) -> None:
    """Hang the printed file on its packet, in the transaction that marks the work done."""
    packet = _packet(row)
    Packet.objects.filter(pk=packet.pk).update(traveler=StoredFile.objects.get(sha256=result["sha256"]))
    ledger.append(
        "paper_printed", chain=packet.job.chain, subject=("job", packet.job_id), by=packet.released_by,
        paper="traveler", number=packet.number, sha256=result["sha256"],
    )  # fmt: skip


def _packet(row: Work) -> Packet:
    return Packet.objects.select_related(
        "job__revision__part__customer", "job__material", "job__reading", "released_by"
    ).get(pk=row.subject_id)


@transaction.atomic
def ask(
    job: Job,
    kind: str,
    *,
    by: User,
    shipment: Shipment | None = None,
    lot: Lot | None = None,
    chosen: dict[str, Any] | None = None,
) -> Paper:
    """Ask a worker for a paper about a shipment or a lot. chosen: what the kind lets a person choose."""
    require(by, KINDS[kind].act)
    _refuse_wrong_subject(job, kind, shipment, lot)
    ledger.lock(job.chain)
    number = (job.papers.filter(kind=kind).aggregate(last=Max("number"))["last"] or 0) + 1
    paper = Paper.objects.create(
        job=job, kind=kind, number=number, shipment=shipment, lot=lot, chosen=chosen or {}, asked_by=by
    )
    paper.work = work.ask(PAPER, {"paper": paper.pk}, version=PAPER_VERSION, subject=("paper", paper.pk))
    paper.save(update_fields=["work"])
    return paper


def _refuse_wrong_subject(job: Job, kind: str, shipment: Shipment | None, lot: Lot | None) -> None:
    """A paper is about one shipment or one lot of its job."""
    about = shipment or lot
    if about is None or about.job_id != job.pk:
        raise NotPossible(_("Say which shipment or lot of job %(job)s the paper is about.") % {"job": job})
    if KINDS[kind].of_shipment and shipment is None:
        raise NotPossible(_("This paper goes with a shipment: ship first."))


def ask_with_shipment(shipment: Shipment, *, by: User) -> list[Paper]:
    """Packing slip and certificate of a shipment, where it has none yet."""
    has = set(shipment.papers.values_list("kind", flat=True))
    return [ask(shipment.job, kind, by=by, shipment=shipment) for kind in WITH_A_SHIPMENT if kind not in has]


def print_paper(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Print, part after part, and keep the file by its hash."""
    paper = _paper(row)
    progress(5, "reading the records")
    facts = KINDS[paper.kind].facts(paper)
    parts = list(parts_of(paper, facts))
    progress(10, "setting the pages")

    def told(number: int) -> None:
        progress(10 + 80 * number / len(parts), f"part {number} of {len(parts)} is set")

    pdf = in_parts(parts, page=KINDS[paper.kind].page(paper), told=told)
    stored = files.store(pdf, media_type=PDF)
    return {"sha256": stored.sha256, "bytes": len(pdf), "content": digest(facts)}


def keep_paper(row: Work, result: dict[str, Any]) -> None:
    """Hang the printed file on its row, in the transaction that marks the work done."""
    paper = _paper(row)
    paper.stored = StoredFile.objects.get(sha256=result["sha256"])
    paper.content_hash = result["content"]
    paper.save(update_fields=["stored", "content_hash"])
    ledger.append(
        "paper_printed", chain=paper.job.chain, subject=("job", paper.job_id), by=paper.asked_by,
        paper=paper.kind, number=paper.number, sha256=result["sha256"],
    )  # fmt: skip


def _paper(row: Work) -> Paper:
    return Paper.objects.select_related(
        "job__revision__part__customer", "job__material", "shipment__lot", "shipment__shipped_by", "lot", "asked_by"
    ).get(pk=row.subject_id)
