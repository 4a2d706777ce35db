"""Long work without a worker."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from shopflow.celery import app


@contextmanager
def work_done_at_once() -> Iterator[None]:
    """What a worker would do is done in this process, when the transaction that asks for it commits.

    For loading the demo: the broker may not even run yet.
    """
    before = app.conf.task_always_eager
    app.conf.task_always_eager = True
    try:
        yield
    finally:
        app.conf.task_always_eager = before
