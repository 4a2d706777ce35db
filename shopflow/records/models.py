"""The tables of what must never be lost. Ledger rows, files and withdrawals are only ever added (records.protect)."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.validators import RegexValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.records.canonical import digest
from shopflow.records.protect import append_only

sha256_hex = RegexValidator(r"\A[0-9a-f]{64}\Z")


@append_only
class StoredFile(models.Model):
    """Bytes kept under their SHA-256; the name a person gave them belongs to whatever refers to this row."""

    sha256 = models.CharField(max_length=64, unique=True, validators=[sha256_hex])
    size = models.PositiveBigIntegerField(help_text="bytes")
    media_type = models.CharField(max_length=100)
    stored_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.sha256[:12]} ({self.media_type}, {self.size} bytes)"

    @property
    def withdrawal_or_none(self) -> Withdrawal | None:
        return Withdrawal.objects.filter(file=self).first()

    @property
    def is_withdrawn(self) -> bool:
        return self.withdrawal_or_none is not None


@append_only
class Withdrawal(models.Model):
    """The bytes of a file were taken away by a person, for a reason; its row and hash stay."""

    file = models.OneToOneField(StoredFile, on_delete=models.PROTECT, related_name="withdrawal")
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()

    def __str__(self) -> str:
        return f"{self.file.sha256[:12]} withdrawn: {self.reason}"


class ChainHead(models.Model):
    """The last row of one chain: what an append locks, what papers print, what screens watch for changes."""

    chain = models.CharField(max_length=40, primary_key=True)
    seq = models.PositiveBigIntegerField(default=0)
    hash = models.CharField(max_length=64, blank=True)
    changed = models.BigIntegerField(default=0, db_index=True, help_text="see records.changes")

    class Meta:
        ordering = ["chain"]

    def __str__(self) -> str:
        return f"{self.chain} {self.seq} {self.hash}"


@append_only
class LedgerRow(models.Model):
    """One thing that happened, hashed together with the row before it in its chain."""

    chain = models.CharField(max_length=40)
    seq = models.PositiveBigIntegerField(help_text="1, 2, 3 … within the chain")
    kind = models.CharField(max_length=60)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    subject_kind = models.CharField(max_length=40)
    subject_id = models.BigIntegerField()
    payload = models.TextField(help_text="canonical JSON")
    key = models.CharField(max_length=100, unique=True, null=True)  # noqa: DJ001  NULL: many rows without a key
    previous = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)

    repeated = False
    """True on the row that append() gives back when the same report came a second time."""

    class Meta:
        ordering = ["chain", "seq"]
        constraints = [models.UniqueConstraint(fields=["chain", "seq"], name="one_row_a_place_in_the_chain")]
        indexes = [models.Index(fields=["subject_kind", "subject_id", "seq"], name="ledger_by_subject")]

    def __str__(self) -> str:
        return f"{self.chain} {self.seq} {self.kind}"

    @property
    def data(self) -> dict[str, Any]:
        """The payload as plain values; decimals and times are text."""
        loaded: dict[str, Any] = json.loads(self.payload)
        return loaded

    def computed_hash(self) -> str:
        """What `hash` must be: SHA-256 over the canonical JSON of all that this row says and the hash before it."""
        return digest(
            {
                "format": 1,
                "chain": self.chain,
                "seq": self.seq,
                "kind": self.kind,
                "at": self.at,
                "by": self.by_id,
                "subject": [self.subject_kind, self.subject_id],
                "payload": self.payload,
                "key": self.key,
                "previous": self.previous,
            }
        )

    @property
    def subject(self) -> tuple[str, int]:
        return (self.subject_kind, self.subject_id)


class Work(models.Model):
    """One piece of long work: asked once for its inputs, done by whichever worker holds the claim."""

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        RUNNING = "running", _("running")
        DONE = "done", _("done")
        FAILED = "failed", _("failed")

    kind = models.CharField(max_length=60)
    key = models.CharField(max_length=64, unique=True, help_text="hash of kind, inputs and version")
    inputs = models.TextField(help_text="canonical JSON")
    version = models.CharField(max_length=60, help_text="version of the algorithm, grid included")
    subject_kind = models.CharField(max_length=40)
    subject_id = models.BigIntegerField()

    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    percent = models.PositiveSmallIntegerField(default=0)
    step = models.CharField(max_length=200, blank=True)
    attempts = models.PositiveIntegerField(default=0, help_text="only ever grows: it tells one claim from the next")
    attempts_allowed = models.PositiveIntegerField()
    error = models.TextField(blank=True, help_text="a plain sentence for people")
    result = models.JSONField(null=True)

    asked_at = models.DateTimeField(auto_now_add=True)
    sent_at = models.DateTimeField(null=True, help_text="last handed to the broker")
    started_at = models.DateTimeField(null=True)
    heartbeat_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(
                fields=["state", "heartbeat_at"],
                name="work_unfinished",
                condition=models.Q(state__in=["waiting", "running"]),
            ),
            models.Index(fields=["subject_kind", "subject_id"], name="work_by_subject"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key[:12]} {self.state}"

    @property
    def unfinished(self) -> bool:
        return self.state in (self.State.WAITING, self.State.RUNNING)

    @property
    def given_up(self) -> bool:
        """Failed because no try was left, not because it was refused: asked again it may well succeed."""
        return self.state == self.State.FAILED and self.attempts >= self.attempts_allowed

    @property
    def data(self) -> dict[str, Any]:
        """The inputs as plain values; decimals and times are text."""
        loaded: dict[str, Any] = json.loads(self.inputs)
        return loaded

    @property
    def seconds(self) -> float | None:
        """How long the last try has taken, or None before it ended."""
        return _between(self.started_at, self.finished_at)


def _between(start: datetime | None, end: datetime | None) -> float | None:
    return (end - start).total_seconds() if start and end else None
