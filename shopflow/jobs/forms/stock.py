"""What people type about the stock of a job."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.forms.lengths import LengthField, with_unit
from shopflow.shop.models import Material


class TakeForm(forms.Form):
    """key: of an option that the page showed."""

    key = forms.CharField(max_length=80)


class SawnForm(forms.Form):
    left = LengthField(label=_("Left of each bar"), help_text=_("As measured; empty where nothing goes back."))
    place = forms.CharField(label=_("Where it is put"), max_length=60, required=False)

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        with_unit(self, unit)


class HereForm(forms.Form):
    heat_number = forms.CharField(label=_("Heat or lot number"), max_length=60, required=False)
    place = forms.CharField(label=_("Where it is put"), max_length=60, required=False)


class CountedForm(forms.Form):
    counted = forms.IntegerField(label=_("Counted in"), min_value=0, max_value=1_000_000)
    heat_number = forms.CharField(
        label=_("Heat or lot number"), max_length=60, required=False, help_text=_("Of two heats: 2211 × 8, 2212 × 4.")
    )


class DropsForm(forms.Form):
    returned = forms.IntegerField(
        label=_("How many went back"),
        min_value=0,
        max_value=1_000_000,
        help_text=_("Blanks that were not cut, and ends."),
    )
    drops = forms.CharField(label=_("What went back, and how"), max_length=200)


class InsteadForm(forms.Form):
    """A substitution that only the customer can approve."""

    material = forms.ModelChoiceField(
        Material.objects.all(), label=_("Material instead"), required=False, empty_label=_("the one ordered")
    )
    size = forms.CharField(label=_("Size instead"), max_length=120, required=False)
    text = forms.CharField(
        label=_("What to ask"), max_length=2000, widget=forms.Textarea, help_text=_("With the reason, as you send it.")
    )
