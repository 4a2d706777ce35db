"""Days on which the shop is closed."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _


class ClosedDay(models.Model):
    """A holiday, or several days in a row; last: None for one day."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    day = models.DateField(_("first day"))
    last = models.DateField(_("last day"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["day", "name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if self.day and self.last and self.last < self.day:
            raise ValidationError({"last": _("The last day comes before the first.")})
