"""The Celery application; tasks carry ids only, the rows they name are the truth (records.work)."""

import os

import structlog
from celery import Celery
from celery.signals import task_postrun, task_prerun, worker_process_init

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")

app = Celery("shopflow")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@task_prerun.connect
def _name_the_task(*, task_id: str, **rest: object) -> None:
    structlog.contextvars.bind_contextvars(task=task_id)


@task_postrun.connect
def _forget_the_task(**rest: object) -> None:
    structlog.contextvars.unbind_contextvars("task")


@worker_process_init.connect
def _warm_the_kernels(**rest: object) -> None:
    from shopflow.deploy.warm import warm_kernels

    warm_kernels()
