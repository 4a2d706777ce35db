"""Asking for reviews, doing one in a worker, and what follows from its result."""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Iterable
from typing import Any

from django.db import transaction
from kombu.exceptions import OperationalError

from shopflow.jobs.models import Job, Stage
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries, reviewing, shop_state
from shopflow.programs.actions import carrying, lapses, simulations, tallies
from shopflow.programs.inputs import from_plain, inputs_of
from shopflow.programs.models import Program, ProgramRevision, Review
from shopflow.records import files, ledger, work
from shopflow.records.models import LedgerRow, Work

log = logging.getLogger(__name__)

REVIEW = "review_program"
NOTED = "programs_reviewed_again"


@transaction.atomic
def ask_review(revision: ProgramRevision, *, by: User | None) -> Review:
    """The review of the revision under today's values: the one there is, or a new one that a worker takes up."""
    revision = queries.fresh(revision)
    now = inputs_of(revision)
    same = revision.reviews.filter(assumptions_hash=now.hash, work__version=reviewing.VERSION).first()
    if same is not None:  # what wears from day to day calls for no other review
        return same
    asked = work.ask(REVIEW, now.plain, version=reviewing.VERSION, subject=("program_revision", revision.pk))
    review, is_new = Review.objects.get_or_create(
        revision=revision, work=asked, defaults={"assumptions_hash": now.hash}
    )
    if is_new:
        ledger.append(
            "review_asked", chain=revision.program.job.chain, subject=("program_revision", revision.pk), by=by,
            inputs=now.hash, version=reviewing.VERSION,
        )  # fmt: skip
        if asked.state == Work.State.DONE:  # the same bytes were reviewed under the same values before
            _follow(review)
    return review


@transaction.atomic
def review_again(revision: ProgramRevision, *, by: User) -> Review:
    """Try a failed review or removal of material once more, or ask for one that is missing."""
    require(by, Act.DECIDE)
    review = ask_review(revision, by=by)
    work.retry(review.work, by=by)
    if review.is_done and (removal := simulations.ask_simulation(revision)):
        work.retry(removal, by=by)
    return review


def review_program(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Read, time and review the program that a piece of work names; writes no rows."""
    inputs = from_plain(row.data)
    return reviewing.review(inputs, files.content_of(inputs.content), drawing_key=row.key, progress=progress)


def note_review(row: Work, result: dict[str, Any]) -> None:
    """What follows from a finished review, in the transaction that marks it done."""
    for review in Review.objects.filter(work=row).select_related("revision__program__job", "work"):
        review.work.state, review.work.result = Work.State.DONE, result
        _follow(review)


def _follow(review: Review) -> None:
    revision = review.revision
    ledger.append(
        "review_done", chain=revision.program.job.chain, subject=("program_revision", revision.pk), by=None,
        review=review.pk, findings=dict(Counter(row["weight"] for row in review.result["findings"])),
    )  # fmt: skip
    tallies.note_review(revision, review.result)
    simulations.ask_simulations(revision.program.job)
    carrying.carry_decisions(revision)
    lapses.note_standing(revision.program, by=None)


def note_changes(by: User | None, jobs: Iterable[int] | None) -> None:
    """Something that a sign-off may depend on was changed: review again what it concerns, and tell the ledger.

    Registered with shop.changes. Changes of jobs are followed in the same transaction. Changes of the whole shop go to
    a worker: they concern many chains, and the one who changes a tool should not wait for them.
    """
    if jobs is None:
        transaction.on_commit(lambda: _send_or_leave(by))
        return
    for program in Program.objects.filter(job__in=list(jobs)).select_related("job"):
        _note_program(program, by=by)


def _send_or_leave(by: User | None) -> None:
    """Where the broker is away, the next periodic look finds the change."""
    from shopflow.programs.tasks import review_what_changed as task

    try:
        task.delay(by.pk if by else None)
    except (OperationalError, OSError):
        log.warning("the broker is away; the programs are reviewed again at the next look")


def _note_program(program: Program, *, by: User | None) -> None:
    revision = queries.newest(program)
    if revision is None or not program.job.is_open:
        return
    review = ask_review(revision, by=by)
    if review.is_done:
        simulations.ask_simulation(revision)
    lapses.note_standing(program, by=by)


def review_what_changed(*, by: User | None = None) -> int:
    """Ask for the reviews that a change of the shop or of the reviewing program calls for; how many programs were seen.

    Runs after each change and from time to time, in case a message was lost. Cheap while nothing changed.
    """
    state = shop_state.digest_of_shop()
    last = LedgerRow.objects.filter(chain=ledger.SHOP, kind=NOTED).order_by("-seq").first()
    if last and last.data["state"] == state:
        return 0
    programs = Program.objects.filter(job__in=Job.objects.exclude(stage=Stage.CLOSED)).select_related("job")
    seen = 0
    for program in programs.iterator():
        with transaction.atomic():
            _note_program(program, by=by)
        seen += 1
    with transaction.atomic():
        ledger.append(NOTED, chain=ledger.SHOP, subject=("shop", 0), by=by, state=state, programs=seen)
    return seen
