"""What people type about programs, checked before an action sees it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.models import Job, Setup
from shopflow.programs.models import Decision, Program
from shopflow.programs.queries import DECIDE, MUST_FIX, NOTE, Wanted

MEGABYTE = 1024 * 1024


class ProgramFileField(forms.FileField):
    default_error_messages = {
        "required": _("Choose the file of the program."),
        "empty": _("This file is empty (0 bytes). Post the program again where it was made, and send that file."),
        "missing": _("No file came with this. Choose the file of the program again."),
    }

    def clean(self, data: Any, initial: Any = None) -> Any:
        sent = super().clean(data, initial)
        if sent and (sent.size or 0) > settings.MAX_UPLOAD_BYTES:
            raise ValidationError(
                _("This file has %(size)d MB; at most %(limit)d MB are taken. Split it into several programs.")
                % {"size": (sent.size or 0) // MEGABYTE, "limit": settings.MAX_UPLOAD_BYTES // MEGABYTE}
            )
        return sent


class UploadForm(forms.Form):
    """A new program of a job, or the next revision of one."""

    file = ProgramFileField(label=_("program file"), help_text=_("The NC program as plain text, as it would run."))
    name = forms.CharField(
        label=_("program name"), max_length=80, required=False,
        help_text=_("What people call it, such as 1234-OP10. Empty: the name of the file."),
    )  # fmt: skip
    setups: forms.ModelMultipleChoiceField[Setup] = forms.ModelMultipleChoiceField(
        label=_("setups"), queryset=Setup.objects.none(), widget=forms.CheckboxSelectMultiple,
        help_text=_("Mark several where one program runs several setups one after the other."),
        error_messages={"required": _("Choose the setup, or the setups, that this program runs.")},
    )  # fmt: skip
    note = forms.CharField(
        label=_("what is new"), max_length=300, required=False, help_text=_("Kept with the revision.")
    )

    def __init__(self, *args: Any, job: Job, program: Program | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        setups = job.setups.filter(manual_reason="").select_related("machine")
        field = self.fields["setups"]
        field.queryset = setups  # type: ignore[attr-defined]
        field.label_from_instance = _setup_label  # type: ignore[attr-defined]
        if program is not None:
            del self.fields["name"]
            field.initial = [setup.pk for setup in program.setups.all()]
        elif len(setups) == 1:
            field.initial = [setups[0].pk]

    def program_name(self) -> str:
        typed: str = self.cleaned_data.get("name", "").strip()
        return typed or self.cleaned_data["file"].name.rsplit(".", 1)[0][:80]


def _setup_label(setup: Setup) -> str:
    parts = [
        f"{_('setup')} {setup.number}",
        setup.title,
        str(setup.machine or _("no machine yet")),
        setup.work_offset_code,
    ]
    return ", ".join(part for part in parts if part)


class FilterForm(forms.Form):
    """Which findings are shown; choices of tools and setups come from the program."""

    weight = forms.ChoiceField(
        label=_("weight"), required=False,
        choices=[("", _("all")), (MUST_FIX, _("must-fix")), (DECIDE, _("decide")), (NOTE, _("note"))],
    )  # fmt: skip
    tool = forms.ChoiceField(label=_("tool"), required=False)
    setup = forms.ChoiceField(label=_("setup"), required=False)
    words = forms.CharField(label=_("words or line"), required=False, max_length=60)
    open_only = forms.BooleanField(label=_("open ones only"), required=False)

    def __init__(self, *args: Any, tools: list[int], setups: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        everything = ("", _("all"))
        self.fields["tool"].choices = [everything, *((str(n), f"T{n}") for n in tools)]  # type: ignore[attr-defined]
        self.fields["setup"].choices = [everything, *((str(n), str(n)) for n in setups)]  # type: ignore[attr-defined]

    def wanted(self) -> Wanted:
        return Wanted(**self.cleaned_data) if self.is_valid() else Wanted()


class DecideForm(forms.Form):
    verdict = forms.ChoiceField(
        label=_("decision"), choices=Decision.Verdict.choices, widget=forms.RadioSelect,
        error_messages={"required": _("Say whether to accept, mend or send back.")},
    )  # fmt: skip
    reason = forms.CharField(
        label=_("reason"), max_length=300, widget=forms.TextInput(attrs={"list": "reasons", "autocomplete": "off"}),
        error_messages={"required": _("Type or pick the reason: it stays with the program.")},
    )  # fmt: skip


class SignOffForm(forms.Form):
    printed_name = forms.CharField(label=_("your name, printed"), max_length=120)
    meaning = forms.CharField(
        label=_("what your signature means"), max_length=200,
        widget=forms.Textarea(attrs={"rows": 2}),
        initial=_("I read this program and its review, and release exactly these bytes for this plan."),
    )  # fmt: skip
    password = forms.CharField(
        label=_("your password, again"), strip=False, max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )  # fmt: skip
