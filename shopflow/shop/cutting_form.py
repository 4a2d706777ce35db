"""What is asked about when somebody looks up speed and feed."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from shopflow.core.measure import Measure, NotALength, parse
from shopflow.core.types import ToolUse
from shopflow.shop.models import Machine, Material, Tool


class LookUpForm(forms.Form):
    """A material, a tool and a use; lengths typed without a unit are in the person's own."""

    material = forms.ModelChoiceField(Material.objects.all(), label=_("Material"))
    tool = forms.ModelChoiceField(Tool.objects.all(), label=_("Tool"))
    use = forms.ChoiceField(label=_("Use"), choices=[(use.value, use.value) for use in ToolUse])
    machine = forms.ModelChoiceField(Machine.objects.all(), label=_("Machine"), required=False)
    depth = forms.CharField(label=_("Depth of cut or hole"), required=False, max_length=34)
    width = forms.CharField(label=_("Width of cut"), required=False, max_length=34)

    def __init__(self, *args: Any, units: str = "mm", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.units = units

    def clean_depth(self) -> Measure | None:
        return self._length("depth")

    def clean_width(self) -> Measure | None:
        return self._length("width")

    def _length(self, name: str) -> Measure | None:
        text = self.cleaned_data[name]
        if not text:
            return None
        try:
            measure = parse(text, default_unit=self.units)
        except NotALength as refusal:
            raise ValidationError(str(refusal)) from refusal
        if measure.value <= 0:
            raise ValidationError(_("This length is more than 0."))
        return measure
