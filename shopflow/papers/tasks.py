"""Long work of this app: each task is one line to an action."""

from __future__ import annotations

from celery import shared_task

from shopflow.papers import actions
from shopflow.records import work


@shared_task
def print_traveler(work_id: int) -> None:
    work.run(work_id, actions.print_traveler, save=actions.keep_traveler)


@shared_task
def print_paper(work_id: int) -> None:
    work.run(work_id, actions.print_paper, save=actions.keep_paper)
