"""What people type about a control profile. One field a setting, in plain words; a row of fields a macro."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from shopflow.core.nc import CONTROLS
from shopflow.core.nc.control_files import LONGEST_TITLE, MOST_BYTES, NAME
from shopflow.core.nc.control_values import NotASetting, code_name, load, plain, problems
from shopflow.core.types import ControlMacro, ControlProfile, MacroEnd
from shopflow.people.seen import SeenMixin
from shopflow.shop.control_settings import (
    COOLANT_WORDS,
    END_WORDS,
    LETTERS,
    SETTINGS,
    THEMES,
    Setting,
    differing,
    said,
    typed,
)

YES, NO = "yes", "no"
EMPTY_ROWS = 2
MOST_ROWS = 100
MACRO_FIELDS = ("call", "title", "moves", "ends", "sets")
ROW = re.compile(r"macro(\d{1,3})_call")
SETS = re.compile(r"#?\s*(\d{1,5})")


def name_field() -> forms.CharField:
    return forms.CharField(
        label=lazy("Short name"), max_length=40,
        help_text=lazy("Small letters, digits, - and _: machines and commands call it by this."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
    )  # fmt: skip


def title_field() -> forms.CharField:
    return forms.CharField(
        label=lazy("Title"), max_length=LONGEST_TITLE, help_text=lazy("What this control is, as people here say it.")
    )


def reason_field() -> forms.CharField:
    return forms.CharField(
        label=lazy("Why"), max_length=300, help_text=lazy("The page of the manual, or what was seen at the machine.")
    )


class NameMixin(forms.Form):
    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        if not NAME.fullmatch(name):
            raise ValidationError(_("Small letters, digits, - and _ only, beginning with a letter or a digit."))
        return name


class CopyForm(NameMixin):
    name = name_field()
    title = title_field()
    reason = reason_field()


class ReasonForm(forms.Form):
    reason = forms.CharField(label=lazy("Why"), max_length=300)


class ControlFileForm(forms.Form):
    """A file of a profile, or the text of one that was shown before and is now to replace a profile."""

    file = forms.FileField(
        label=lazy("File of a control profile"),
        error_messages={"required": lazy("Choose a file first.")},
        widget=forms.ClearableFileInput(attrs={"accept": ".json,application/json"}),
    )
    text = forms.CharField(required=False, widget=forms.HiddenInput, strip=False, max_length=MOST_BYTES)
    is_replacing = forms.BooleanField(required=False, widget=forms.HiddenInput)
    reason = reason_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].required = not self.data.get("text")

    def content(self) -> bytes:
        sent = self.cleaned_data["file"]
        return sent.read(MOST_BYTES + 1) if sent else str(self.cleaned_data["text"]).encode()


class ControlForm(SeenMixin, NameMixin):
    """Every setting of one of the shop's own profiles.

    After is_valid(): `profile` is what was typed, the settings that are not named in the form as in the base.
    """

    unseen = ("reason",)

    def __init__(self, *args: Any, profile: ControlProfile, based_on: str, **kwargs: Any) -> None:
        self.base = CONTROLS[based_on]
        self.profile = profile
        initial = {"name": profile.name, "title": profile.title}
        initial |= {name: _initial(setting, profile) for name, setting in SETTINGS.items() if name != "control_macros"}
        initial |= _macro_initial(profile)
        super().__init__(*args, initial=initial, **kwargs)
        self.fields |= {"name": name_field(), "title": title_field()}
        self.fields |= {
            name: _field(setting, self.base) for name, setting in SETTINGS.items() if name != "control_macros"
        }
        self.rows = self._row_count(profile)
        for row in range(self.rows):
            self.fields |= _macro_fields(row)
        self.fields["reason"] = reason_field()

    def _row_count(self, profile: ControlProfile) -> int:
        """As many rows as there are macros and two more, and never fewer than were sent."""
        sent = [int(found[1]) + 1 for name in self.data if (found := ROW.fullmatch(str(name)))]
        return min(MOST_ROWS, max([len(profile.control_macros) + EMPTY_ROWS, *sent]))

    @property
    def themes(self) -> list[dict[str, Any]]:
        """The bound fields by theme, for the page."""
        changed = set(differing(self.profile, self.base))
        return [
            {
                "theme": theme,
                "fields": [self[setting.name] for setting in theme.settings if setting.name in self.fields],
                "changed": sum(setting.name in changed for setting in theme.settings),
            }
            for theme in THEMES
        ]

    @property
    def macro_rows(self) -> list[list[forms.BoundField]]:
        return [[self[f"macro{row}_{name}"] for name in (*MACRO_FIELDS, "out")] for row in range(self.rows)]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        macros = tuple(macro for row in range(self.rows) if (macro := self._macro(row)))
        settings = {name: given[name] for name in SETTINGS if name in given}
        names = {name: given[name] for name in ("name", "title") if name in given}
        self.profile = replace(self.base, **names, **settings, control_macros=macros)
        for name, problem in problems(self.profile):
            self.add_error(name if name in self.fields else None, problem)
        return given

    def _macro(self, row: int) -> ControlMacro | None:
        given = {name: self.cleaned_data.get(f"macro{row}_{name}", "") for name in (*MACRO_FIELDS, "out")}
        if given["out"] or not any(given[name] for name in ("call", "title", "moves", "sets")):
            return None
        if not given["call"]:
            if f"macro{row}_call" not in self.errors:
                self.add_error(f"macro{row}_call", _("Type what calls it: the number behind G65 P, or its code."))
            return None
        return ControlMacro(
            call=given["call"], title=given["title"], moves=given["moves"],
            ends=MacroEnd(given["ends"] or MacroEnd.UNKNOWN), sets=given["sets"] or (),
        )  # fmt: skip


def _initial(setting: Setting, profile: ControlProfile) -> Any:
    value = getattr(profile, setting.name)
    if setting.name == "extra_codes":
        return sorted(value)
    return _key(value) if setting.choices else typed(setting.name, value)


def _key(value: Any) -> str:
    """A value of a choice as a form sends it."""
    return {True: YES, False: NO}[value] if isinstance(value, bool) else str(plain(value))


def _field(setting: Setting, base: ControlProfile) -> forms.Field:
    """The field of a setting; its help ends with what the built-in profile says."""
    helped = f"{setting.help} " if setting.help else ""
    shared: dict[str, Any] = {
        "label": setting.label,
        "help_text": helped + _("Built in: %s.") % said(setting.name, base),
    }
    if setting.name == "extra_codes":
        codes = [(code, f"{code} {words}") for code, words in setting.choices]
        return CodesField(choices=codes, required=False, widget=forms.CheckboxSelectMultiple, **shared)
    if setting.choices:
        return ChosenField(setting, **shared)
    if setting.kind in (int, float):
        return (forms.IntegerField if setting.kind is int else NumberField)(min_value=0, **shared)
    return TextField(setting, **shared)


class CodesField(forms.MultipleChoiceField):
    def clean(self, value: Any) -> Any:
        return frozenset(super().clean(value))


class ChosenField(forms.TypedChoiceField):
    """One of a few, in words; gives the setting's own value."""

    def __init__(self, setting: Setting, **shared: Any) -> None:
        values = {_key(value): value for value, _words in setting.choices}
        choices = [(_key(value), words) for value, words in setting.choices]
        super().__init__(choices=choices, coerce=values.__getitem__, **shared)


class NumberField(forms.CharField):
    """A number with a point or a comma, shown again as it was typed."""

    def __init__(self, *, min_value: float, **shared: Any) -> None:
        super().__init__(max_length=20, widget=forms.TextInput(attrs={"inputmode": "decimal"}), **shared)
        self.min_value = min_value

    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "").replace(",", ".")
        if not text:
            return None
        try:
            number = float(text)
        except ValueError as refusal:
            raise ValidationError(_("“%s” is no number.") % value) from refusal
        if not number >= self.min_value:
            raise ValidationError(_("Type a number of 0 or more."))
        return number

    def run_validators(self, value: Any) -> None:
        """Checked as a number."""


class TextField(forms.CharField):
    """Codes, pairs of codes or letters, parted by commas."""

    def __init__(self, setting: Setting, **shared: Any) -> None:
        super().__init__(max_length=400, required=setting.name == "dwell_letters", strip=True, **shared)
        self.setting = setting

    def to_python(self, value: Any) -> Any:
        try:
            return _parsed(self.setting.name, super().to_python(value) or "")
        except NotASetting as refusal:
            raise ValidationError(str(refusal)) from refusal

    def validate(self, value: Any) -> None:
        if self.required and not value:
            raise ValidationError(self.error_messages["required"])

    def run_validators(self, value: Any) -> None:
        """The length is the widget's; what the text means was checked when it was read."""


def _parsed(name: str, text: str) -> Any:
    parts = [part.strip() for part in re.split(r"[,;\n]", text) if part.strip()]
    if name in LETTERS:
        return "".join(part.upper() for part in parts)
    if name == "aliases":
        return tuple((code_name(code), code_name(meant)) for code, meant in map(_pair, parts))
    if name == "coolant_codes":
        return tuple((code_name(code), _coolant(meant)) for code, meant in map(_pair, parts))
    return load(name, parts)


def _pair(text: str) -> tuple[str, str]:
    code, sign, meant = text.partition("=")
    if not sign or not meant.strip():
        raise NotASetting(_("“%s”: type a code, = and what it means here.") % text)
    return code, meant


def _coolant(text: str) -> int:
    words = {str(word): bit for bit, word in COOLANT_WORDS.items()}
    parts = [part.strip().lower() for part in text.split("+")]
    if unknown := [part for part in parts if part not in words]:
        raise NotASetting(_("“%(word)s” is none of: %(words)s.") % {"word": unknown[0], "words": ", ".join(words)})
    return sum({words[part] for part in parts})


class CallField(forms.CharField):
    def to_python(self, value: Any) -> str:
        text = str(super().to_python(value) or "").strip()
        try:
            return load("control_macros", [{"call": text}])[0].call if text else ""
        except NotASetting as refusal:
            raise ValidationError(_("Type the number behind G65 P, such as 9810, or a code, such as M46.")) from refusal


class VariablesField(forms.CharField):
    def to_python(self, value: Any) -> Any:
        parts = [part.strip() for part in re.split(r"[,;\s]+", str(super().to_python(value) or "")) if part.strip()]
        found = [SETS.fullmatch(part) for part in parts]
        if not all(found):
            raise ValidationError(_("Type numbers of variables, such as 100, 135, 500."))
        return tuple(dict.fromkeys(int(part[1]) for part in found if part))

    def validate(self, value: Any) -> None:
        if any(number < 1 for number in value):
            raise ValidationError(_("Variables are numbered from 1."))

    def run_validators(self, value: Any) -> None:
        """Read and checked as numbers."""


def _macro_initial(profile: ControlProfile) -> dict[str, Any]:
    return {
        f"macro{row}_{name}": value
        for row, macro in enumerate(profile.control_macros)
        for name, value in {
            "call": macro.call, "title": macro.title, "moves": macro.moves, "ends": macro.ends.value,
            "sets": ", ".join(map(str, macro.sets)),
        }.items()
    }  # fmt: skip


def _macro_fields(row: int) -> dict[str, forms.Field]:
    ends = [(end.value, words) for end, words in END_WORDS.items()]
    made: dict[str, forms.Field] = {
        "call": CallField(label=lazy("Called by"), max_length=12, required=False),
        "title": forms.CharField(label=lazy("What it is for"), max_length=80, required=False),
        "moves": forms.CharField(label=lazy("What it moves"), max_length=120, required=False),
        "ends": forms.ChoiceField(label=lazy("Where the tool stands after it"), choices=ends, required=False),
        "sets": VariablesField(label=lazy("Variables it sets"), max_length=200, required=False),
        "out": forms.BooleanField(label=lazy("Take out"), required=False),
    }
    return {f"macro{row}_{name}": field for name, field in made.items()}
