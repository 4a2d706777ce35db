"""Operations of a setup as people type them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopflow.core.planning import has_passes
from shopflow.jobs.actions.operations import TYPED
from shopflow.jobs.forms.lengths import LengthField, with_unit
from shopflow.jobs.models import Operation
from shopflow.jobs.models.operations import KINDS
from shopflow.people.seen import SeenMixin
from shopflow.shop.models import Tool


class OperationForm(SeenMixin, forms.Form):
    """What a person may say about one operation; what they change stays, the rest follows from it."""

    what = forms.CharField(label=_("To what"), max_length=200)
    tool = forms.ModelChoiceField(Tool.objects.all(), label=_("Tool"), required=False, empty_label=_("none yet"))
    rpm = forms.IntegerField(label=_("rpm"), min_value=1, max_value=200_000, required=False)
    feed = LengthField(label=_("Feed a minute"))
    peck_first = LengthField(label=_("First peck"), help_text=_("Empty: in one go."))
    peck_next = LengthField(label=_("Next pecks"))
    axial = LengthField(label=_("Depth of a pass"), help_text=_("Empty: as proposed."))
    radial = LengthField(label=_("Width of a pass"), help_text=_("Sideways. Empty: as proposed."))
    minutes = forms.DecimalField(label=_("Minutes"), min_value=0, max_digits=8, decimal_places=2, required=False)

    def __init__(self, *args: Any, operation: Operation, unit: str, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(operation, name) for name in TYPED}
        super().__init__(*args, **kwargs)
        for name in () if has_passes(operation.as_core()) else ("axial", "radial"):
            del self.fields[name]
        with_unit(self, unit)


class NewOperationForm(forms.Form):
    """One more operation, at the end of a setup; its fields stand on the page of the setup beside others."""

    prefix = "new"

    kind = forms.ChoiceField(label=_("What is done"), choices=KINDS)
    what = forms.CharField(label=_("To what"), max_length=200)
    tool = forms.ModelChoiceField(Tool.objects.all(), label=_("Tool"), required=False, empty_label=_("none yet"))
