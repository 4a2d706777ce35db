"""The periodic chores of records (settings.CELERY_BEAT_SCHEDULE)."""

from __future__ import annotations

from celery import shared_task

from shopflow.records import cache, files, ledger, work


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
