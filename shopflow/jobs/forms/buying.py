"""What people type about tools that are bought."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.models import ToolOrder
from shopflow.people.seen import SeenMixin


def _day() -> forms.DateInput:
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class ToolOrderForm(SeenMixin, forms.Form):
    """A tool on order. The last field is for a lead."""

    unseen = ("is_accepted",)

    supplier = forms.CharField(
        label=_("Supplier"), max_length=120, required=False, help_text=_("With the number of the order.")
    )
    ordered_on = forms.DateField(label=_("Ordered"), widget=_day())
    due_on = forms.DateField(label=_("Comes"), widget=_day(), help_text=_("The day that the supplier promised."))
    is_accepted = forms.BooleanField(
        label=_("Plans may count on this day"),
        required=False,
        help_text=_("Jobs may then leave plan with it. Their release still waits until it is here."),
    )

    def __init__(self, *args: Any, order: ToolOrder | None, may_accept: bool, today: Any, **kwargs: Any) -> None:
        names = ("supplier", "ordered_on", "due_on")
        kwargs["initial"] = {name: getattr(order, name) for name in names} if order else {"ordered_on": today}
        super().__init__(*args, **kwargs)
        if not may_accept:
            del self.fields["is_accepted"]


class HowManyForm(forms.Form):
    quantity = forms.IntegerField(label=_("How many came"), min_value=1, max_value=9_999, initial=1)
