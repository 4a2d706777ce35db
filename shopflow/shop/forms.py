"""What people type about the shop's things, by hand or in a file."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.types import ToolUse
from shopflow.people.models import ShopSettings
from shopflow.people.seen import SeenMixin
from shopflow.shop import queries
from shopflow.shop.models import ClosedDay, CuttingData, Fixture, Gauge, Holder, Machine, Material, StockBar, Tool
from shopflow.shop.texts import plain_text

PAIR = re.compile(r"\s*(\d+(?:\.\d+)?)\s+(\d+(?:\.\d+)?)\s*")


class ProfileField(forms.Field):
    """Height and diameter of each corner of a holder, from the nose upwards: "0 27; 40 27; 40 50"."""

    def to_python(self, value: Any) -> list[list[str]]:
        if isinstance(value, list):
            return value
        pairs = [PAIR.fullmatch(part) for part in (value or "").split(";") if part.strip()]
        if not all(pairs):
            raise ValidationError(_("Type pairs of height and diameter in mm, such as 0 27; 40 27; 40 50."))
        return [[pair[1], pair[2]] for pair in pairs if pair]

    def prepare_value(self, value: Any) -> Any:
        return plain_text(value) if isinstance(value, list) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        return bool(plain_text(initial or []) != (data or ""))


class RowForm(SeenMixin, forms.ModelForm):  # type: ignore[type-arg]
    """A form over one row; numbers are shown without the zeros that a column keeps."""

    def get_initial_for_field(self, field: forms.Field, field_name: str) -> Any:
        value = super().get_initial_for_field(field, field_name)
        return plain_text(value) if isinstance(value, Decimal) else value


class ToolForm(RowForm):
    uses = forms.MultipleChoiceField(
        label=gettext_lazy("Allowed uses"),
        choices=[(use.value, use.value) for use in ToolUse],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=gettext_lazy("What this shop lets the tool do; none ticked means anything that its shape can."),
    )
    holder = forms.ModelChoiceField(
        Holder.objects.all(), to_field_name="name", required=False, label=gettext_lazy("Holder")
    )

    def get_initial_for_field(self, field: forms.Field, field_name: str) -> Any:
        # The list is chosen from by name, so what is chosen must be the row and not its number.
        return self.instance.holder if field_name == "holder" else super().get_initial_for_field(field, field_name)

    class Meta:
        model = Tool
        fields = [
            "number", "name", "shape", "diameter", "material", "coating", "flutes", "corner_radius", "point_angle",
            "tip_diameter", "pitch", "set_from", "set_to", "flute_length", "stickout", "neck_diameter",
            "shank_diameter", "holder", "max_rpm", "centre_cutting", "through_coolant", "uses", "on_hand", "life",
            "life_unit", "life_used", "edge", "note",
        ]  # fmt: skip


class HolderForm(RowForm):
    profile = ProfileField(
        label=gettext_lazy("Profile"),
        required=False,
        help_text=gettext_lazy(
            "Height above the nose and diameter in mm, corner by corner: 0 27; 40 27; 40 50. "
            "Near misses are judged against it. Go up to the spindle: stickout and last height make the gauge length."
        ),
    )

    class Meta:
        model = Holder
        fields = ["name", "profile"]


class MachineForm(RowForm):
    control = forms.ChoiceField(
        label=gettext_lazy("Control profile"),
        choices=queries.control_choices,
        help_text=gettext_lazy("How its control reads programs; Control profiles say what each means."),
    )

    class Meta:
        model = Machine
        fields = [
            "name", "travel_x", "travel_y", "travel_z", "rapid_x", "rapid_y", "rapid_z", "max_feed", "acceleration",
            "min_rpm", "max_rpm", "power_kw", "power_curve", "spindle_start_s", "tool_change_s", "carousel",
            "through_coolant", "control", "name_by_number", "name_length", "name_ending", "first_number", "last_number",
            "line_ends", "percent_signs", "comment_length", "own_comments_plain", "memory_bytes", "note",
        ]  # fmt: skip


class MaterialForm(RowForm):
    class Meta:
        model = Material
        fields = ["name", "group", "density", "unit_power", "needs_heat_number", "caution", "source"]


class CuttingDataForm(RowForm):
    group = forms.CharField(
        label=gettext_lazy("Material or group"),
        max_length=80,
        help_text=gettext_lazy("As the table of materials says it: a material's name goes before its group."),
    )
    uses = forms.MultipleChoiceField(
        label=gettext_lazy("Uses"),
        choices=[(use.value, use.value) for use in ToolUse],
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("What the tool does at this speed, feed or coolant."),
    )

    def get_initial_for_field(self, field: forms.Field, field_name: str) -> Any:
        """A new row gets the next free number."""
        if field_name == "number" and self.instance.pk is None:
            return queries.next_cutting_number()
        return super().get_initial_for_field(field, field_name)

    class Meta:
        model = CuttingData
        fields = [
            "number", "group", "tool_material", "coating", "uses", "diameter", "speed_low", "speed_usual", "speed_high",
            "speed_unit", "feed_low", "feed_usual", "feed_high", "coolant", "reason",
        ]  # fmt: skip


class GaugeForm(RowForm):
    class Meta:
        model = Gauge
        fields = ["number", "name", "resolution", "smallest", "largest", "calibrated_until", "note"]
        widgets = {"calibrated_until": forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})}


class FixtureForm(RowForm):
    class Meta:
        model = Fixture
        fields = ["number", "kind", "name", "shelf", "program", "recuts_left", "note"]
        help_texts = {
            "program": gettext_lazy("Name or number of the program that cuts its faces."),
            "recuts_left": gettext_lazy("How often its faces can be cut again before it is used up."),
        }


class ClosedDayForm(RowForm):
    class Meta:
        model = ClosedDay
        fields = ["name", "day", "last", "note"]
        help_texts = {
            "name": gettext_lazy("Such as New Year 2027: each year is a row of its own."),
            "last": gettext_lazy("Empty for one day."),
        }
        widgets = {name: forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d") for name in ("day", "last")}


class StockBarForm(RowForm):
    material = forms.ModelChoiceField(
        Material.objects.all(), to_field_name="name", label=gettext_lazy("Material"), empty_label=gettext_lazy("choose")
    )

    def get_initial_for_field(self, field: forms.Field, field_name: str) -> Any:
        if field_name == "material":  # chosen from by name, as the holder of a tool
            return self.instance.material if self.instance.material_id else None
        return super().get_initial_for_field(field, field_name)

    class Meta:
        model = StockBar
        fields = [
            "number", "material", "shape", "thickness", "width", "length", "minus", "cold_finished", "kerf", "price",
            "on_hand", "heat_number", "place", "owner", "for_job", "remnant", "note",
        ]  # fmt: skip
        help_texts = {
            "width": gettext_lazy("Of a plate or flat bar."),
            "minus": gettext_lazy("Empty: nothing; of cold-finished low carbon steel, what ASTM A108 allows."),
            "kerf": gettext_lazy("Empty: as the house rule says."),
            "on_hand": gettext_lazy("0 for a size that the shop buys when it needs it."),
            "owner": gettext_lazy("A customer's name where the bar is not the shop's."),
            "for_job": gettext_lazy("A job's number, where its owner sent the bar for that job alone."),
            "remnant": gettext_lazy("Its end is sawn already: no stub comes off."),
        }


class HouseRuleForm(SeenMixin, forms.Form):
    unseen = ("reason",)

    text = forms.CharField(
        label=gettext_lazy("New value"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Empty goes back to the default."),
    )
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=300)


class ShopFactsForm(SeenMixin, forms.Form):
    name = forms.CharField(label=gettext_lazy("Shop name"), max_length=120)
    address = forms.CharField(label=gettext_lazy("Address"), widget=forms.Textarea, required=False, max_length=1000)
    paper_size = forms.ChoiceField(label=gettext_lazy("Paper in the printer"), choices=ShopSettings.PaperSize.choices)
    worked_days = forms.MultipleChoiceField(
        label=gettext_lazy("Days worked"),
        choices=[(str(number), name) for number, name in enumerate(WEEKDAYS.values(), start=1)],
        widget=forms.CheckboxSelectMultiple,
        required=True,
        help_text=gettext_lazy("Days due are counted over these; holidays stand in the table of closed days."),
        error_messages={"required": gettext_lazy("Mark at least one day.")},
    )


class CsvForm(forms.Form):
    """A file, or the text of one that was shown before and is now taken in part."""

    file = forms.FileField(
        label=gettext_lazy("CSV file"),
        error_messages={"required": gettext_lazy("Choose a file first.")},
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,text/csv"}),
        help_text=gettext_lazy("The same columns as the file that this page gives; missing ones stay as they are."),
    )
    text = forms.CharField(required=False, widget=forms.HiddenInput, strip=False)
    only_good = forms.BooleanField(required=False, widget=forms.HiddenInput)
    state = forms.CharField(required=False, widget=forms.HiddenInput, max_length=64)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].required = not self.data.get("text")
