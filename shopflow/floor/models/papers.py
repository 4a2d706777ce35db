"""What left for the customer, and the papers of a job beside its traveler."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.floor.models.lots import Lot
from shopflow.jobs.models import Job
from shopflow.records.models import StoredFile


class Shipment(models.Model):
    """Pieces that left for the customer."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="shipments")
    number = models.PositiveSmallIntegerField()
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="shipments")
    quantity = models.PositiveIntegerField()
    note = models.CharField(max_length=200, blank=True)
    shipped_at = models.DateTimeField(auto_now_add=True)
    shipped_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="shipments_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} shipment {self.number}"


class Paper(models.Model):
    """A paper of a job beside its traveler, kept by the hash of its bytes. A newer one of its kind about the same
    shipment or lot supersedes it.

    chosen: what the person who asked for it chose (the piece of a first article, how many labels). content_hash: of
    all that it says (papers), so that a scan can tell whether the records still say the same.
    """

    class Kind(models.TextChoices):
        CERTIFICATE = "certificate", _("certificate of conformance")
        PACKING_SLIP = "packing-slip", _("packing slip")
        LABELS = "labels", _("labels")
        FIRST_ARTICLE = "first-article", _("first-article report")
        INSPECTION = "inspection", _("inspection report")

    job = models.ForeignKey(Job, models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=15, choices=Kind.choices)
    number = models.PositiveSmallIntegerField()
    shipment = models.ForeignKey(Shipment, models.PROTECT, null=True, related_name="papers")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="papers")
    chosen = models.JSONField(default=dict)
    content_hash = models.CharField(max_length=64, blank=True)
    stored = models.ForeignKey(StoredFile, models.PROTECT, null=True, related_name="+")
    work = models.ForeignKey("records.Work", models.SET_NULL, null=True, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        constraints = [models.UniqueConstraint(fields=["job", "kind", "number"], name="papers_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} {self.get_kind_display()} {self.number}"
