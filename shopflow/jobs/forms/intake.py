"""The order line, the files, the questions."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.actions import OrderLine
from shopflow.jobs.models import Customer, Governing, Job, JobFile, Stage, Threads
from shopflow.people.seen import SeenMixin
from shopflow.shop.models import Material


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class OrderForm(SeenMixin, forms.Form):
    """A line of an order, to take in or to change."""

    customer = forms.ModelChoiceField(
        Customer.objects.all(), label=_("Customer"), required=False, empty_label=_("a new one, named beside")
    )
    new_customer = forms.CharField(label=_("New customer"), max_length=120, required=False)
    order_number = forms.CharField(label=_("Customer's order"), max_length=60, required=False)
    order_line = forms.CharField(label=_("Order line"), max_length=20, required=False)
    part_number = forms.CharField(label=_("Part number"), max_length=80)
    part_name = forms.CharField(label=_("Part name"), max_length=120, required=False)
    revision = forms.CharField(
        label=_("Revision"), max_length=20, help_text=_("As on the order; a dash if it has none.")
    )
    quantity = forms.IntegerField(label=_("Quantity"), min_value=1, max_value=10_000_000)
    due_on = forms.DateField(label=_("Due"), widget=DateInput)
    material = forms.ModelChoiceField(
        Material.objects.all(), label=_("Material"), required=False, empty_label=_("not known yet")
    )
    material_note = forms.CharField(label=_("Material as the order says it"), max_length=200, required=False)
    notes = forms.CharField(label=_("Notes"), required=False, max_length=10_000, widget=forms.Textarea)
    governing = forms.ChoiceField(
        label=_("Where print and model differ"),
        choices=[*Governing.choices, ("", _("not known yet"))],
        required=False,
        widget=forms.RadioSelect,
    )
    no_model_reason = forms.CharField(
        label=_("There is no model, because"),
        max_length=200,
        required=False,
        help_text=_(
            "Only for a paper print, a sample, a repair or a second op on a customer's casting. Put a drawing or a "
            "note in its place."
        ),
    )

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or self.cleaned_data
        known, new = given.get("customer"), (given.get("new_customer") or "").strip()
        if known and new:
            self.add_error("new_customer", _("Pick a customer or type a new one, not both."))
        if not known and not new and "new_customer" not in self.errors:
            self.add_error("new_customer", _("Pick a customer, or type the name of a new one."))
        given["customer_name"] = new or (known.name if known else "")
        return given

    def order(self) -> OrderLine:
        names = (
            "part_number", "part_name", "revision", "order_number", "order_line", "quantity", "due_on", "material",
            "material_note", "notes", "governing", "no_model_reason",
        )  # fmt: skip
        return OrderLine(
            customer=self.cleaned_data["customer_name"], **{name: self.cleaned_data[name] for name in names}
        )

    @staticmethod
    def typed(job: Job) -> dict[str, Any]:
        """What the form shows for a job that is there already."""
        names = (
            "order_number", "order_line", "quantity", "due_on", "material", "material_note", "notes", "governing",
            "no_model_reason",
        )  # fmt: skip
        return {
            "customer": job.customer,
            "part_number": job.part.number,
            "part_name": job.part.name,
            "revision": job.revision.revision,
            **{name: getattr(job, name) for name in names},
        }


class CustomerForm(SeenMixin, forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120)
    address = forms.CharField(label=_("Ship to"), required=False, max_length=1000, widget=forms.Textarea)


class MaterialForm(forms.Form):
    """The material as it came in."""

    heat_number = forms.CharField(
        label=_("Heat or lot number"), max_length=60, required=False, help_text=_("Of two heats: 2211 × 8, 2212 × 4.")
    )
    received = forms.BooleanField(label=_("The material is here"), required=False)


class PrintAndModelForm(forms.Form):
    """What a person finds when print, model and order lie side by side."""

    print_revision = forms.CharField(label=_("Revision of the print"), max_length=20, required=False)
    model_revision = forms.CharField(label=_("Revision of the model"), max_length=20, required=False)
    threads = forms.ChoiceField(
        label=_("The model shows threads"), choices=[("", _("nobody looked yet")), *Threads.choices], required=False
    )
    settled = forms.CharField(
        label=_("Where the revisions differ: why that is right"),
        max_length=200,
        required=False,
        help_text=_("As the customer answered it, with the day. Until then ask: a question can hold the job."),
    )


class UploadForm(forms.Form):
    """One file and what it is."""

    kind = forms.ChoiceField(choices=JobFile.Kind.choices)
    file = forms.FileField(label=_("File"), allow_empty_file=True, max_length=None)


class QuestionForm(forms.Form):
    text = forms.CharField(label=_("Question"), max_length=2000, widget=forms.Textarea)
    holds_job = forms.BooleanField(label=_("The job waits for the answer"), required=False, initial=True)


class AnswerForm(forms.Form):
    answer = forms.CharField(label=_("Answer"), max_length=4000, widget=forms.Textarea)
    approved = forms.NullBooleanField(required=False)
    """Asked of a substitution only."""


class SolidForm(forms.Form):
    """Which solid of the file is the part, counted from 0."""

    solid = forms.IntegerField(min_value=0, max_value=100_000)


class FilterForm(forms.Form):
    """What the list of jobs shows."""

    words = forms.CharField(label=_("Search"), required=False, max_length=120)
    customer = forms.ModelChoiceField(
        Customer.objects.all(), label=_("Customer"), required=False, empty_label=_("all customers")
    )
    stage = forms.ChoiceField(
        label=_("Where it is"),
        required=False,
        choices=[("open", _("all open jobs")), *Stage.choices, ("all", _("all, closed ones too"))],
    )
    due = forms.ChoiceField(label=_("Due"), required=False, choices=[("", _("any day")), ("late", _("late"))])
    order = forms.ChoiceField(
        label=_("Order"),
        required=False,
        choices=[("due", _("due soonest first")), ("number", _("newest first")), ("customer", _("by customer"))],
    )

    def asked(self) -> dict[str, str]:
        """The filter's values as text; the defaults where nothing was picked."""
        given = {name: value for name, value in self.cleaned_data.items() if value}
        return {**given, "customer": str(given["customer"].pk) if "customer" in given else ""}
