"""Long work as rows: the database, not the broker, knows what is to be done, what is going on and what came out.

A worker claims a row, beats while it works, and may write only while `attempts` is still the number of its own claim.
Killed at any point, the work is taken up again by the sweep; done twice, it gives the same row; a paused worker that
comes back after another took over can write nothing. What the work refuses (CoreError) is an answer, stored once; what
breaks otherwise is tried again a few times and then fails with a plain reason.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.db.models.functions import Now
from django.utils.module_loading import import_string
from django.utils.translation import gettext as _
from kombu.exceptions import OperationalError

from shopflow.core.errors import CoreError
from shopflow.records import ledger
from shopflow.records.canonical import canonical, digest
from shopflow.records.heartbeat import Heartbeat
from shopflow.records.models import Work

if TYPE_CHECKING:
    from django.contrib.auth.models import AbstractBaseUser

log = logging.getLogger(__name__)

MAX_ATTEMPTS = 3
ABANDONED_AFTER = timedelta(seconds=60)
SEND_AGAIN_AFTER = timedelta(seconds=60)
"""The broker may have lost a message; sent twice does no harm, the second finds the row taken."""
PROGRESS_EVERY_S = 0.3

TASKS: dict[str, str] = {}
"""Kind of work → dotted path of the Celery task that takes its row's id."""

Result = dict[str, Any]


class ClaimLost(Exception):
    """Another worker holds this work by now; whatever this one still does is thrown away."""


def register(kind: str, task: str) -> None:
    """Name the Celery task for a kind of work, as "shopflow.jobs.tasks.read_model"; call it in AppConfig.ready."""
    TASKS[kind] = task


def key_of(kind: str, inputs: dict[str, Any], *, version: str) -> str:
    """The name of the row that `ask` gives for these three."""
    return digest({"kind": kind, "inputs": inputs, "version": version})


def ask(kind: str, inputs: dict[str, Any], *, version: str, subject: tuple[str, int], send: bool = True) -> Work:
    """The row for this work, new or from before; a new one is sent to a worker when the transaction commits.

    inputs: what the outcome depends on, files as hashes; values that records.canonical takes. version: of the
    algorithm, grid included. The same three give the same row, whichever subject asked first. send: False where the
    caller runs a new one itself at once; should it not come to that, the sweep sends it.
    """
    if kind not in TASKS:
        raise ValueError(f"no task is registered for work of kind {kind!r}")
    row, is_new = Work.objects.get_or_create(
        key=key_of(kind, inputs, version=version),
        defaults={
            "kind": kind,
            "inputs": canonical(inputs),
            "version": version,
            "subject_kind": subject[0],
            "subject_id": subject[1],
            "attempts_allowed": MAX_ATTEMPTS,
        },
    )
    if is_new and send and not _left_for_the_sweep.get():
        transaction.on_commit(lambda: _send(row))
    return row


_left_for_the_sweep: ContextVar[bool] = ContextVar("left_for_the_sweep", default=False)


@contextmanager
def left_for_the_sweep() -> Iterator[None]:
    """What is asked for within is sent by nobody but the next sweep: by whoever fills a shop before its worker runs."""
    before = _left_for_the_sweep.set(True)
    try:
        yield
    finally:
        _left_for_the_sweep.reset(before)


@transaction.atomic
def retry(work: Work, *, by: AbstractBaseUser) -> None:
    """Give failed work another round of tries; no effect on any other."""
    if _again(work, Work.State.FAILED):
        ledger.append("work_retried", chain=ledger.SHOP, subject=("work", work.pk), by=by)


@transaction.atomic
def redo(work: Work) -> None:
    """Do finished work once more, because what it kept in records.cache is gone; no effect on any other."""
    _again(work, Work.State.DONE)


def _again(work: Work, state: Work.State) -> bool:
    """attempts is not set back: it tells claims apart, and an old worker may still be paused somewhere."""
    allowed = F("attempts") + MAX_ATTEMPTS
    rows = Work.objects.filter(pk=work.pk, state=state)
    if not rows.update(state=Work.State.WAITING, error="", attempts_allowed=allowed, sent_at=None):
        return False
    transaction.on_commit(lambda: _send(work))
    return True


def run(
    work_id: int, compute: Callable[[Work, Progress], Result], *, save: Callable[[Work, Result], None] | None = None
) -> Work | None:
    """Do the work if it is free: the whole body of a Celery task. The row as it then stands, or None if not ours.

    compute: reads and computes, for as long as it takes, and writes nothing. save: writes the rows that follow from the
    result, in the transaction that marks the work done, so that both happen once or not at all.
    """
    work = claim(work_id)
    if work is None:
        return None
    mine = _mine(work)
    with Heartbeat(mine) as heartbeat:
        try:
            result = compute(work, Progress(mine, heartbeat))
            _finish(work, result, save)
        except ClaimLost:
            log.warning("work %s was taken over by another worker; try %s ends here", work.pk, work.attempts)
            return None
        except CoreError as refusal:
            mine.update(state=Work.State.FAILED, error=str(refusal), heartbeat_at=None, finished_at=Now())
        except Exception as error:
            log.exception("work %s (%s) broke on try %s", work.pk, work.kind, work.attempts)
            _broke(work, error)
    return Work.objects.get(pk=work_id)


def claim(work_id: int) -> Work | None:
    """Take a waiting or abandoned piece of work; None when it is done, taken, or was tried too often."""
    free = _free().filter(pk=work_id, attempts__lt=F("attempts_allowed"))
    with transaction.atomic():
        taken = free.update(
            state=Work.State.RUNNING, attempts=F("attempts") + 1, percent=0, step="", error="", result=None,
            heartbeat_at=Now(), started_at=Now(), finished_at=None,
        )  # fmt: skip
        return Work.objects.get(pk=work_id) if taken else None


def sweep() -> int:
    """Fail what is out of tries and send again what waits or was abandoned; how many were sent."""
    for spent in _free().filter(attempts__gte=F("attempts_allowed")):
        _free().filter(pk=spent.pk, attempts=spent.attempts).update(
            state=Work.State.FAILED, error=_lost(spent), heartbeat_at=None, finished_at=Now()
        )
    unsent = Q(sent_at=None) | Q(sent_at__lt=Now() - SEND_AGAIN_AFTER)
    return sum(_send(work) for work in _free().filter(unsent).order_by("pk"))


def _free() -> QuerySet[Work]:
    """Waiting or abandoned; the database's clock decides, so that hosts need not agree on the time."""
    abandoned = Q(state=Work.State.RUNNING, heartbeat_at__lt=Now() - ABANDONED_AFTER)
    return Work.objects.filter(Q(state=Work.State.WAITING) | abandoned)


def _mine(work: Work) -> QuerySet[Work]:
    return Work.objects.filter(pk=work.pk, state=Work.State.RUNNING, attempts=work.attempts)


def _finish(work: Work, result: Result, save: Callable[[Work, Result], None] | None) -> None:
    with transaction.atomic():
        done = _mine(work).update(
            state=Work.State.DONE, percent=100, step="", result=result, heartbeat_at=None, finished_at=Now()
        )
        if not done:
            raise ClaimLost
        if save:
            save(work, result)


def _broke(work: Work, error: Exception) -> None:
    """Wait for another try, or fail when there is none left."""
    text = f"{type(error).__name__}: {error}"
    if work.attempts < work.attempts_allowed:
        _mine(work).update(state=Work.State.WAITING, error=text, heartbeat_at=None, sent_at=None)
    else:
        said = {"tries": work.attempts, "error": text}
        reason = _("This was given up after %(tries)s tries. The last one said: %(error)s") % said
        _mine(work).update(state=Work.State.FAILED, error=reason, heartbeat_at=None, finished_at=Now())


def _lost(work: Work) -> str:
    return _(
        "This was given up after %(tries)s tries: on the last one the worker was lost while it worked on it (killed,"
        " out of memory, or switched off). Try again; if it ends the same way, the machine is too small for it."
    ) % {"tries": work.attempts}


def _send(work: Work) -> bool:
    """Hand the row's id to the broker; False where the broker is away, and the next sweep tries again."""
    if work.kind not in TASKS:
        log.error("work %s is of kind %s, for which no task is registered", work.pk, work.kind)
        return False
    Work.objects.filter(pk=work.pk).update(sent_at=Now())
    try:
        import_string(TASKS[work.kind]).delay(work.pk)
    except (OperationalError, OSError):
        log.warning("the broker is away; work %s waits for the next sweep", work.pk)
        Work.objects.filter(pk=work.pk).update(sent_at=None)
        return False
    return True


class Progress:
    """What `compute` calls to tell how far it is, and where it learns that it should stop."""

    def __init__(self, mine: QuerySet[Work], heartbeat: Heartbeat) -> None:
        self._mine = mine
        self._heartbeat = heartbeat
        self._said: tuple[float, str] = (0.0, "")

    def __call__(self, percent: float, step: str = "") -> None:
        """percent: 0 to 100. Call it as often as you like. Raises ClaimLost once another worker took over."""
        if self._heartbeat.is_lost:
            raise ClaimLost
        now = time.monotonic()
        if step == self._said[1] and now - self._said[0] < PROGRESS_EVERY_S:
            return
        self._said = (now, step)
        if not self._mine.update(percent=int(min(max(percent, 0), 100)), step=step[:200], heartbeat_at=Now()):
            raise ClaimLost
