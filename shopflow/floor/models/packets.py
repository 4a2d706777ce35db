"""What a release puts on the floor."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.models import Job
from shopflow.programs.models import ProgramRevision, SignOff
from shopflow.records.models import StoredFile


class Packet(models.Model):
    """What a release puts on the floor: the traveler and the floor copies. A newer packet supersedes an older one."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="packets")
    number = models.PositiveSmallIntegerField()
    content_hash = models.CharField(max_length=64)
    traveler = models.ForeignKey(StoredFile, models.PROTECT, null=True, related_name="+")
    traveler_work = models.ForeignKey("records.Work", models.SET_NULL, null=True, related_name="+")
    released_at = models.DateTimeField(auto_now_add=True)
    released_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="packets_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} packet {self.number}"


class FloorCopy(models.Model):
    """The exact bytes that go to a machine, proved to move as the signed revision does.

    The prove-out copy has an optional stop (M01) before each further tool, for the first piece; the lot copy has none.
    """

    class Use(models.TextChoices):
        LOT = "lot", _("for the lot")
        PROVE_OUT = "prove-out", _("to prove out")

    packet = models.ForeignKey(Packet, models.PROTECT, related_name="floor_copies")
    revision = models.ForeignKey(ProgramRevision, models.PROTECT, related_name="+")
    sign_off = models.ForeignKey(SignOff, models.PROTECT, related_name="+")
    stored = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    name = models.CharField(max_length=80)
    use = models.CharField(max_length=10, choices=Use.choices, default=Use.LOT)

    class Meta:
        ordering = ["name", "use"]

    def __str__(self) -> str:
        return self.name

    @property
    def file_name(self) -> str:
        """A name that any control and any browser takes: letters, digits, point, dash."""
        kept = "".join(c if c.isascii() and (c.isalnum() or c in ".-_") else "-" for c in self.name)
        stem, point, ending = kept.rpartition(".") if "." in kept else (kept, ".", "nc")
        return f"{stem}{'-prove-out' if self.is_prove_out else ''}{point}{ending}"

    @property
    def is_prove_out(self) -> bool:
        return self.use == self.Use.PROVE_OUT
