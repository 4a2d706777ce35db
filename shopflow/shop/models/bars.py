"""The rack: bars, plates and rounds of one size, heat and place."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core.planning.blanks.bars import Bar, Section, cold_finished_minus_mm
from shopflow.shop import soundness
from shopflow.shop.fields import MeasureField, millimetres


class StockBar(models.Model):
    """What the shop has or buys to saw blanks from. on_hand: how many of this length stand on the rack."""

    class Shape(models.TextChoices):
        PLATE = "plate", _("plate")
        FLAT = "flat bar", _("flat bar")
        ROUND = "round bar", _("round bar")
        HEXAGON = "hexagon bar", _("hexagon bar")

    number = models.CharField(_("number"), max_length=30, unique=True)
    material = models.ForeignKey("shop.Material", models.PROTECT, related_name="bars", verbose_name=_("material"))
    shape = models.CharField(_("shape"), max_length=12, choices=Shape.choices)
    thickness = MeasureField(_("thickness or diameter"), blank=False)
    width = MeasureField(_("width"))
    length = MeasureField(_("length"), blank=False)
    minus = MeasureField(_("may be smaller by"))
    cold_finished = models.BooleanField(_("cold finished"), default=False)
    kerf = MeasureField(_("saw kerf"))
    price = models.DecimalField(_("price of one"), max_digits=10, decimal_places=2, null=True, blank=True)
    on_hand = models.PositiveSmallIntegerField(_("on the rack"), default=0)
    heat_number = models.CharField(_("heat or lot number"), max_length=60, blank=True)
    place = models.CharField(_("place"), max_length=60, blank=True)
    owner = models.CharField(_("owner"), max_length=120, blank=True)
    """A customer's name where the bar is not the shop's; "" for the shop's own."""
    for_job = models.CharField(_("for job"), max_length=20, blank=True)
    """The number of the one job that its owner sent it for; "" for any of theirs."""
    remnant = models.BooleanField(_("a remnant"), default=False)
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.number} {self.size_words}"

    def clean(self) -> None:
        soundness.check_bar(self)

    @property
    def size_words(self) -> str:
        """As it is asked for at the rack: "flat bar 20 mm × 105 mm × 3000 mm"."""
        sizes = [str(size) for size in (self.thickness, self.width, self.length) if size]
        return f"{self.get_shape_display()} {' × '.join(sizes)}"

    def as_core(self, *, kerf_mm: float, on_rack: int) -> Bar:
        """kerf_mm: the house rule, where the row says none. on_rack: how many are free."""
        section, thickness = Section(self.shape), millimetres(self.thickness)
        usual = cold_finished_minus_mm(section, thickness) if self.cold_finished else None
        return Bar(
            key=self.number,
            section=section,
            thickness_mm=thickness,
            width_mm=millimetres(self.width),
            length_mm=millimetres(self.length),
            on_rack=on_rack,
            kerf_mm=self.kerf.mm if self.kerf else kerf_mm,
            minus_mm=self.minus.mm if self.minus else usual or 0.0,
            price=float(self.price) if self.price is not None else None,
            heat=self.heat_number,
            place=self.place,
            owner=self.owner,
            is_clean=self.remnant,
        )
