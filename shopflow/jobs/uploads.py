"""What a file that somebody sends us really is, judged by its first bytes and its size, never by its name."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.errors import Unreadable
from shopflow.jobs.models import JobFile

STEP_MARK = b"ISO-10303-21"
"""First token of the clear text encoding (ISO 10303-21, clause 6)."""

HEAD_BYTES = 4096
LONGEST_NAME = 200

_MAGIC = [
    (b"%PDF-", "application/pdf"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"PK\x03\x04", "application/zip"),
]
_WORDS = {
    "application/pdf": gettext_lazy("a PDF"),
    "image/png": gettext_lazy("a picture"),
    "image/jpeg": gettext_lazy("a picture"),
    "application/zip": gettext_lazy("a ZIP archive"),
    "model/step": gettext_lazy("a STEP model"),
}
_ALLOWED = {
    JobFile.Kind.MODEL: ("model/step",),
    JobFile.Kind.BLANK: ("model/step",),
    JobFile.Kind.DRAWING: ("application/pdf", "image/png", "image/jpeg"),
    JobFile.Kind.PHOTO: ("image/png", "image/jpeg"),
}
_WANTED = {
    JobFile.Kind.MODEL: gettext_lazy("A model is a STEP file: ask for an export as AP203, AP214 or AP242."),
    JobFile.Kind.BLANK: gettext_lazy("The model of a blank is a STEP file with that one solid in it."),
    JobFile.Kind.DRAWING: gettext_lazy("A drawing is a PDF, or a picture as PNG or JPEG."),
    JobFile.Kind.PHOTO: gettext_lazy("A photo is a PNG or a JPEG."),
}


@dataclass(frozen=True)
class Checked:
    """A file that may be kept: its name made harmless, and its media type as its bytes tell it."""

    name: str
    media_type: str


def check(upload: UploadedFile[bytes], kind: str) -> Checked:
    """What the file is, or Unreadable with a sentence that says what is wrong and what to do."""
    name = clean_name(upload.name or "")
    size = upload.size or 0
    if size == 0:
        raise Unreadable(_("“%s” is empty.") % name, mend=_("Save it again where it was made, and send it again."))
    if size > settings.MAX_UPLOAD_BYTES:
        raise Unreadable(too_large(name))
    media_type = sniff(_head(upload))
    allowed = _ALLOWED.get(JobFile.Kind(kind))
    if allowed and media_type not in allowed:
        seen = _WORDS.get(media_type)
        what = _("“%(name)s” is %(seen)s.") % {"name": name, "seen": seen} if seen else _not_any(name, kind)
        raise Unreadable(what, mend=str(_WANTED[JobFile.Kind(kind)]))
    return Checked(name=name, media_type=media_type)


def too_large(name: str) -> str:
    return _(
        "“%(name)s” is larger than the %(limit)d MB that are taken, and was not kept. Send the part alone, without its "
        "assembly, or a scan of lower resolution."
    ) % {"name": name, "limit": settings.MAX_UPLOAD_BYTES // (1024 * 1024)}


def sniff(head: bytes) -> str:
    """The media type that the first bytes tell; application/octet-stream where they tell nothing."""
    for magic, media_type in _MAGIC:
        if head.startswith(magic):
            return media_type
    text = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    return "model/step" if text.startswith(STEP_MARK) else "application/octet-stream"


def clean_name(name: str) -> str:
    """The last part of a path without control and direction-changing characters, shortened in its middle."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    kept = "".join(letter for letter in last if unicodedata.category(letter)[0] != "C").strip()
    if len(kept) > LONGEST_NAME:
        kept = kept[: LONGEST_NAME - 21] + "…" + kept[-20:]
    return kept or _("file without a name")


def _head(upload: UploadedFile[bytes]) -> bytes:
    upload.seek(0)
    head = upload.read(HEAD_BYTES)
    upload.seek(0)
    return bytes(head)


def _not_any(name: str, kind: str) -> str:
    if kind in (JobFile.Kind.MODEL, JobFile.Kind.BLANK):
        return _("“%s” does not begin as a STEP file does.") % name
    return _("“%s” is not the kind of file that is asked for here.") % name
