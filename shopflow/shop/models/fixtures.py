"""Soft jaws and fixtures: things of the shop that a repeat order finds again."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class Fixture(models.Model):
    """recuts_left: how often its faces can be cut again before it is used up. program: the one that cuts them."""

    class Kind(models.TextChoices):
        JAWS = "soft jaws", _("soft jaws")
        FIXTURE = "fixture", _("fixture")
        PLATE = "fixture plate", _("fixture plate")
        NEST = "nest", _("nest")

    number = models.CharField(_("number"), max_length=30, unique=True)
    kind = models.CharField(_("kind"), max_length=14, choices=Kind.choices, default=Kind.JAWS)
    name = models.CharField(_("name"), max_length=120)
    shelf = models.CharField(_("shelf"), max_length=60, blank=True)
    program = models.CharField(_("program that cuts it"), max_length=80, blank=True)
    recuts_left = models.PositiveSmallIntegerField(_("re-cuts left"), default=0)
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    @property
    def is_used_up(self) -> bool:
        return self.kind == self.Kind.JAWS and not self.recuts_left
