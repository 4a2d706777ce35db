from __future__ import annotations

from celery import shared_task

from shopflow.floor import comparing, read_back_actions
from shopflow.records import work


@shared_task(acks_late=True, reject_on_worker_lost=True)
def compare_read_back(work_id: int) -> None:
    work.run(work_id, comparing.run, save=read_back_actions.note_compared)
