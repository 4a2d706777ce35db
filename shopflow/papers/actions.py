"""Having papers printed: long work that ends in a file kept by its hash."""

from __future__ import annotations

from typing import Any

from shopflow.floor.models import Packet
from shopflow.papers.printing import to_pdf
from shopflow.papers.traveler import context_of
from shopflow.records import files, work
from shopflow.records.models import StoredFile, Work

TRAVELER = "print_traveler"
VERSION = "1"


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
    pdf = to_pdf("papers/traveler.html", context)
    stored = files.store(pdf, media_type="application/pdf")
    return {"sha256": stored.sha256, "bytes": len(pdf)}


def keep_traveler(row: Work, result: dict[str, Any]) -> None:
    """Hang the printed file on its packet, in the transaction that marks the work done."""
    Packet.objects.filter(pk=row.subject_id).update(traveler=StoredFile.objects.get(sha256=result["sha256"]))


def _packet(row: Work) -> Packet:
    return Packet.objects.select_related(
        "job__revision__part__customer", "job__material", "job__reading", "released_by"
    ).get(pk=row.subject_id)
