"""NC programs of a job: revisions, what review found, what people decided, who signed which bytes."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import models
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.models import Job, Part, Setup
from shopflow.records.models import StoredFile, Work
from shopflow.records.protect import append_only
from shopflow.shop.models import Material, Tool


class Program(models.Model):
    """One program of a job; it may hold several setups one after the other."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="programs")
    name = models.CharField(_("name"), max_length=80)
    setups = models.ManyToManyField(Setup, related_name="programs", verbose_name=_("setups"))

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["job", "name"], name="program_names_differ")]

    def __str__(self) -> str:
        return self.name


class ProgramRevision(models.Model):
    """Exact bytes of a program. A new upload or taken edits make a new revision.

    came_by: how these bytes came to be. repeats: the revision of an earlier job whose bytes they are.
    """

    class CameBy(models.TextChoices):
        UPLOAD = "upload", _("sent in")
        EDITS = "edits", _("edits taken")
        APART = "apart", _("taken apart")
        READ_BACK = "read-back", _("from the control")
        REPEAT = "repeat", _("proven before")

    program = models.ForeignKey(Program, models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    stored = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    name = models.CharField(max_length=200)
    note = models.CharField(max_length=300, blank=True)
    # Numbers that the text calls anywhere (T, H, D), found when the bytes came: they say which tools a review needs.
    called = models.JSONField(default=list, editable=False)
    calls_any = models.BooleanField(default=False, editable=False, help_text="a number is computed: any tool may come")
    came_by = models.CharField(max_length=10, choices=CameBy.choices, default=CameBy.UPLOAD)
    repeats = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="repeated")
    made_with = models.CharField(max_length=120, blank=True)
    """The toolpath generator with its version, as a person said it; "" where nobody did."""
    made_settings = models.CharField(max_length=120, blank=True)
    """Of the generator: template, settings, post."""
    uploaded_at = models.DateTimeField(auto_now_add=True)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["program", "number"], name="program_revisions_are_numbered")]

    def __str__(self) -> str:
        return f"{self.program} revision {self.number}"

    def get_absolute_url(self) -> str:
        return reverse("programs:revision", args=[self.pk])


@append_only
class PartCuts(models.Model):
    """Where a person ends parts of a revision besides its stops; rows are only added, the newest one counts.

    lines: numbers, rising; an empty list takes earlier cuts back. parts: programs.summary.part_rows with them, as read
    under the inputs of this hash (programs.inputs).
    """

    revision = models.ForeignKey(ProgramRevision, models.PROTECT, related_name="cuts")
    lines = models.JSONField()
    parts = models.JSONField()
    inputs_hash = models.CharField(max_length=64)
    cut_at = models.DateTimeField(auto_now_add=True)
    cut_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.revision} cut behind {self.lines}"


class Review(models.Model):
    """One review of one revision under certain assumptions; its findings are the result of its work row."""

    revision = models.ForeignKey(ProgramRevision, models.CASCADE, related_name="reviews")
    assumptions_hash = models.CharField(max_length=64)
    work = models.ForeignKey(Work, models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [models.UniqueConstraint(fields=["revision", "work"], name="a_review_once")]

    def __str__(self) -> str:
        return f"review of {self.revision}"

    @property
    def is_done(self) -> bool:
        return self.work.state == Work.State.DONE

    @property
    def result(self) -> dict[str, Any]:
        """What it found (programs.reviewing.review); empty until it is done."""
        return self.work.result or {}


class ReviewTally(models.Model):
    """What the newest review of a revision, or the newest removal of material with it, found, counted.

    The findings themselves lie in the result of the work; the page over all jobs would have to read every one of them.
    air_s: seconds of the runs that take nothing, of a removal.
    """

    class Of(models.TextChoices):
        REVIEW = "review", _("reading and rules")
        REMOVAL = "removal", _("removal of material")

    revision = models.ForeignKey(ProgramRevision, models.CASCADE, related_name="tallies")
    of = models.CharField(max_length=10, choices=Of.choices)
    cycle_s = models.FloatField(default=0.0)
    air_s = models.FloatField(default=0.0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["revision", "of"], name="one_tally_of_a_kind")]

    def __str__(self) -> str:
        return f"{self.of} of {self.revision}"


class RuleTally(models.Model):
    """How many findings of one rule a review made, by weight."""

    tally = models.ForeignKey(ReviewTally, models.CASCADE, related_name="rules")
    code = models.CharField(max_length=60)
    weight = models.CharField(max_length=10)
    count = models.PositiveIntegerField()

    class Meta:
        indexes = [models.Index(fields=["code"])]

    def __str__(self) -> str:
        return f"{self.code} {self.weight}: {self.count}"


@append_only
class Decision(models.Model):
    """What a person decided on one finding of one revision; rows are only added, the newest of a finding counts."""

    class Verdict(models.TextChoices):
        ACCEPT = "accept", _("accept")
        MEND = "mend", _("mend")
        SEND_BACK = "send-back", _("send back")

    revision = models.ForeignKey(ProgramRevision, models.PROTECT, related_name="decisions")
    finding_key = models.CharField(max_length=64)
    code = models.CharField(max_length=60)
    verdict = models.CharField(max_length=10, choices=Verdict.choices)
    reason = models.CharField(_("reason"), max_length=300)
    carried_from = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="+")
    decided_at = models.DateTimeField(auto_now_add=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["revision", "finding_key"])]

    def __str__(self) -> str:
        return f"{self.code}: {self.verdict}"

    @property
    def text(self) -> str:
        """The verdict in words, with the revision that it was carried from."""
        word = str(self.get_verdict_display())
        if self.carried_from is None:
            return word
        source = self.carried_from.revision
        facts = {"word": word, "number": source.number, "program": source.program.name, "job": source.program.job}
        if source.program_id == self.revision.program_id:
            return gettext("%(word)s, carried from revision %(number)d") % facts
        return gettext("%(word)s, carried from job %(job)s, %(program)s revision %(number)d") % facts

    @property
    def by(self) -> object:
        return self.decided_by

    @property
    def at(self) -> datetime:
        return self.decided_at


@append_only
class SignOff(models.Model):
    """A person's name under exact bytes and the assumptions under which they were reviewed; rows are only added.

    assumptions: canonical JSON (design 4.3). evidence: findings and decisions as canonical JSON. versions: of reader
    and rules, recorded and not bound. Whether it still holds is computed (programs.queries), never stored.
    """

    revision = models.ForeignKey(ProgramRevision, models.PROTECT, related_name="sign_offs")
    content_sha256 = models.CharField(max_length=64)
    assumptions = models.TextField()
    assumptions_hash = models.CharField(max_length=64)
    evidence = models.TextField()
    versions = models.TextField()
    printed_name = models.CharField(max_length=120)
    meaning = models.CharField(max_length=200)
    signed_at = models.DateTimeField(auto_now_add=True)
    signed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.revision} signed by {self.printed_name}"


class Lesson(models.Model):
    """A short note from the machine (peck here, slower there) that the next review and the next plan show.

    tool, material: of a lesson about them, which every part that has them is told; one about the part is told of it
    alone. revision: whose read-back was judged with it; job: in which it was kept otherwise. A retired one is told
    nowhere but in the list of lessons.
    """

    class About(models.TextChoices):
        TOOL = "tool", _("tool")
        MATERIAL = "material", _("material")
        PART = "part", _("part")

    part = models.ForeignKey(Part, models.PROTECT, null=True, blank=True, related_name="lessons")
    revision = models.ForeignKey(ProgramRevision, models.PROTECT, null=True, blank=True, related_name="lessons")
    job = models.ForeignKey(Job, models.SET_NULL, null=True, blank=True, related_name="+")
    about = models.CharField(max_length=10, choices=About.choices, default=About.PART)
    tool = models.ForeignKey(Tool, models.SET_NULL, null=True, blank=True, related_name="lessons")
    material = models.ForeignKey(Material, models.SET_NULL, null=True, blank=True, related_name="lessons")
    text = models.CharField(max_length=300)
    noted_at = models.DateTimeField(auto_now_add=True)
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    retired_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.text

    @property
    def about_words(self) -> str:
        """The tool or the material by name, else what it is about."""
        return str(self.tool or self.material or self.get_about_display())

    @property
    def about_whole(self) -> str:
        """The same with the part by its number, for lists of several parts."""
        is_part = self.about == self.About.PART and self.part
        return f"{self.get_about_display()} {self.part}" if is_part else self.about_words

    @property
    def from_job(self) -> Job | None:
        """The job in which it was learned; None where nobody named one."""
        return self.job or (self.revision.program.job if self.revision else None)
