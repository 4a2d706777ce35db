"""The shop's own speeds, feeds and coolant, which go before those of published tables."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core import types
from shopflow.core.cutting import rows
from shopflow.shop import soundness
from shopflow.shop.fields import MeasureField

METRES_A_FOOT = 0.3048


class CuttingData(models.Model):
    """A speed, a feed, a coolant or several of them that this shop found to be right, with why.

    What is left empty is read as "any". Speeds are surface speeds in `speed_unit`; feeds are lengths a tooth, or a turn
    for what is fed along its axis.
    """

    class SpeedUnit(models.TextChoices):
        METRES = "m/min", "m/min"
        FEET = "ft/min", "ft/min"

    number = models.PositiveIntegerField(_("number"), unique=True)
    group = models.CharField(
        _("material or group"), max_length=80, help_text=_("As the table of materials says it, such as aluminium.")
    )
    tool_material = models.CharField(
        _("tool material"),
        max_length=30,
        choices=[(kind.value, kind.value) for kind in types.ToolMaterial],
        blank=True,
        help_text=_("Empty: any."),
    )
    coating = models.CharField(
        _("coating"),
        max_length=20,
        choices=[(rows.COATED, _("any coating"))] + [(kind.value, kind.value) for kind in types.ToolCoating if kind],
        blank=True,
        help_text=_("Empty: with or without."),
    )
    uses = models.JSONField(_("uses"), default=list)
    diameter = MeasureField(
        _("diameter"), help_text=_("Empty: every diameter; otherwise it holds from half of it to double.")
    )
    speed_low = models.DecimalField(_("slowest"), max_digits=7, decimal_places=2, null=True, blank=True)
    speed_usual = models.DecimalField(_("usual speed"), max_digits=7, decimal_places=2, null=True, blank=True)
    speed_high = models.DecimalField(_("fastest"), max_digits=7, decimal_places=2, null=True, blank=True)
    speed_unit = models.CharField(_("speed in"), max_length=6, choices=SpeedUnit.choices, default=SpeedUnit.METRES)
    feed_low = MeasureField(_("least feed"))
    feed_usual = MeasureField(_("usual feed"))
    feed_high = MeasureField(_("most feed"))
    coolant = models.CharField(
        _("coolant"),
        max_length=20,
        choices=[(way.value, way.value) for way in rows.Way],
        blank=True,
        help_text=_("What this shop cuts with here; empty: as the published table says."),
    )
    reason = models.CharField(_("why"), max_length=300, help_text=_("Where it comes from, or what was tried."))

    class Meta:
        ordering = ["number"]
        verbose_name = _("cutting data")

    def __str__(self) -> str:
        return f"{self.number} {self.group}"

    def clean(self) -> None:
        soundness.check_cutting_data(self)

    def as_core(self) -> rows.DataRow:
        """The core's row; its source says that it is the shop's own, and why."""
        source = str(_("this shop's own: %s")) % self.reason
        speed = self._speed(source)
        return rows.DataRow(
            group=self.group,
            tool_material=types.ToolMaterial(self.tool_material) if self.tool_material else None,
            coating=self.coating if self.coating == rows.COATED else types.ToolCoating(self.coating),
            uses=frozenset(types.ToolUse(use) for use in self.uses),
            diameter_mm=self.diameter.mm if self.diameter else None,
            speed_m_min=speed.times(self._metres()) if speed else None,
            feed_mm=self._feed(source),
            is_own=True,
            coolant=rows.Ways((rows.Way(self.coolant),), True, source=source) if self.coolant else None,
        )

    def _metres(self) -> float:
        return METRES_A_FOOT if self.speed_unit == self.SpeedUnit.FEET else 1.0

    def _speed(self, source: str) -> rows.Window | None:
        typed = (self.speed_low, self.speed_usual, self.speed_high)
        low, usual, high = (None if speed is None else float(speed) for speed in typed)
        return rows.window(low, usual, high, source)

    def _feed(self, source: str) -> rows.Window | None:
        typed = (self.feed_low, self.feed_usual, self.feed_high)
        low, usual, high = (feed.mm if feed else None for feed in typed)
        return rows.window(low, usual, high, source)
