"""Long work of this app: each task is one line to an action."""

from __future__ import annotations

from celery import shared_task

from shopflow.jobs import actions
from shopflow.records import work


@shared_task
def read_model(work_id: int) -> None:
    work.run(work_id, actions.read_model, save=actions.note_reading)


@shared_task
def compare_models(work_id: int) -> None:
    work.run(work_id, actions.compare_models)


@shared_task
def draw_views(work_id: int) -> None:
    work.run(work_id, actions.draw_views)


@shared_task
def read_outdated() -> None:
    actions.read_outdated()
