from __future__ import annotations

from celery import shared_task

from shopflow.people.models import User
from shopflow.programs import actions
from shopflow.records import work


@shared_task(acks_late=True, reject_on_worker_lost=True)
def review_program(work_id: int) -> None:
    work.run(work_id, actions.review_program, save=actions.note_review)


@shared_task(acks_late=True, reject_on_worker_lost=True)
def remove_material(work_id: int) -> None:
    work.run(work_id, actions.simulate, save=actions.note_simulation)


@shared_task(acks_late=True, reject_on_worker_lost=True)
def compare_programs(work_id: int) -> None:
    work.run(work_id, actions.compare_programs)


@shared_task(acks_late=True, reject_on_worker_lost=True)
def try_edits(work_id: int) -> None:
    work.run(work_id, actions.try_edits)


@shared_task(acks_late=True, reject_on_worker_lost=True)
def review_what_changed(by_id: int | None = None) -> None:
    actions.review_what_changed(by=User.objects.filter(pk=by_id).first() if by_id else None)
