"""The list of characteristics, several lines at once."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from shopflow.core.measure import DEGREE, MM_PER_IN, Measure, NotALength, parse_quantity
from shopflow.core.quality.iso286 import NotAClass, hole_deviations_mm, is_class
from shopflow.core.quality.kinds import Kind, Quantity, quantity_of_unit, unit_of
from shopflow.core.quality.sampling import NotASampling, read_rule
from shopflow.jobs import queries
from shopflow.jobs.actions import CharacteristicLine
from shopflow.jobs.forms.lengths import QuantityField, with_unit
from shopflow.jobs.models import CHARACTERISTIC_KINDS, Characteristic, Job, Step
from shopflow.people.choosing import offer_rows
from shopflow.people.seen import SeenMixin
from shopflow.shop.models import Gauge

EMPTY_LINES = 4
FINEST_IN = Decimal("0.00001")
MOST_LINES = 500


class SamplingField(forms.CharField):
    """Which pieces are measured: first, all, 1 in 5, AQL 1.0; empty is one of the lot."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=24, required=False, **kwargs)
        self.widget.attrs |= {"list": "samplings", "placeholder": _("one")}

    def to_python(self, value: Any) -> str:
        try:
            rule = read_rule(str(value or ""))
        except NotASampling as refusal:
            raise ValidationError(str(refusal)) from refusal
        if not rule.counts_pieces:
            raise ValidationError(_("An AQL over 10 counts nonconformities in a hundred pieces. Type one up to 10."))
        return str(rule)


Choices = dict[str, tuple[Any, list[tuple[Any, str]]]]
"""By the name of a field its rows, and what is offered of them: read once for all lines of a list."""


class ToleranceField(QuantityField):
    """A length, or a class of ISO 286 such as H7, which is given back as its letters."""

    def to_python(self, value: Any) -> Any:
        text = str(value or "").strip()
        return text.upper() if is_class(text) else super().to_python(value)


class CharacteristicForm(SeenMixin, forms.Form):
    """One line. ± or a hole's class fills in both limits from the nominal where neither is typed."""

    unseen = ("pk", "plus_minus", "remove")

    pk = forms.IntegerField(required=False, widget=forms.HiddenInput)
    number = forms.IntegerField(label=_("Balloon"), min_value=1, max_value=9999, required=False)
    name = forms.CharField(label=_("Characteristic"), max_length=120, required=False)
    kind = forms.ChoiceField(label=_("Kind"), choices=[("", _("size")), *CHARACTERISTIC_KINDS], required=False)
    nominal = QuantityField(label=_("Nominal"), may_be_negative=True)
    plus_minus = ToleranceField(label=_("±"))
    lower = QuantityField(label=_("Lower limit"), may_be_negative=True)
    upper = QuantityField(label=_("Upper limit"), may_be_negative=True)
    step = forms.ModelChoiceField(Step.objects.none(), label=_("Step"), required=False, empty_label=_("none yet"))
    gauge = forms.ModelChoiceField(Gauge.objects.none(), label=_("Gauge"), required=False, empty_label=_("none yet"))
    sampling = SamplingField(label=_("Pieces"))
    note = forms.CharField(label=_("Note"), max_length=120, required=False)
    remove = forms.BooleanField(label=_("Take out"), required=False)

    def __init__(self, *args: Any, shared: Choices, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (rows, choices) in shared.items():
            offer_rows(self, name, rows)
            self.fields[name].widget.choices = choices
        kind = self["kind"].value() or ""
        with_unit(self, unit_of(Kind(kind), unit) if kind in set(Kind) else unit)

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or self.cleaned_data
        if self.is_blank or given.get("remove"):
            return given
        if not given.get("name") and "name" not in self.errors:
            self.add_error("name", _("Say what is measured."))
        tolerance, nominal = given.get("plus_minus"), given.get("nominal")
        if tolerance and not nominal:
            self.add_error("nominal", _("± needs a nominal."))
        if tolerance and nominal and not given.get("lower") and not given.get("upper"):
            given["lower"], given["upper"] = self._around(nominal, tolerance)
        if not given.get("lower") and not given.get("upper"):
            self._put_general(given)
        return given

    def _around(self, nominal: Measure, tolerance: Measure | str) -> tuple[Measure | None, Measure | None]:
        """tolerance: ±, or a class of ISO 286."""
        try:
            return by_class(nominal, tolerance) if isinstance(tolerance, str) else around(nominal, tolerance)
        except (NotALength, NotAClass) as refusal:
            self.add_error("plus_minus", str(refusal))
            return None, None

    def _put_general(self, given: dict[str, Any]) -> None:
        """Of form and place, where no tolerance is typed: the general one, by the length that stands as nominal."""
        kind, length = given.get("kind", ""), given.get("nominal")
        is_length = length is not None and quantity_of_unit(length.unit) is Quantity.LENGTH
        general = queries.general_form(kind, length if is_length else None) if kind else None
        if general is not None:
            given["upper"], source = general
            given["note"] = given.get("note") or source

    @property
    def is_blank(self) -> bool:
        """Whether nothing at all was typed into this line."""
        names = ("pk", "number", "name", "nominal", "plus_minus", "lower", "upper", "sampling", "note", "kind")
        return not any(self[name].data for name in names)

    def line(self) -> CharacteristicLine:
        given = self.cleaned_data
        names = (
            "pk", "number", "name", "kind", "nominal", "lower", "upper", "step", "gauge", "sampling", "note", "remove",
        )  # fmt: skip
        return CharacteristicLine(**{name: given[name] for name in names})


if TYPE_CHECKING:
    BaseLines = forms.BaseFormSet[CharacteristicForm]
else:  # Django's own class takes no type in brackets
    BaseLines = forms.BaseFormSet


class LinesFormSet(BaseLines):
    saved_by = ""
    """Who saved some of it meanwhile, once `settled` was asked; "" where nobody did."""

    def clean(self) -> None:
        if any(self.errors):
            return
        typed = [form.cleaned_data.get("number") for form in self.forms if not form.cleaned_data.get("remove")]
        twice = {number for number in typed if number and typed.count(number) > 1}
        if twice:
            numbers = ", ".join(map(str, sorted(twice)))
            raise ValidationError(_("These balloon numbers are there twice: %s.") % numbers)

    def settled(self, saved_by: object = "") -> bool:
        """Whether nobody saved a line of it since the list was shown (people.seen)."""
        overtaken = [form for form in self.forms if not form.settled(saved_by)]
        self.saved_by = overtaken[0].saved_by if overtaken else ""
        return not overtaken

    def lines(self) -> list[CharacteristicLine]:
        return [form.line() for form in self.forms if not form.is_blank]


def characteristics_formset(job: Job, rows: list[Characteristic], *, unit: str, data: Any = None) -> LinesFormSet:
    """Every line of the job and a few empty ones; data: what was sent."""
    made = forms.formset_factory(
        CharacteristicForm, formset=LinesFormSet, extra=EMPTY_LINES, max_num=MOST_LINES, absolute_max=MOST_LINES
    )
    shared = {"step": _choices(job.steps.all()), "gauge": _choices(Gauge.objects.all())}
    initial = [_as_kept(row) for row in rows]
    if data is not None:  # a line is compared with the row that it is about, wherever that stands by now
        by_pk = {str(row.pk): row for row in rows}
        sent = [by_pk.get(data.get(f"form-{line}-pk", "")) for line in range(min(MOST_LINES, _number(data)))]
        initial = [_as_kept(row) if row else {} for row in sent]
    return cast(LinesFormSet, made(data, initial=initial, form_kwargs={"shared": shared, "unit": unit}))


def _choices(rows: Any) -> tuple[Any, list[tuple[Any, str]]]:
    return rows, [("", str(_("none yet"))), *((row.pk, str(row)) for row in rows)]


def _as_kept(row: Characteristic) -> dict[str, Any]:
    names = ("pk", "number", "name", "kind", "nominal", "lower", "upper", "step", "gauge", "sampling", "note")
    return {name: getattr(row, name) for name in names}


def _number(data: Any) -> int:
    """How many lines were sent; a number that is none is told by the formset itself."""
    sent = str(data.get("form-TOTAL_FORMS", ""))
    return int(sent[:6]) if sent.isdecimal() else 0


def around(nominal: Measure, tolerance: Measure) -> tuple[Measure, Measure]:
    """Lower and upper limit, exact, in the nominal's unit."""
    half = tolerance.in_unit(nominal.unit)
    lower, upper = nominal.value - half, nominal.value + half
    return _as_typed(lower, nominal.unit), _as_typed(upper, nominal.unit)


def by_class(nominal: Measure, name: str) -> tuple[Measure, Measure]:
    """Limits of a hole by ISO 286, in the nominal's unit: exact in mm, in inches to a hundred-thousandth."""
    nominal_mm = nominal.in_unit("mm")
    limits = [nominal_mm + away for away in hole_deviations_mm(nominal_mm, name)]
    if nominal.unit == "mm":
        return _as_typed(limits[0], "mm"), _as_typed(limits[1], "mm")
    lower, upper = ((limit / MM_PER_IN).quantize(FINEST_IN) for limit in limits)
    return _as_typed(lower, nominal.unit), _as_typed(upper, nominal.unit)


def _as_typed(value: Any, unit: str) -> Measure:
    return parse_quantity(f"{value:f}{'' if unit == DEGREE else ' '}{unit}", default_unit=unit)
