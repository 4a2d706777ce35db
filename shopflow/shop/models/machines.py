"""The mills, and how each wants its files."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core import types
from shopflow.core.cutting.power import read_curve
from shopflow.core.nc.machine_text import MachineText
from shopflow.shop import soundness
from shopflow.shop.fields import MeasureField, millimetres


class Machine(models.Model):
    """A mill of the shop. Feeds are mm/min, accelerations mm/s², power kW.

    From name_by_number to memory_bytes: how it wants its files; floor copies keep to it.
    """

    class LineEnds(models.TextChoices):
        CRLF = "crlf", _("carriage return and line feed")
        LF = "lf", _("line feed alone")

    name = models.CharField(_("name"), max_length=80, unique=True)
    travel_x = MeasureField(_("travel X"), blank=False)
    travel_y = MeasureField(_("travel Y"), blank=False)
    travel_z = MeasureField(_("travel Z"), blank=False)
    rapid_x = models.PositiveIntegerField(_("rapid X, mm/min"), default=15000)
    rapid_y = models.PositiveIntegerField(_("rapid Y, mm/min"), default=15000)
    rapid_z = models.PositiveIntegerField(_("rapid Z, mm/min"), default=10000)
    acceleration = models.PositiveIntegerField(_("acceleration, mm/s²"), default=1500)
    max_feed = models.PositiveIntegerField(_("highest cutting feed, mm/min"), default=10000)
    min_rpm = models.PositiveIntegerField(_("lowest rpm"), default=50)
    max_rpm = models.PositiveIntegerField(_("highest rpm"), default=8000)
    power_kw = models.DecimalField(_("spindle power, kW"), max_digits=6, decimal_places=2, default=7)
    power_curve = models.CharField(
        _("power by speed, rpm kW"),
        max_length=200,
        blank=True,
        help_text=_("pairs apart by commas, such as 1500 7.5, 8000 7.5; empty: the same power at every speed"),
    )
    tool_change_s = models.DecimalField(_("tool change, s"), max_digits=5, decimal_places=1, default=6)
    spindle_start_s = models.DecimalField(_("spindle start, s"), max_digits=5, decimal_places=1, default=2)
    carousel = models.PositiveSmallIntegerField(_("pockets in the carousel"), default=20)
    through_coolant = models.BooleanField(_("coolant through the spindle"), default=False)
    control = models.CharField(_("control profile"), max_length=40, default="calculator")
    name_by_number = models.BooleanField(_("files are called by the program number (O1234)"), default=False)
    name_length = models.PositiveSmallIntegerField(
        _("longest file name"), default=0, help_text=_("characters before the point; 0 for no limit")
    )
    name_ending = models.CharField(
        _("ending of file names"), max_length=8, blank=True, help_text=_("such as nc; empty: as the program's own")
    )
    first_number = models.PositiveIntegerField(_("first program number"), default=0)
    last_number = models.PositiveIntegerField(_("last program number"), default=99_999_999)
    line_ends = models.CharField(_("line ends"), max_length=4, choices=LineEnds.choices, default=LineEnds.CRLF)
    percent_signs = models.BooleanField(_("a lone % must open and close a file"), default=False)
    comment_length = models.PositiveSmallIntegerField(
        _("longest comment"), default=60, help_text=_("characters between the parentheses")
    )
    own_comments_plain = models.BooleanField(
        _("comments of a program itself must be short and plain too"),
        default=False,
        help_text=_("upper case, no brackets inside; otherwise only the header and the stops are"),
    )
    memory_bytes = models.PositiveIntegerField(
        _("memory for one program, bytes"), default=0, help_text=_("0 for no limit")
    )
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        soundness.check_machine(self)

    def as_core(self, control: types.ControlProfile) -> types.Machine:
        """The core's machine; the control profile is looked up by its name where the profiles are known."""
        return types.Machine(
            name=self.name,
            travel_mm=(millimetres(self.travel_x), millimetres(self.travel_y), millimetres(self.travel_z)),
            rapid_mm_min=(float(self.rapid_x), float(self.rapid_y), float(self.rapid_z)),
            acceleration_mm_s2=(float(self.acceleration),) * 3,
            max_feed_mm_min=float(self.max_feed),
            min_rpm=float(self.min_rpm),
            max_rpm=float(self.max_rpm),
            power_kw=float(self.power_kw),
            power_curve=read_curve(self.power_curve),
            tool_change_s=float(self.tool_change_s),
            spindle_start_s=float(self.spindle_start_s),
            carousel=self.carousel,
            through_coolant=self.through_coolant,
            control=control,
        )

    def machine_text(self) -> MachineText:
        """How its files must be written."""
        return MachineText(
            number_range=(self.first_number, self.last_number),
            line_end="\r\n" if self.line_ends == self.LineEnds.CRLF else "\n",
            comment_length=self.comment_length,
            own_comments_plain=self.own_comments_plain,
            max_bytes=self.memory_bytes,
            percent_signs=self.percent_signs,
            name_by_number=self.name_by_number,
            name_length=self.name_length,
            name_ending=self.name_ending,
        )
