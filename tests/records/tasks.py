"""A Celery task for tests, as an app has one for each kind of its long work."""

from celery import shared_task

from shopflow.records import work
from tests.records import adding


@shared_task(name="tests.records.tasks.add")
def add(work_id: int) -> None:
    work.run(work_id, adding.add_up, save=adding.note)
