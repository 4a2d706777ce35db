"""What came back from the controls, and whether it keeps a lot from going on."""

from __future__ import annotations

from datetime import date

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from shopflow.floor import running
from shopflow.floor.models import Lot, OpRun, ReadBack
from shopflow.jobs.models import Job, Step
from shopflow.programs import queries as programs
from shopflow.shop.calendar import next_workday


def read_backs() -> QuerySet[ReadBack]:
    """All of them with what a page shows, newest first."""
    return ReadBack.objects.select_related(
        "lot__job__revision__part__customer", "step__setup", "floor_copy__revision__program", "floor_copy__packet",
        "stored", "work", "sent_by", "accepted_by", "judged_by", "revision__program", "program_of",
    )  # fmt: skip


def of_job(job: Job) -> list[ReadBack]:
    return list(read_backs().filter(lot__job=job))


def of_op(lot: Lot, step: Step) -> list[ReadBack]:
    """Those of a lot at an op, and those of the lot that it was split from."""
    return list(read_backs().filter(step=step, lot__in=lot.with_ancestors))


def waiting_for_review(job: Job) -> list[ReadBack]:
    """What a reviewer has not judged yet, oldest first."""
    rows = read_backs().filter(lot__job=job, verdict="").exclude(handling=ReadBack.Handling.NONE)
    return list(rows.order_by("pk"))


def problem(lot: Lot, step: Step, run: OpRun | None = None) -> str:
    """Why this lot may not go on at this op until a program that was changed at the control is seen to; "" if it may.

    run: the open run, whose 'changed at the control' asks for a read-back.
    """
    if step.setup_id is None:
        return ""
    rows = of_op(lot, step)
    if run and is_wanted(run, rows):
        return _("The program was changed at the control. Send it in as it is there now, to be compared.")
    if run and is_still_loaded(run, rows):
        return _(
            "What came back was refused. Load the floor copy again and send in what is on the control then, or finish "
            "the op here and start it anew."
        )
    return next(filter(None, map(unsettled, rows)), "")


def is_wanted(run: OpRun, rows: list[ReadBack]) -> bool:
    """Whether the program was changed at the control and not sent in since. rows: the read-backs of the op."""
    return run.changed_at is not None and not any(row.sent_at >= run.changed_at for row in rows)


def is_still_loaded(run: OpRun, rows: list[ReadBack]) -> bool:
    """Whether the program that runs may be a refused one: nothing was started or sent in since. rows: of the op."""
    refused = [row.judged_at for row in rows if row.verdict == ReadBack.Verdict.REFUSED and row.judged_at]
    return bool(refused) and max([run.started_at, *(row.sent_at for row in rows)]) < max(refused)


def unsettled(row: ReadBack) -> str:
    """Why the rest of the lot waits for this read-back; "" where it does not."""
    if row.verdict == ReadBack.Verdict.REFUSED or row.handling == ReadBack.Handling.NONE:
        return ""
    if row.verdict == ReadBack.Verdict.TAKEN:
        return _unsigned(row)
    if row.is_being_compared:
        return _("What came back is being compared with the floor copy.")
    if row.handling == ReadBack.Handling.PENDING:
        return _("What came back could not be compared with the floor copy: a reviewer has to look at it first.")
    if row.handling == ReadBack.Handling.REVIEW:
        if said := whose(row):
            return _("%s A reviewer has to see it before the rest of the lot runs.") % said
        return _("What was changed at the control has to be reviewed before the rest of the lot runs.")
    if row.accepted_at is None:
        return _("The program came back with small changes. Accept them with a note, or load the floor copy again.")
    return ""


def _unsigned(row: ReadBack) -> str:
    """What was taken as a revision is good once the program, as it is now, is signed off."""
    newest = programs.newest(row.floor_copy.revision.program)
    if newest is None or programs.sign_off_standing(newest).valid:
        return ""
    return _("Revision %(number)d, taken from what came back, is not signed off yet.") % {"number": newest.number}


def review_due(row: ReadBack) -> date:
    """The working day of the shop by which a reviewer looks at it: the next one (common practice, no source)."""
    return next_workday(timezone.localdate(row.accepted_at or row.sent_at))


def whose(row: ReadBack) -> str:
    """Which copy it was compared with where that needs saying: another op's program, or one of an older packet; ""."""
    if row.program_of:
        facts = {"other": row.program_of.op_number, "op": row.step.op_number}
        return _("This is op %(other)s's program, not op %(op)s's.") % facts
    if row.handling == ReadBack.Handling.PENDING:
        return ""
    newer = running.superseding(row.floor_copy, row.step, before=row.sent_at)
    if newer is None:
        return ""
    facts = {"old": row.floor_copy.packet.number, "new": newer.packet.number}
    return (
        _(
            "This comes from the floor copy of packet %(old)s, which packet %(new)s had superseded. Load the copy of "
            "packet %(new)s before the next cycle."
        )
        % facts
    )


def in_words(row: ReadBack) -> str:
    """One line for "what's missing": op, lot, what it is, and by when."""
    facts: dict[str, object] = {"op": row.step.op_number, "lot": row.lot.number}
    if row.handling == ReadBack.Handling.PENDING:
        return _("op %(op)s, lot %(lot)s: came back from the control, not compared yet") % facts
    if said := whose(row):
        return _("op %(op)s, lot %(lot)s: %(said)s") % {**facts, "said": said}
    if row.handling == ReadBack.Handling.REVIEW:
        return _("op %(op)s, lot %(lot)s: changed at the control, before the rest of the lot runs") % facts
    facts["day"] = date_format(review_due(row), "D j M")
    return _("op %(op)s, lot %(lot)s: small changes, by %(day)s") % facts
