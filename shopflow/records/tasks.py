"""The periodic chores of records (settings.CELERY_BEAT_SCHEDULE)."""

from __future__ import annotations

import sys

from celery import shared_task
from celery.signals import worker_init
from django.db import connections

from shopflow.records import cache, files, ledger, protect, work


@worker_init.connect
def refuse_to_start_unprotected(**_: object) -> None:
    """A worker on another host does not pass through `make run`, which migrates and so mends the triggers."""
    try:
        protect.require()
    except protect.Unprotected as error:
        sys.exit(f"This worker does not start: {error}")
    connections.close_all()  # not to be shared with the processes that the worker forks


@shared_task
def sweep_work() -> None:
    work.sweep()


@shared_task
def chain_heads() -> None:
    ledger.chain_heads()


@shared_task
def sweep_orphans() -> None:
    files.sweep_orphans()
    cache.trim()
