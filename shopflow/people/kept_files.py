"""A kept file as an answer: its exact bytes, or a sentence where they are gone."""

from __future__ import annotations

from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase

from shopflow.core.errors import CoreError
from shopflow.records import files
from shopflow.records.models import StoredFile

PLAIN = "text/plain; charset=utf-8"
BYTES = "application/octet-stream"


def sent(stored: StoredFile, name: str, *, media_type: str = BYTES, is_shown: bool = False) -> HttpResponseBase:
    """name: what the file is called where it is saved. is_shown: opened in the browser, as a rule a picture or a PDF.

    410 with the reason where the bytes were withdrawn or are missing.
    """
    try:
        handle = files.open_file(stored)
    except CoreError as gone:
        return HttpResponse(str(gone), status=410, content_type=PLAIN)
    response = FileResponse(handle, as_attachment=not is_shown, filename=name, content_type=media_type)
    response["Content-Length"] = stored.size
    response["X-Content-Type-Options"] = "nosniff"
    response["X-Content-SHA256"] = stored.sha256
    return response
