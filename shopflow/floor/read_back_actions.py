"""A program comes back from the control: sent in, accepted at the machine, judged by a reviewer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core import nc
from shopflow.core.nc.text import open_source
from shopflow.floor import comparing, queries, read_backs, reported, running
from shopflow.floor.actions import NotNow
from shopflow.floor.models import FloorCopy, Lot, OpRun, ReadBack, Remark
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import Step
from shopflow.jobs.uploads import clean_name
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries as programs
from shopflow.programs import reviewing
from shopflow.programs.actions.lessons import note_lesson
from shopflow.programs.actions.uploads import MEDIA_TYPE, add_revision
from shopflow.programs.comparing import ReadAs
from shopflow.programs.inputs import inputs_of
from shopflow.programs.models import ProgramRevision
from shopflow.records import files, ledger
from shopflow.records.models import Work

_PROVE_OUT = b"PROVE-OUT COPY"
"""In the header of the copy to prove out: where it still stands, that copy is compared first."""

HANDLING = {
    "none": ReadBack.Handling.NONE,
    "accept": ReadBack.Handling.ACCEPT,
    "review": ReadBack.Handling.REVIEW,
}
"""By the name of nc.Handling, as comparing gives it."""


@dataclass(frozen=True)
class Said:
    """The lesson that a reviewer typed with the verdict; tool: a number, of one about a tool."""

    text: str
    about: str
    tool: int | None


@transaction.atomic
def say_changed(run: OpRun, *, by: User, key: str | None = None) -> OpRun:
    """The program was changed at the control: the lot goes on once it was read back. The cycle that runs goes on."""
    require(by, Act.RUN)
    if queries.floor_copy_of(run.step) is None:
        raise NotNow(_("Op %(op)s runs no program of ours.") % {"op": run.step.op_number})
    said = reported.payload()
    row = ledger.append(
        "changed_at_control", chain=run.lot.job.chain, subject=("lot", run.lot.pk), by=by, key=key,
        op=run.step.op_number, **said,
    )  # fmt: skip
    if not row.repeated:
        run.changed_at, run.changed_by = reported.moment(not_before=run.started_at), by
        run.save(update_fields=["changed_at", "changed_by"])
    return run


def send(
    lot: Lot, step: Step, data: bytes, *, by: User, file_name: str = "", note: str = "", key: str | None = None
) -> ReadBack:
    """Keep a program as it came back from the control, and say what was changed there.

    Raises Unreadable for what is no program text and NotNow for a refusal; nothing is kept then. Sent twice with its
    key, it counts once.
    """
    require(by, Act.READ_BACK)
    open_source(data, max_bytes=settings.MAX_UPLOAD_BYTES)
    own, others = running.copies_of(step), running.copies_of_other_ops(step)
    copies = _likelier_first(own, step, data)
    found = {} if len(data) > comparing.AT_ONCE_BYTES else _compared(copies, data, others)
    stored = files.store(data, media_type=MEDIA_TYPE)
    with transaction.atomic():
        open_job(lot.job)
        copy = copies[found.get("copy", 0)]
        handling = _handling(found, copy, lot, step)
        row = ledger.append(
            "read_back_sent", chain=lot.job.chain, subject=("lot", lot.pk), by=by, key=key, op=step.op_number,
            sha256=stored.sha256, handling=handling.value, copy=copy.stored.sha256,
        )  # fmt: skip
        if row.repeated:
            return lot.read_backs.filter(step=step, stored=stored).latest("pk")
        if any(one.stored_id == stored.pk and _waits(one) for one in read_backs.of_op(lot, step)):
            raise NotNow(_("These exact bytes were sent in already and wait to be looked at."))
        made = ReadBack.objects.create(
            lot=lot, step=step, floor_copy=copy, stored=stored, name=clean_name(file_name) or "read-back",
            handling=handling, changes=found.get("changes", []), counts=found.get("counts", {}),
            looks=found.get("looks", 0), note=note.strip()[:500], sent_by=by, program_of=_other_op(found, others),
        )  # fmt: skip
        return made if found else _ask(made, copies, others)


def _waits(row: ReadBack) -> bool:
    return row.waits_for_a_reviewer or row.is_being_compared


def _likelier_first(copies: list[FloorCopy], step: Step, data: bytes) -> list[FloorCopy]:
    """The copies that it may have been: of the newest packet first, of those the one of the same use."""
    if not copies:
        raise NotNow(_("Op %(op)s has no floor copy that this could be compared with.") % {"op": step.op_number})
    newest = copies[0].packet.number
    return sorted(copies, key=lambda one: (newest - one.packet.number, one.is_prove_out != (_PROVE_OUT in data)))


def _handling(found: dict[str, Any], copy: FloorCopy, lot: Lot, step: Step) -> ReadBack.Handling:
    """Who looks at it. A copy that another packet superseded is looked at first, unless the lot runs on with it."""
    if not found:
        return ReadBack.Handling.PENDING
    if running.superseding(copy, step) and not running.began_with(copy, lot, step):
        return ReadBack.Handling.REVIEW
    return HANDLING[found["handling"]]


def _other_op(found: dict[str, Any], others: list[tuple[Step, FloorCopy]]) -> Step | None:
    place = found.get("other")
    return None if place is None else others[place][0]


def _read_as(copy: FloorCopy) -> ReadAs:
    inputs = inputs_of(copy.revision)
    return ReadAs(inputs.control, inputs.machine, inputs.tools)


def _compared(copies: list[FloorCopy], data: bytes, others: list[tuple[Step, FloorCopy]]) -> dict[str, Any]:
    texts, further = [_bytes(copy) for copy in copies], [_bytes(copy) for _step, copy in others]
    return comparing.compare(data, texts, _read_as(copies[0]), lambda percent, step: None, further)


def _ask(row: ReadBack, copies: list[FloorCopy], others: list[tuple[Step, FloorCopy]]) -> ReadBack:
    """Let a worker compare it; bytes that were compared with the same copies before are known at once."""
    named = [copy.stored.sha256 for copy in copies]
    further = [copy.stored.sha256 for _step, copy in others]
    row.work = comparing.ask(
        row.stored.sha256, named, _read_as(copies[0]), subject=("read_back", row.pk), others=further
    )
    row.save(update_fields=["work"])
    if row.work.state == Work.State.DONE:
        note_compared(row.work, row.work.result or {})
        row.refresh_from_db()
    return row


def note_compared(done: Work, result: dict[str, Any]) -> None:
    """What follows from a finished comparison, in the transaction that marks it done."""
    for row in ReadBack.objects.filter(work=done, handling=ReadBack.Handling.PENDING, verdict=""):
        sha256 = done.data["copies"][result["copy"]]
        own = [copy for copy in running.copies_of(row.step) if copy.stored.sha256 == sha256]
        row.floor_copy = own[0] if own else row.floor_copy
        row.handling = _handling(result, row.floor_copy, row.lot, row.step)
        row.program_of = _other_by_hash(row.step, done, result)
        row.changes, row.counts, row.looks = result["changes"], result["counts"], result["looks"]
        row.save(update_fields=["floor_copy", "handling", "changes", "counts", "looks", "program_of"])
        ledger.append(
            "read_back_compared", chain=row.lot.job.chain, subject=("lot", row.lot_id), by=None,
            op=row.step.op_number, read_back=row.pk, handling=row.handling,
        )  # fmt: skip


def _other_by_hash(step: Step, done: Work, result: dict[str, Any]) -> Step | None:
    place = result.get("other")
    if place is None:
        return None
    sha256 = done.data["others"][place]
    return next((other for other, copy in running.copies_of_other_ops(step) if copy.stored.sha256 == sha256), None)


def _bytes(copy: FloorCopy) -> bytes:
    return files.content(copy.stored)


@transaction.atomic
def accept(read_back: ReadBack, *, note: str, by: User) -> ReadBack:
    """Small changes are accepted by whoever runs the machine, with a note; the lot goes on, a reviewer looks later."""
    require(by, Act.ACCEPT_CHANGE)
    now = _locked(read_back)
    if now.handling != ReadBack.Handling.ACCEPT:
        raise NotNow(_("Only small changes may be accepted at the machine; this one waits for a reviewer."))
    if not now.may_be_accepted:
        raise NotNow(_("Somebody has decided about this already. Load the page again."))
    if not note.strip():
        raise NotNow(_("Say in a few words why it was changed."))
    now.accepted_note, now.accepted_at, now.accepted_by = note.strip()[:500], timezone.now(), by
    now.save(update_fields=["accepted_note", "accepted_at", "accepted_by"])
    _tell("read_back_accepted", now, by=by, text=now.accepted_note)
    return now


@transaction.atomic
def take(
    read_back: ReadBack, *, by: User, note: str = "", lesson: str = "", about: str = "", tool: int | None = None
) -> ProgramRevision:
    """What came back becomes the next revision, without our header and stops, and is reviewed as any other."""
    require(by, Act.JUDGE_READ_BACK)
    now = _to_judge(read_back)
    if now.program_of:
        ops = {"other": now.program_of.op_number, "op": now.step.op_number}
        raise NotNow(_("This is the program of op %(other)s: it becomes no revision of op %(op)s. Refuse it.") % ops)
    program = now.floor_copy.revision.program
    data = _as_revision(now)
    stored = files.store(data, media_type=MEDIA_TYPE)
    said = note.strip() or _("as it came back from op %(op)s") % {"op": now.step.op_number}
    now.revision = add_revision(
        program,
        stored,
        data,
        by=by,
        file_name=now.name,
        note=said,
        came_by=ProgramRevision.CameBy.READ_BACK,
        sender=now.sent_by,
    )
    _judge(now, ReadBack.Verdict.TAKEN, by=by, reason=note, lesson=Said(lesson, about, tool))
    _tell("read_back_taken", now, by=by, text=now.reason, revision=now.revision.number)
    return now.revision


@transaction.atomic
def refuse(
    read_back: ReadBack, *, reason: str, by: User, lesson: str = "", about: str = "", tool: int | None = None
) -> ReadBack:
    """What came back is not to run: the floor copy is loaded again."""
    require(by, Act.JUDGE_READ_BACK)
    now = _to_judge(read_back)
    if not reason.strip():
        raise NotNow(_("Say why it is refused: the people at the machine read it."))
    _judge(now, ReadBack.Verdict.REFUSED, by=by, reason=reason, lesson=Said(lesson, about, tool))
    _tell("read_back_refused", now, by=by, text=now.reason)
    return now


def _locked(read_back: ReadBack) -> ReadBack:
    """The row as it is now; the job's row is held, so that two people never decide at once."""
    open_job(read_back.lot.job)
    return read_backs.read_backs().get(pk=read_back.pk)


def _to_judge(read_back: ReadBack) -> ReadBack:
    now = _locked(read_back)
    if now.handling == ReadBack.Handling.NONE:
        raise NotNow(_("Nothing was changed: there is nothing to decide."))
    if now.is_being_compared:
        raise NotNow(_("It is still being compared with the floor copy. Wait a moment, and load the page again."))
    if now.is_judged:
        raise NotNow(_("Somebody has decided about this already. Load the page again."))
    return now


def _as_revision(now: ReadBack) -> bytes:
    inputs = inputs_of(now.floor_copy.revision)
    returned = reviewing.read(inputs, files.content(now.stored))
    revision = reviewing.read(inputs, programs.content(now.floor_copy.revision))
    return nc.without_ours(revision, reviewing.read(inputs, _bytes(now.floor_copy)), returned)


def _judge(now: ReadBack, verdict: str, *, by: User, reason: str, lesson: Said) -> None:
    now.verdict, now.reason, now.judged_at, now.judged_by = verdict, reason.strip()[:500], timezone.now(), by
    now.save(update_fields=["verdict", "reason", "judged_at", "judged_by", "revision"])
    note_lesson(now.floor_copy.revision, lesson.text, by=by, about=lesson.about, tool=lesson.tool)


def _tell(kind: str, now: ReadBack, *, by: User, text: str, **more: int) -> None:
    row = ledger.append(
        kind, chain=now.lot.job.chain, subject=("lot", now.lot_id), by=by, key=None, op=now.step.op_number,
        read_back=now.pk, **more,
    )  # fmt: skip
    if text:
        Remark.objects.create(row=row, text=text)
