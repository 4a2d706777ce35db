"""Setups, steps, tools and touches as people type them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopflow.core.errors import NotPossible
from shopflow.core.solid import Reading
from shopflow.jobs.actions.setups import TYPED as SETUP_FIELDS
from shopflow.jobs.actions.steps import TYPED as STEP_FIELDS
from shopflow.jobs.forms.lengths import LengthField, with_unit
from shopflow.jobs.forms.zero import ZeroMixin
from shopflow.jobs.models import ALONG_X, SIDES_SEEN, WORK_OFFSETS, Direction, Job, JobFile, PickUp, Setup, Step
from shopflow.jobs.queries.holding import own_holes, own_solids
from shopflow.people.choosing import offer_rows
from shopflow.people.seen import SeenMixin
from shopflow.shop.models import Fixture, Machine, Tool

ROUND_TO_MM = 0.01
"""A diameter typed in inches and one in millimetres may differ by so little."""


class AngleField(forms.DecimalField):
    """Degrees about an axis of the machine; nothing is none."""

    def __init__(self, **given: Any) -> None:
        super().__init__(required=False, max_digits=7, decimal_places=4, min_value=-360, max_value=360, **given)
        self.widget.attrs["inputmode"] = "decimal"

    def clean(self, value: Any) -> Decimal:
        typed = super().clean(str(value).rstrip("° ") if value is not None else value)
        return Decimal(0) if typed is None else typed

    def prepare_value(self, value: Any) -> Any:
        """Without zeros that nobody typed; nothing for none."""
        return (f"{value.normalize():f}" if value else "") if isinstance(value, Decimal) else value


class SetupForm(ZeroMixin, SeenMixin, forms.Form):
    """Everything a person may say about one clamping."""

    title = forms.CharField(label=_("Title"), max_length=120)
    machine = forms.ModelChoiceField(
        Machine.objects.all(), label=_("Machine"), required=False, empty_label=_("not yet")
    )
    up = forms.ChoiceField(label=_("Orientation"), choices=Direction.choices)
    along_x = forms.ChoiceField(
        label=_("Model direction along X+"), choices=[("", _("not said yet")), *ALONG_X], required=False
    )
    tilt_x = AngleField(label=_("Tilted about X, degrees"), help_text=_("As on a sine bar. + lifts the back side."))
    tilt_y = AngleField(label=_("Tilted about Y, degrees"), help_text=_("+ lowers the right side."))
    turn_z = AngleField(
        label=_("Turned about Z, degrees"),
        help_text=_("+ counter-clockwise from above; after the tilts, about X before Y."),
    )
    manual_reason = forms.CharField(
        label=_("Run by hand, because"),
        max_length=200,
        required=False,
        help_text=_("A manual op has no program. Leave it empty where a program cuts."),
    )
    workholding = forms.CharField(label=_("Workholding"), max_length=200, required=False)
    grip = LengthField(label=_("Grip"), help_text=_("Height that the jaws hold."))
    fixture = forms.ModelChoiceField(
        Fixture.objects.all(), label=_("Soft jaws or fixture"), required=False, empty_label=_("none")
    )
    fixed_jaw = forms.ChoiceField(
        label=_("Fixed jaw"),
        choices=[("", _("not said yet")), *SIDES_SEEN],
        required=False,
        help_text=_("As seen from the machine's front."),
    )
    stop_side = forms.ChoiceField(
        label=_("Stop"), choices=[("", _("none or not said yet")), *SIDES_SEEN], required=False
    )
    located_on = forms.CharField(label=_("Located on"), max_length=200, required=False)
    datums = forms.CharField(
        label=_("Datums of the print"), max_length=40, required=False, help_text=_("Letters of those that this serves.")
    )
    held_by = forms.ChoiceField(
        label=_("Held by"),
        choices=[("", _("not said yet")), *Setup.HeldBy.choices],
        required=False,
        help_text=_("What the review keeps tools away from."),
    )
    jaws_along = forms.ChoiceField(
        label=_("Jaws run along"),
        choices=[("X", "X"), ("Y", "Y")],
        required=False,
        help_text=_("An axis of the machine."),
    )
    jaw_length = LengthField(label=_("Jaw length"))
    jaw_thick = LengthField(label=_("Jaw thickness"), help_text=_("Across, from the blank outwards."))
    parallel_height = LengthField(label=_("Parallels, height"), help_text=_("Under the blank, to the bed or table."))
    parallel_thick = LengthField(label=_("Parallels, thickness"))
    bed_height = LengthField(label=_("Vise bed over the table"), help_text=_("Taken as 70 mm while it is not said."))
    solids = forms.CharField(
        label=_("Boxes that nothing may touch"),
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "Clamps, stops, bolts: one a line, from the part zero, lowest corner first. clamp: -60 -10 -5, -40 10 12"
        ),
    )
    work_offset = forms.TypedChoiceField(label=_("Work offset"), choices=WORK_OFFSETS, coerce=int)
    place = forms.ChoiceField(
        label=_("X0 Y0 is at"),
        required=False,
        help_text=_("Left, right, front and back as seen from the machine's front."),
    )
    height = forms.ChoiceField(label=_("Z0 is at"), required=False)
    zero_x = LengthField(label=_("Model X"), may_be_negative=True)
    zero_y = LengthField(label=_("Model Y"), may_be_negative=True)
    zero_z = LengthField(label=_("Model Z"), may_be_negative=True)
    zero_point = forms.CharField(label=_("Part zero in words"), max_length=200, required=False)
    pick_up_by = forms.ChoiceField(
        label=_("Picked up with"), choices=[("", _("not said yet")), *PickUp.choices], required=False
    )
    pick_up = forms.CharField(label=_("How it is picked up"), max_length=200, required=False)
    stock_in = forms.CharField(label=_("Stock in"), max_length=200, required=False)
    blank_x = LengthField(label=_("Blank X"))
    blank_y = LengthField(label=_("Blank Y"))
    blank_z = LengthField(label=_("Blank Z"))
    blank_over = LengthField(label=_("Stands over the part"), help_text=_("On the side that is up."))
    blank_round = forms.ChoiceField(
        label=_("Shape of the blank"),
        choices=[("", _("a box")), *((axis, _("a round along %s") % axis) for axis in "XYZ")],
        required=False,
        help_text=_("A round is as thick both ways across."),
    )
    blank_file = forms.ModelChoiceField(
        JobFile.objects.none(),
        label=_("Model of the blank"),
        required=False,
        empty_label=_("none: it is as its sizes say"),
        help_text=_(
            "A casting, a near-net blank, a first op done elsewhere: sent on the intake as the model of the blank. It "
            "lies in the same coordinates as the model of the part, and the sizes here then say nothing."
        ),
    )
    blank_holes = forms.CharField(
        label=_("Holes that the blank comes with"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_(
            "Straight through it, one a line, in the model's coordinates: the axis, the place along the two other axes "
            "(X before Y before Z), the diameter. Z 30 15 20"
        ),
    )
    vary_x = LengthField(label=_("X differs by ±"), help_text=_("Sawn or rolled blanks of one lot."))
    vary_y = LengthField(label=_("Y differs by ±"))
    vary_z = LengthField(label=_("Z differs by ±"))

    def __init__(self, *args: Any, setup: Setup, unit: str, reading: Reading | None = None, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(setup, name) for name in SETUP_FIELDS}
        super().__init__(*args, **kwargs)
        with_unit(self, unit)
        self.setup, self.unit, self.reading = setup, unit, reading
        blanks: Any = self.fields["blank_file"]
        blanks.queryset = JobFile.objects.filter(job=setup.job_id, kind=JobFile.Kind.BLANK).select_related("stored")
        self.offer_places()

    def clean_jaws_along(self) -> str:
        return self.cleaned_data["jaws_along"] or "X"

    def clean_solids(self) -> str:
        typed: str = self.cleaned_data["solids"]
        try:
            own_solids(typed)
        except NotPossible as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        return typed

    def clean_blank_holes(self) -> str:
        typed: str = self.cleaned_data["blank_holes"]
        try:
            own_holes(typed)
        except NotPossible as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        return typed

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        axis = said.get("blank_round")
        if said.get("blank_file"):
            self._one_size(said)
        across = [said.get(f"blank_{name.lower()}") for name in "XYZ" if name != axis]
        thick = [size.mm for size in across if size]
        if axis and thick and max(thick) - min(thick) > ROUND_TO_MM:
            self.add_error("blank_round", _("A round along %s is as thick both ways across: type one diameter.") % axis)
        return said

    def _one_size(self, said: dict[str, Any]) -> None:
        """A blank that is a model has one size and its own shape."""
        for name in ("vary_x", "vary_y", "vary_z"):
            if said.get(name):
                self.add_error(name, _("The blank is given by a model and has one size: leave ± empty."))
        for name in ("blank_round", "blank_holes"):
            if said.get(name):
                self.add_error(name, _("The blank is given by a model, which has its own shape: leave this empty."))


class StepForm(SeenMixin, forms.Form):
    """One line of the routing."""

    op_number = forms.IntegerField(label=_("Op"), min_value=1, max_value=9999)
    title = forms.CharField(label=_("Title"), max_length=120)
    minutes_setup = forms.DecimalField(
        label=_("Set-up minutes"), min_value=0, max_digits=8, decimal_places=2, required=False
    )
    minutes_each = forms.DecimalField(
        label=_("Minutes a piece"), min_value=0, max_digits=8, decimal_places=2, required=False
    )
    first_piece = forms.BooleanField(label=_("First piece is accepted before the rest"), required=False)
    instructions = forms.CharField(label=_("Instructions"), max_length=4000, required=False, widget=forms.Textarea)

    def __init__(self, *args: Any, step: Step, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(step, name) for name in STEP_FIELDS}
        super().__init__(*args, **kwargs)


class NewStepForm(forms.Form):
    """A step that is not a setup."""

    kind = forms.ChoiceField(
        label=_("Kind"), choices=[choice for choice in Step.Kind.choices if choice[0] != Step.Kind.MILL]
    )
    title = forms.CharField(label=_("Title"), max_length=120)
    after = forms.ModelChoiceField(
        Step.objects.none(), label=_("After"), required=False, empty_label=_("before shipping")
    )

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "after", job.steps.all())


class ToolPickForm(forms.Form):
    tool = forms.ModelChoiceField(Tool.objects.all(), label=_("Tool"), empty_label=_("pick one"))
    purpose = forms.CharField(label=_("For"), max_length=120, required=False)


class TouchForm(forms.Form):
    """A place inside the program where a person must touch the part."""

    reason = forms.CharField(
        label=_("What to do there"), max_length=120, help_text=_("Clear chips, move a clamp, check a size …")
    )
    after_tool = forms.ModelChoiceField(
        Tool.objects.none(), label=_("After tool"), required=False, empty_label=_("at any place")
    )

    def __init__(self, *args: Any, setup: Setup, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        picked = Tool.objects.filter(pk__in=setup.setup_tools.values("tool"))
        offer_rows(self, "after_tool", picked)


class ApproveForm(forms.Form):
    """Which plan the person looked at."""

    seen = forms.CharField(max_length=64, widget=forms.HiddenInput)
