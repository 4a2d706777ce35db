"""What a station sends."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from shopflow.floor.actions import SETUP_CHECKS
from shopflow.floor.models import FloorCopy, Lot
from shopflow.jobs.models import Step
from shopflow.people.choosing import offer, offer_rows
from shopflow.programs.forms import ProgramFileField
from shopflow.programs.models import Lesson
from shopflow.shop.models import Tool

THE_PROGRAM = _("the program")
"""The reason that speaks against the program itself: what it is named for does not prove it (floor.proving)."""

REASONS = [
    THE_PROGRAM,
    _("size out of limits"),
    _("tool broke"),
    _("moved in the vise"),
    _("material fault"),
    _("finish"),
    _("dropped"),
]
"""Offered where a reason is asked for; anything else may be typed."""


class StartForm(forms.Form):
    """Start an op: the checks a person makes, and how the program on the machine was compared."""

    hash_typed = forms.CharField(
        label=_("First 8 characters of the hash in the header of the program on the machine"),
        max_length=64,
        required=False,
    )
    compared_lines = forms.BooleanField(
        label=_(
            "I compared the first lines and the hash in the header of the program on the machine with the traveler"
        ),
        required=False,
    )
    checks = forms.MultipleChoiceField(
        label=_("Before the start"),
        choices=list(SETUP_CHECKS.items()),
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )

    def __init__(
        self,
        *args: Any,
        copy: FloorCopy | None,
        is_setup: bool,
        prove_out: FloorCopy | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.copies = [one for one in (copy, prove_out) if one]
        if copy is None:
            del self.fields["hash_typed"], self.fields["compared_lines"]
        if not is_setup:
            del self.fields["checks"]

    def clean_hash_typed(self) -> str:
        typed: str = self.cleaned_data["hash_typed"].strip().lower()
        if typed and (len(typed) < 8 or not any(known.startswith(typed) for known in self._hashes())):
            raise forms.ValidationError(
                _("This is not the hash of the floor copy. Load the floor copy again; do not start this program.")
            )
        return typed

    def _hashes(self) -> list[str]:
        """The hash that the header shows (of the signed bytes), and those of the floor copies as files."""
        return [known for one in self.copies for known in (one.sign_off.content_sha256, one.stored.sha256)]

    @property
    def compared(self) -> str:
        """How the machine's program was found to be the floor copy, in words; empty when it was not."""
        if self.cleaned_data.get("hash_typed"):
            return f"hash {self.cleaned_data['hash_typed']}"
        return "first lines compared by a person" if self.cleaned_data.get("compared_lines") else ""


class CountForm(forms.Form):
    quantity = forms.IntegerField(label=_("Pieces"), min_value=1, max_value=1_000_000, initial=1)


class SplitForm(CountForm):
    """Pieces that go on alone. heat: asked for where the lot is of several."""

    heat = forms.ChoiceField(label=_("Their heat"), required=False)

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        heats = [one.heat for one in lot.heats]
        if len(heats) < 2:
            del self.fields["heat"]
        else:
            choices = [("", str(_("several, as the lot's"))), *((heat, heat) for heat in heats)]
            offer(self, "heat", choices)


class AsideForm(CountForm):
    """Pieces that leave the way for a reason."""

    reason = forms.CharField(label=_("Why"), max_length=300, widget=forms.TextInput(attrs={"list": "reasons"}))


class ReworkForm(AsideForm):
    back_to = forms.ModelChoiceField(label=_("Back to"), queryset=Step.objects.none())

    def __init__(self, *args: Any, steps: QuerySet[Step], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "back_to", steps)


class NoteForm(forms.Form):
    text = forms.CharField(label=_("Note"), max_length=500)


class EdgesForm(forms.Form):
    exceptions = forms.CharField(
        label=_("Exceptions"), max_length=500, required=False, help_text=_("edges left sharp, and why")
    )


class SendBackForm(forms.Form):
    """A program as it is on the control."""

    file = ProgramFileField(label=_("The program, as the control gave it out"))
    note = forms.CharField(
        label=_("What was changed, and why"), max_length=500, required=False, help_text=_("in a few words, if anything")
    )


class DeskSendBackForm(SendBackForm):
    """The same at the desk, where the lot and the op have to be said. places: what may be chosen, with its words."""

    field_order = ["place", "file", "note"]
    place = forms.ChoiceField(label=_("Which op, of which lot"))

    def __init__(self, *args: Any, places: dict[str, tuple[Lot, Step, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.places = places
        offer(self, "place", [(key, words) for key, (_lot, _step, words) in places.items()])

    @property
    def lot_and_step(self) -> tuple[Lot, Step]:
        lot, step, _words = self.places[self.cleaned_data["place"]]
        return lot, step


class AcceptForm(forms.Form):
    note = forms.CharField(
        label=_("Why it was changed"), max_length=500,
        error_messages={"required": _("Say in a few words why it was changed.")},
    )  # fmt: skip


class JudgeForm(forms.Form):
    """What a reviewer decides; a refusal needs its reason."""

    reason = forms.CharField(
        label=_("Reason, or a note with the revision"), max_length=500, required=False,
        help_text=_("The people at the machine read it."),
    )  # fmt: skip
    lesson = forms.CharField(
        label=_("Lesson for the next time"), max_length=300, required=False,
        help_text=_("Shown at the next review and the next plan, such as: peck from 20 mm on."),
    )  # fmt: skip
    about = forms.ChoiceField(label=_("It is about the"), choices=Lesson.About.choices, initial=Lesson.About.PART)
    tool = forms.TypedChoiceField(label=_("Which tool"), required=False, coerce=int, empty_value=None)

    def __init__(self, *args: Any, tools: Iterable[Tool], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "tool", [("", "–"), *((str(tool.number), str(tool)) for tool in tools)])
