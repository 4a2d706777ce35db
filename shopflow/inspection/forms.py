"""What the bench sends."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopflow.floor.models import Lot
from shopflow.inspection.models import SEVERITIES, Disposition
from shopflow.jobs.models import Characteristic, Step
from shopflow.people.choosing import offer_rows
from shopflow.shop import queries as shop
from shopflow.shop.models import Gauge


class ValueForm(forms.Form):
    """One value of one characteristic of one piece."""

    characteristic = forms.IntegerField(widget=forms.HiddenInput)
    piece = forms.IntegerField(min_value=1, max_value=1_000_000)
    value = forms.CharField(label=_("measured"), max_length=40)
    gauge = forms.ModelChoiceField(label=_("gauge"), queryset=Gauge.objects.all(), required=False)


class GaugeForm(forms.Form):
    """With which gauge a characteristic of a lot is measured from now on; those in calibration."""

    characteristic = forms.ModelChoiceField(Characteristic.objects.none(), label=_("Balloon"), empty_label=None)
    gauge = forms.ModelChoiceField(Gauge.objects.none(), label=_("Gauge"), empty_label=None)

    def __init__(self, *args: Any, step: Step, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "characteristic", step.characteristics.order_by("number"))
        offer_rows(self, "gauge", shop.gauges_in_calibration(on))


class FoundForm(forms.Form):
    piece = forms.IntegerField(label=_("Piece"), min_value=1, required=False)
    text = forms.CharField(label=_("What was found"), max_length=300)


class DispositionForm(forms.Form):
    verdict = forms.ChoiceField(label=_("Disposition"), choices=Disposition.Verdict.choices)
    reason = forms.CharField(label=_("Why"), max_length=300)
    customer_told = forms.CharField(label=_("How the customer was told"), max_length=200, required=False)


class PlaceForm(forms.Form):
    """split_lot: the lot that was split off. went: whether the piece is in it."""

    split_lot = forms.ModelChoiceField(queryset=Lot.objects.none())
    went = forms.TypedChoiceField(choices=[("yes", _("yes")), ("no", _("no"))], coerce=lambda said: said == "yes")

    def __init__(self, *args: Any, job: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "split_lot", Lot.objects.filter(job=job))


class PassForm(forms.Form):
    quantity = forms.IntegerField(label=_("Pieces that pass"), min_value=1, max_value=1_000_000)


class SeverityForm(forms.Form):
    """How strict the next lots are sampled, as a person wants it."""

    severity = forms.ChoiceField(label=_("Inspection"), choices=SEVERITIES)
    reason = forms.CharField(label=_("Why"), max_length=300)
