"""What the home page and the job page send."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from shopflow.floor.models import Lot, Shipment
from shopflow.jobs.models import Customer
from shopflow.people.choosing import offer_rows
from shopflow.people.models import User
from shopflow.shop.models import Machine


class HoldForm(forms.Form):
    reason = forms.CharField(label=_("Why"), max_length=300, error_messages={"required": _("Say why the job is held.")})


class ShipForm(forms.Form):
    lot = forms.ModelChoiceField(label=_("Lot"), queryset=Lot.objects.none())
    quantity = forms.IntegerField(label=_("Pieces"), min_value=1, max_value=1_000_000)
    note = forms.CharField(label=_("Note"), max_length=200, required=False, help_text=_("carrier, number of boxes"))

    def __init__(self, *args: Any, lots: QuerySet[Lot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "lot", lots)


class ReturnForm(forms.Form):
    """Pieces that the customer sent back."""

    shipment = forms.ModelChoiceField(label=_("Shipment"), queryset=Shipment.objects.none())
    quantity = forms.IntegerField(label=_("Pieces"), min_value=1, max_value=1_000_000, initial=1)
    reason = forms.CharField(label=_("Why"), max_length=300)

    def __init__(self, *args: Any, shipments: QuerySet[Shipment], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "shipment", shipments)


class HomeFilterForm(forms.Form):
    """Narrows the home page; every field may be empty."""

    customer = forms.ModelChoiceField(
        label=_("Customer"), queryset=Customer.objects.all(), required=False, empty_label=_("all")
    )
    machine = forms.ModelChoiceField(
        label=_("Machine"), queryset=Machine.objects.all(), required=False, empty_label=_("all")
    )
    person = forms.ModelChoiceField(
        label=_("Person"), queryset=User.objects.filter(is_active=True), required=False, empty_label=_("all")
    )
    late = forms.BooleanField(label=_("late only"), required=False)
