"""What a release puts on the floor: the packet with its floor copies, and the lots."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from shopflow.floor.actions.reports import NotNow
from shopflow.floor.models import FloorCopy, Lot, Packet
from shopflow.floor.moving import at, put
from shopflow.jobs import queries as job_queries
from shopflow.jobs.models import Job, Step
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import actions as programs
from shopflow.programs import queries as program_queries
from shopflow.programs.models import ProgramRevision
from shopflow.records import files, ledger


def make_packet(job: Job, *, by: User, content_hash: str) -> Packet:
    """A new packet with the floor copies of all signed programs; the traveler is printed from it (papers)."""
    require(by, Act.RELEASE)
    with transaction.atomic():
        number = (job.packets.aggregate(last=Max("number"))["last"] or 0) + 1
        packet = Packet.objects.create(job=job, number=number, content_hash=content_hash, released_by=by)
        for program in job.programs.all():
            _add_floor_copy(packet, program_queries.newest(program), by=by)
        hashes = {copy.file_name: copy.stored.sha256 for copy in packet.floor_copies.select_related("stored")}
        ledger.append("packet_made", chain=job.chain, subject=("job", job.pk), by=by, number=number, copies=hashes)
    return packet


def _add_floor_copy(packet: Packet, revision: ProgramRevision | None, *, by: User) -> None:
    if revision is None:
        raise NotNow(_("A program of this job holds no upload yet. Upload it, or take the program away."))
    standing = program_queries.sign_off_standing(revision)
    if not standing.valid or standing.sign_off is None:
        raise NotNow(_("%(program)s is not signed off: %(why)s") % {"program": revision, "why": standing.reason})
    copies = {FloorCopy.Use.LOT: programs.floor_copy(revision, by=by)}
    if prove_out := programs.prove_out_copy(revision, by=by):
        copies[FloorCopy.Use.PROVE_OUT] = prove_out
    name = programs.copy_name(revision, by=by)
    for use, content in copies.items():
        stored = files.store(content, media_type="text/plain")
        FloorCopy.objects.create(
            packet=packet,
            revision=revision,
            sign_off=standing.sign_off,
            stored=stored,
            name=name,
            use=use,
        )


@transaction.atomic
def put_on_floor(job: Job, *, by: User) -> Lot:
    """All pieces ordered, at the first step of the routing: one lot, or one for each heat that they are made of, so
    that every piece's heat is known. Called by workflow.release alone; gives the first lot."""
    require(by, Act.RELEASE)
    first = job.steps.order_by("op_number").first()
    if first is None:
        raise NotNow(_("The routing has no steps. Add them on the plan page."))
    shares = job_queries.heat_shares(job)
    wanted = [(one.heat, one.pieces or 0) for one in shares] or [(job.heat_number, job.quantity)]
    return [_released(job, n, heat, pieces, first, by=by) for n, (heat, pieces) in enumerate(wanted, start=1)][0]


def _released(job: Job, number: int, heat: str, pieces: int, first: Step, *, by: User) -> Lot:
    lot = Lot.objects.create(job=job, number=number, heat_number=heat, released=pieces)
    put(lot, pieces, at(first))
    ledger.append("lot_released", chain=job.chain, subject=("lot", lot.pk), by=by, quantity=pieces)
    return lot
