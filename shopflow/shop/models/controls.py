"""Control profiles of the shop's own, and who changed them."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.records.protect import append_only


class ControlProfile(models.Model):
    """A control profile of the shop's own: a built-in one with some settings changed.

    changes: the settings that differ from it, as core.nc.control_values has them plain.
    """

    name = models.SlugField(_("short name"), max_length=40, unique=True)
    title = models.CharField(_("title"), max_length=120)
    based_on = models.CharField(_("based on"), max_length=40)
    changes = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["title", "name"]

    def __str__(self) -> str:
        return self.title


@append_only
class ControlProfileChange(models.Model):
    """Who changed a control profile, from what to what, and why; rows are only added.

    of: number of the profile, which it keeps under every name. before, after: the settings that changed, plain; name
    and title among them. Nothing before: it was made then; nothing after: it was removed.
    """

    of = models.BigIntegerField()
    profile = models.CharField(max_length=40)
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)
    reason = models.CharField(_("reason"), max_length=300)
    changed_at = models.DateTimeField(auto_now_add=True)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["of"])]

    def __str__(self) -> str:
        return f"{self.profile}: {', '.join(self.after) or 'removed'}"
