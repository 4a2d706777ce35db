"""Work materials."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core import types
from shopflow.shop import soundness


class Material(models.Model):
    """A work material."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    group = models.CharField(_("group"), max_length=40, help_text=_("such as aluminium, low carbon steel"))
    density = models.DecimalField(_("density, kg/m³"), max_digits=7, decimal_places=1)
    unit_power = models.DecimalField(
        _("unit power, kW per cm³/min"), max_digits=8, decimal_places=5, default=0, help_text=_("0 where unknown")
    )
    needs_heat_number = models.BooleanField(_("heat or lot number asked for"), default=False)
    caution = models.CharField(_("caution"), max_length=300, blank=True)
    source = models.CharField(_("where the numbers come from"), max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        soundness.check_material(self)

    def as_core(self) -> types.Material:
        return types.Material(
            name=self.name,
            group=self.group,
            density_kg_m3=float(self.density),
            unit_power_kw_cm3_min=float(self.unit_power),
        )
