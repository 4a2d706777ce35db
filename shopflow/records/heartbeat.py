"""The thread that says, while a worker computes, that the worker is alive."""

from __future__ import annotations

import logging
import threading
from types import TracebackType
from typing import Self

from django.db import DatabaseError, connection
from django.db.models import QuerySet
from django.db.models.functions import Now

from shopflow.records.models import Work

log = logging.getLogger(__name__)

BEAT_EVERY_S = 5.0


class Heartbeat:
    """Beats on a connection of its own until the block ends or the claim is lost.

    Inside an open transaction there is none: no other connection could see the claim, and none can take it either.
    """

    def __init__(self, mine: QuerySet[Work]) -> None:
        self._mine = mine
        self._ended = threading.Event()
        self._lost = threading.Event()
        self._thread = threading.Thread(target=self._beat, name="heartbeat", daemon=True)

    @property
    def is_lost(self) -> bool:
        """Whether another worker took the claim over, as far as the last beat knows."""
        return self._lost.is_set()

    def __enter__(self) -> Self:
        if not connection.in_atomic_block:
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join()

    def _beat(self) -> None:
        try:
            while not self._ended.wait(BEAT_EVERY_S):
                self._beat_once()
                if self.is_lost:
                    return
        finally:
            connection.close()

    def _beat_once(self) -> None:
        try:
            if not self._mine.all().update(heartbeat_at=Now()):
                self._lost.set()
        except DatabaseError:
            # A server that is away for a moment is no reason to stop; away for long, the claim is lost and found so.
            log.warning("a heartbeat could not be written", exc_info=True)
            connection.close()
