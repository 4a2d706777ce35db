"""What a customer ordered: parts, their revisions, jobs, what was sent with them and asked about them."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from shopflow.records.models import StoredFile, Work
from shopflow.shop.models import Material


class Stage(models.TextChoices):
    """Where a job stands up to its release; from then on its pieces stand at steps (floor)."""

    INTAKE = "intake", _("intake")
    PLAN = "plan", _("plan")
    REVIEW = "review", _("program review")
    RELEASE = "release", _("release")
    FLOOR = "floor", _("on the floor")
    CLOSED = "closed", _("closed")


class Customer(models.Model):
    name = models.CharField(_("name"), max_length=120, unique=True)
    address = models.TextField(_("ship to"), blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Part(models.Model):
    """A part as the customer numbers it."""

    customer = models.ForeignKey(Customer, models.PROTECT, related_name="parts", verbose_name=_("customer"))
    number = models.CharField(_("part number"), max_length=80)
    name = models.CharField(_("part name"), max_length=120, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["customer", "number"], name="one_part_of_a_number")]

    def __str__(self) -> str:
        return self.number


class PartRevision(models.Model):
    part = models.ForeignKey(Part, models.PROTECT, related_name="revisions")
    revision = models.CharField(_("revision"), max_length=20)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["part", "revision"], name="one_revision_of_a_letter")]

    def __str__(self) -> str:
        return f"{self.part.number} rev {self.revision}"


class Governing(models.TextChoices):
    MODEL = "model", _("the model governs")
    PRINT = "print", _("the print governs")


class Threads(models.TextChoices):
    """How the model shows its threads, as a person compared it with the print."""

    MINOR = "minor", _("at the minor diameter or the tap drill's")
    MAJOR = "major", _("at the major diameter")
    PLAIN = "plain", _("not at all: the holes of the model are plain")
    NONE = "none", _("the part has no threads")


class Job(models.Model):
    """One order line to be made. `stage` is assigned in workflow.actions and nowhere else."""

    number = models.CharField(_("job number"), max_length=20, unique=True)
    revision = models.ForeignKey(PartRevision, models.PROTECT, related_name="jobs")
    order_number = models.CharField(_("customer's order"), max_length=60, blank=True)
    order_line = models.CharField(_("order line"), max_length=20, blank=True)
    quantity = models.PositiveIntegerField(_("quantity"))
    due_on = models.DateField(_("due"))
    material = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, verbose_name=_("material"))
    material_note = models.CharField(_("material as the order says it"), max_length=200, blank=True)
    heat_number = models.CharField(_("heat or lot number"), max_length=60, blank=True)
    material_received = models.BooleanField(_("material received"), default=False)
    notes = models.TextField(_("notes"), blank=True)
    governing = models.CharField(_("what governs"), max_length=5, choices=Governing.choices, blank=True)
    no_model_reason = models.CharField(
        _("why there is no model"), max_length=200, blank=True, help_text=_("paper print, sample, repair, second op …")
    )
    stage = models.CharField(max_length=10, choices=Stage.choices, default=Stage.INTAKE, editable=False)
    held_reason = models.CharField(max_length=300, blank=True, editable=False)
    reading = models.ForeignKey(Work, models.SET_NULL, null=True, blank=True, editable=False, related_name="+")
    solid_index = models.PositiveIntegerField(null=True, blank=True, editable=False)
    unit_confirmed = models.BooleanField(default=False, editable=False)
    revisions_settled = models.CharField(max_length=200, blank=True, editable=False)
    """Why it is right that order, print and model name different revisions; "" where nobody said so."""
    threads = models.CharField(
        _("threads in the model"), max_length=5, choices=Threads.choices, blank=True, editable=False
    )
    left_out = models.JSONField(default=list, blank=True, editable=False)
    """What a person took out of the plan, so that a new proposal does not bring it back: "saw", "setup -Z" …"""
    plan_from = models.ForeignKey("self", models.SET_NULL, null=True, blank=True, editable=False, related_name="+")
    """The earlier order of the part whose plan was copied."""
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["due_on", "number"]
        indexes = [models.Index(fields=["stage", "due_on"])]
        constraints = [models.CheckConstraint(condition=models.Q(quantity__gt=0), name="a_job_makes_something")]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("workflow:job", args=[self.pk])

    @property
    def chain(self) -> str:
        """Name of the job's ledger chain."""
        return f"job:{self.pk}"

    @property
    def part(self) -> Part:
        return self.revision.part

    @property
    def customer(self) -> Customer:
        return self.revision.part.customer

    @property
    def is_open(self) -> bool:
        return self.stage != Stage.CLOSED


class JobFile(models.Model):
    """A file of a job; who may read the job may read the file. A newer one of its kind supersedes it."""

    class Kind(models.TextChoices):
        MODEL = "model", _("model")
        DRAWING = "drawing", _("drawing")
        BLANK = "blank", _("model of the blank")
        PHOTO = "photo", _("photo")
        OTHER = "other", _("other")

    job = models.ForeignKey(Job, models.CASCADE, related_name="files")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    stored = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    name = models.CharField(max_length=200)
    revision = models.CharField(_("revision"), max_length=20, blank=True)
    """As the file itself or who sent it says; "" where nobody said."""
    uploaded_at = models.DateTimeField(auto_now_add=True)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.name


class Question(models.Model):
    """A question to the customer; while one that holds the job is open, the job does not leave intake."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="questions")
    number = models.PositiveSmallIntegerField()
    text = models.TextField(_("question"))
    holds_job = models.BooleanField(_("holds the job"), default=True)
    answer = models.TextField(_("answer"), blank=True)
    substitute = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+")
    """The material offered in place of the one ordered, where the question is about that."""
    substitute_size = models.CharField(_("size instead"), max_length=120, blank=True)
    approved = models.BooleanField(_("approved"), null=True, blank=True)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="questions_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} question {self.number}"

    @property
    def is_open(self) -> bool:
        return self.answered_at is None

    @property
    def is_substitution(self) -> bool:
        """Whether it offers other material or another size than ordered, which only the customer can approve."""
        return bool(self.substitute_id or self.substitute_size)
