"""A setup file with what it names, as a person sends it: a ZIP archive, or the files themselves."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import PurePosixPath
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.errors import CoreError
from shopflow.core.review.setup_file import read_setup_bytes
from shopflow.core.review.setup_values import SetupFile
from shopflow.jobs.uploads import clean_name
from shopflow.people.choosing import offer

MOST_BYTES = 2_000_000
"""Of one text file; a setup file, a tool table, a control profile are far smaller."""
WANTED = (".toml", ".csv", ".json")


class SeveralFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Several files at once, as a list."""

    def clean(self, data: Any, initial: Any = None) -> Any:
        given = data if isinstance(data, (list, tuple)) else [data]
        return [one for one in (super(FilesField, self).clean(one, initial) for one in given or [None]) if one]


class FromFileForm(forms.Form):
    """sent: the files; or the texts of what was shown before; then which setups to take of it."""

    sent = FilesField(
        label=gettext_lazy("Setup file"),
        widget=SeveralFiles(attrs={"accept": ".zip,.toml,.csv,.json", "multiple": True}),
        help_text=gettext_lazy(
            "The ZIP archive that the page of a program gives, or SETUP.toml together with the files that it names."
        ),
        error_messages={"required": gettext_lazy("Choose the file first.")},
    )
    texts = forms.CharField(required=False, widget=forms.HiddenInput, strip=False)
    seen = forms.CharField(required=False, widget=forms.HiddenInput, max_length=64)
    take = forms.TypedMultipleChoiceField(required=False, coerce=int, widget=forms.MultipleHiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sent"].required = not self.data.get("texts")
        ticked = self.data.getlist("take") if hasattr(self.data, "getlist") else []
        offer(self, "take", [(one, one) for one in ticked if one.isdecimal()])

    def clean(self) -> dict[str, Any]:
        """said: what the file says; texts: of its files, for the form that takes them; hash: of the setup file."""
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        texts = dict(_given(cleaned["sent"])) if cleaned.get("sent") else _kept(cleaned["texts"])
        cleaned["said"], name = _read(texts)
        cleaned["hash"] = hashlib.sha256(texts[name].encode()).hexdigest()
        cleaned["texts"] = json.dumps(texts)
        return cleaned


def _read(texts: dict[str, str]) -> tuple[SetupFile, str]:
    names = [name for name in texts if name.lower().endswith(".toml")]
    if len(names) != 1:
        raise ValidationError(
            _("There is to be one file that ends with .toml; here are %d. Send SETUP.toml with what it names.")
            % len(names)
        )
    try:
        return read_setup_bytes({name: text.encode() for name, text in texts.items()}, names[0]), names[0]
    except CoreError as refusal:
        raise ValidationError(str(refusal)) from refusal


def _kept(text: str) -> dict[str, str]:
    try:
        kept = json.loads(text)
        return {str(name): str(value) for name, value in kept.items()}
    except (ValueError, AttributeError) as error:
        raise ValidationError(_("The page was sent without its file. Choose the file again.")) from error


def _given(files: list[UploadedFile[bytes]]) -> Iterator[tuple[str, str]]:
    """Texts by name; what is none of SETUP.toml, tables and profiles (the program, the model) is not needed here."""
    for file in files:
        name = clean_name(file.name or "")
        if name.lower().endswith(".zip"):
            yield from _unpacked(file, name)
        elif name.lower().endswith(WANTED):
            yield name, _text(name, file.read(MOST_BYTES + 1))
        else:
            raise ValidationError(_("“%s” is neither a ZIP archive nor a file that a setup file reads.") % name)


def _unpacked(file: UploadedFile[bytes], name: str) -> Iterator[tuple[str, str]]:
    try:
        with zipfile.ZipFile(io.BytesIO(file.read())) as archive:
            for inside in archive.infolist():
                if inside.filename.lower().endswith(WANTED):
                    with archive.open(inside) as handle:
                        yield PurePosixPath(inside.filename).name, _text(inside.filename, handle.read(MOST_BYTES + 1))
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as error:
        raise ValidationError(_("“%s” is no ZIP archive that can be unpacked.") % name) from error


def _text(name: str, data: bytes) -> str:
    if len(data) > MOST_BYTES:
        raise ValidationError(_("“%s” is larger than any setup file or table of tools is.") % name)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ValidationError(_("“%s” is no text in UTF-8.") % name) from error
