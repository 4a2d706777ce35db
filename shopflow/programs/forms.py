"""What people type about programs, checked before an action sees it."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from shopflow.core.measure import NotALength, parse
from shopflow.core.review import Weight
from shopflow.jobs.models import Job, Setup
from shopflow.people.choosing import offer
from shopflow.programs.editing.edit import MOST_TEXT, Edit
from shopflow.programs.models import Decision, Program
from shopflow.programs.queries import Wanted

MEGABYTE = 1024 * 1024
MOST_NUMBER = Decimal(10_000_000)


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
    made_with = forms.CharField(
        label=_("made with"), max_length=120, required=False,
        widget=forms.TextInput(attrs={"list": "made-with", "autocomplete": "off"}),
        help_text=_("The toolpath generator and its version, or written by hand. It tells them apart in the numbers."),
    )  # fmt: skip
    made_settings = forms.CharField(
        label=_("settings or template"), max_length=120, required=False,
        widget=forms.TextInput(attrs={"list": "made-settings", "autocomplete": "off"}),
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
            self._as_before(program)
        elif len(setups) == 1:
            field.initial = [setups[0].pk]

    def _as_before(self, program: Program) -> None:
        newest = program.revisions.first()
        if newest:
            self.fields["made_with"].initial = newest.made_with
            self.fields["made_settings"].initial = newest.made_settings

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


WEIGHTS = {Weight.MUST_FIX: _("must-fix"), Weight.DECIDE: _("decide"), Weight.NOTE: _("note")}


class FilterForm(forms.Form):
    """Which findings are shown; choices of tools and setups come from the program."""

    weight = forms.ChoiceField(
        label=_("weight"), required=False,
        choices=[("", _("all")), *((str(weight), words) for weight, words in WEIGHTS.items())],
    )  # fmt: skip
    tool = forms.ChoiceField(label=_("tool"), required=False)
    setup = forms.ChoiceField(label=_("setup"), required=False)
    words = forms.CharField(label=_("words or line"), required=False, max_length=60)
    open_only = forms.BooleanField(label=_("open ones only"), required=False)

    def __init__(self, *args: Any, tools: list[int], setups: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        everything = ("", _("all"))
        offer(self, "tool", [everything, *((str(n), f"T{n}") for n in tools)])
        offer(self, "setup", [everything, *((str(n), str(n)) for n in setups)])

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


WANTED: dict[str, tuple[str, str, Any]] = {
    "peck": ("line", "length", _("plunge becomes pecks: line, depth of a peck")),
    "peck-depth": ("line", "length", _("pecks of another depth: line, depth of a peck")),
    "length-offset": ("line", "count", _("another H: line, number")),
    "stop": ("line", "text", _("program stop: line it stands behind, what the person is to do")),
    "remove": ("line", "count", _("lines go: first line, last line")),
    "speed-feed": ("tool", "number", _("speed, feeds follow: tool, rpm")),
    "speed": ("tool", "number", _("speed alone: tool, rpm")),
    "feed": ("tool", "number", _("feeds times a factor: tool, such as 0.8")),
    "feed-limit": ("tool", "length", _("feeds no higher than: tool, length a minute")),
    "coolant": ("tool", "code", _("coolant on: tool, M08 or M07")),
    "renumber": ("tool", "count", _("another tool number, H and D with it: tool, new number")),
}
"""Of each kind of edit (programs.editing): whether it names a line or a tool, what its value is, what a form says."""


class EditForm(forms.Form):
    """An edit that a person makes; empty where none is meant."""

    what = forms.ChoiceField(
        label=_("change"), required=False,
        choices=[("", _("choose what")), *((kind, says) for kind, (_of, _value, says) in WANTED.items())],
    )  # fmt: skip
    tool = forms.ChoiceField(label=_("tool"), required=False)
    line = forms.IntegerField(
        label=_("line"), required=False, min_value=1, widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        error_messages={"invalid": _("Type the number of a line.")},
    )  # fmt: skip
    value = forms.CharField(label=_("value"), required=False, max_length=MOST_TEXT)

    def __init__(self, *args: Any, tools: Iterable[int], units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.units = units
        offer(self, "tool", [("", "–"), *((str(n), f"T{n}") for n in tools)])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        what = cleaned.get("what")
        if what and not self.errors:
            of, kind, _says = WANTED[what]
            if not cleaned.get(of):
                self.add_error(of, _("Choose the tool.") if of == "tool" else _("Type the number of the line."))
            try:
                cleaned["value"] = _edit_value(kind, cleaned.get("value", ""), self.units)
            except (NotALength, ValidationError) as wrong:
                self.add_error("value", str(wrong) if isinstance(wrong, NotALength) else wrong)
        elif not what and not self.errors and (cleaned.get("line") or cleaned.get("value")):
            self.add_error("what", _("Choose what is to change."))
        return cleaned

    def edits(self) -> list[Edit]:
        """The edit that was typed into a form without errors; none where it was left empty."""
        typed = self.cleaned_data
        if not typed["what"]:
            return []
        of = WANTED[typed["what"]][0]
        line, tool = (typed["line"], 0) if of == "line" else (0, int(typed["tool"]))
        return [Edit(typed["what"], line, tool, typed["value"])]


def _edit_value(kind: str, typed: str, units: str) -> str:
    """As programs.editing.KINDS has it. Raises ValidationError or NotALength."""
    text = typed.strip()
    if not text:
        raise ValidationError(_("Say what it becomes: a number, a code, or what the person is to do at a stop."))
    if kind == "text":
        return text
    if kind == "code":
        code = {"M8": "M08", "M7": "M07"}.get(text.upper(), text.upper())
        if code not in ("M07", "M08"):
            raise ValidationError(_("Type M08 (flood) or M07 (mist)."))
        return code
    if kind == "length":
        return f"{parse(text, default_unit=units).mm:g}"
    return _edit_number(text.replace(",", "."), whole=kind == "count")


def _edit_number(text: str, *, whole: bool) -> str:
    try:
        number = Decimal(text)
    except InvalidOperation:
        raise ValidationError(_("“%(text)s” is no number.") % {"text": text}) from None
    if (
        not number.is_finite()
        or number <= 0
        or number > MOST_NUMBER
        or (whole and number != number.to_integral_value())
    ):
        raise ValidationError(
            _("Type a whole number of 1 or more.") if whole else _("Type a number of more than zero, such as 0.8.")
        )
    return f"{number:f}"


class CutForm(forms.Form):
    """Lines behind which a person ends a part of a program."""

    after = forms.CharField(
        label=_("end a part also behind line"), required=False, max_length=200,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text=_("One line number, or several with blanks between them."),
    )  # fmt: skip

    def clean_after(self) -> str:
        typed: str = self.cleaned_data["after"]
        wrong = next((word for word in typed.replace(",", " ").split() if not word.isdecimal() or len(word) > 9), "")
        if wrong:
            raise ValidationError(_("“%(word)s” is no line number.") % {"word": wrong})
        return typed

    def lines(self) -> tuple[int, ...]:
        return tuple(int(word) for word in self.cleaned_data["after"].replace(",", " ").split())


class SignOffForm(forms.Form):
    printed_name = forms.CharField(label=_("your name, printed"), max_length=120)
    meaning = forms.CharField(
        label=_("what your signature means"), max_length=200,
        widget=forms.Textarea(attrs={"rows": 2}),
        initial=_("I read this program and its review, and release exactly these bytes for this plan."),
    )  # fmt: skip
    password = forms.CharField(
        label=_("your password, or the code of your badge, again"), strip=False, max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )  # fmt: skip


class MadeWithForm(forms.Form):
    """Which generator, and which settings of it, a revision came from."""

    made_with = forms.CharField(
        label=_("made with"), max_length=120, required=False,
        widget=forms.TextInput(attrs={"list": "made-with", "autocomplete": "off"}),
    )  # fmt: skip
    made_settings = forms.CharField(
        label=_("settings or template"), max_length=120, required=False,
        widget=forms.TextInput(attrs={"list": "made-settings", "autocomplete": "off"}),
    )  # fmt: skip
