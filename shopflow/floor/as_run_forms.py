"""What the floor types about a setup as it was run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy as _

from shopflow.floor.as_run_actions import MOST_PHOTO_BYTES, ToolSet, WasSet
from shopflow.jobs.forms.lengths import LengthField, with_unit
from shopflow.jobs.models import Setup
from shopflow.shop.models import Tool

MOST_PERCENT = 300
TOOL_FIELDS = {
    "length": _("measured length"), "length_wear": _("wear, length"), "diameter_wear": _("wear, diameter"),
}  # fmt: skip


@dataclass(frozen=True)
class ToolRow:
    """One tool of the setup with its three fields, for the page."""

    tool: Tool
    fields: list[BoundField]


class AsRunForm(forms.Form):
    """Offsets, overrides and tools of one setup; every field may stay empty, not all of them."""

    offset_x = LengthField(label=_("X"), may_be_negative=True)
    offset_y = LengthField(label=_("Y"), may_be_negative=True)
    offset_z = LengthField(label=_("Z"), may_be_negative=True)
    rapid_override = forms.IntegerField(label=_("rapid"), required=False, min_value=0, max_value=MOST_PERCENT)
    feed_override = forms.IntegerField(label=_("feed"), required=False, min_value=0, max_value=MOST_PERCENT)
    spindle_override = forms.IntegerField(label=_("spindle"), required=False, min_value=0, max_value=MOST_PERCENT)
    note = forms.CharField(label=_("note"), max_length=500, required=False)

    def __init__(self, *args: Any, setup: Setup | None, units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.setup = setup
        needed = setup.setup_tools.select_related("tool") if setup else ()
        self.tools = list({row.tool.number: row.tool for row in needed}.values())
        for tool in self.tools:
            for name, label in TOOL_FIELDS.items():
                field = LengthField(label=f"T{tool.number} {label}", may_be_negative=name != "length")
                self.fields[f"t{tool.number}_{name}"] = field
        with_unit(self, units)

    @property
    def offsets(self) -> list[BoundField]:
        return [self[f"offset_{axis}"] for axis in "xyz"]

    @property
    def overrides(self) -> list[BoundField]:
        return [self[f"{name}_override"] for name in ("rapid", "feed", "spindle")]

    @property
    def tool_rows(self) -> list[ToolRow]:
        return [ToolRow(tool, [self[f"t{tool.number}_{name}"] for name in TOOL_FIELDS]) for tool in self.tools]

    def was_set(self) -> WasSet:
        """What was typed into a form without errors."""
        typed = dict(self.cleaned_data)
        tools = [
            ToolSet(tool.number, *(typed.pop(f"t{tool.number}_{name}") for name in TOOL_FIELDS)) for tool in self.tools
        ]
        is_zero_typed = any(typed[f"offset_{axis}"] for axis in "xyz")
        offset = self.setup.work_offset_code if self.setup and is_zero_typed else ""
        return WasSet(offset=offset, tools=tuple(tools), **typed)


class PhotoForm(forms.Form):
    photo = forms.FileField(
        label=_("Photo of the setup"),
        widget=forms.ClearableFileInput(attrs={"accept": "image/png,image/jpeg", "capture": "environment"}),
        error_messages={"required": _("Choose or take the photo first."), "empty": _("This file is empty.")},
    )
    text = forms.CharField(label=_("what it shows"), max_length=500, required=False)

    def clean_photo(self) -> Any:
        sent = self.cleaned_data["photo"]
        if sent.size > MOST_PHOTO_BYTES:
            raise forms.ValidationError(_("This photo is larger than 20 MB. Take it with fewer pixels."))
        return sent
