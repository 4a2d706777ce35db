"""Bytes of programs: the text as it came, and the drawing of its motions."""

from __future__ import annotations

import io
import zipfile

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopflow.core.errors import CoreError
from shopflow.jobs.views.answers import me
from shopflow.people import kept_files
from shopflow.programs import queries
from shopflow.programs.setup_export import setup_files

PLAIN = "text/plain; charset=utf-8"


@require_GET
def file(request: HttpRequest, revision_id: int) -> HttpResponseBase:
    """The exact bytes, to be kept as a file."""
    revision = queries.revision_for(me(request), revision_id)
    return kept_files.sent(revision.stored, revision.name)


@require_GET
def setup_file(request: HttpRequest, revision_id: int) -> HttpResponse:
    """The program with everything that its review looks at, as one ZIP archive; refused with what the plan lacks."""
    revision = queries.revision_for(me(request), revision_id)
    try:
        contents = setup_files(revision)
    except CoreError as refusal:
        messages.error(request, str(refusal))
        return redirect("programs:revision", revision.pk)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in contents.items():
            archive.writestr(name, data)
    response = HttpResponse(packed.getvalue(), content_type="application/zip")
    name = "".join(one if one.isalnum() or one in "-_." else "-" for one in revision.program.name)
    response["Content-Disposition"] = f'attachment; filename="{name}-setup.zip"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


@require_GET
def drawing(request: HttpRequest, revision_id: int, offset: int) -> HttpResponse:
    """The motions in one work offset as the viewer reads them (programs.drawing); 404 where there is no picture."""
    revision = queries.revision_for(me(request), revision_id)
    try:
        content = queries.Reviewed(revision).drawing(offset)
    except CoreError as gone:
        return HttpResponse(str(gone), status=410, content_type=PLAIN)
    if content is None:
        return HttpResponse(_("There is no picture of this program."), status=404, content_type=PLAIN)
    return _bytes(content)


def _bytes(content: bytes) -> HttpResponse:
    response = HttpResponse(content, content_type="application/octet-stream")
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, max-age=0, must-revalidate"
    return response


@require_GET
def stock(request: HttpRequest, revision_id: int, offset: int) -> HttpResponse:
    """The stock as it is cut in one work offset (programs.stock_picture); 404 while it was not computed."""
    content = queries.Reviewed(queries.revision_for(me(request), revision_id)).stock_picture(offset)
    if content is None:
        return HttpResponse(_("Material removal was not computed."), status=404, content_type=PLAIN)
    return _bytes(content)


@require_GET
def stock_stretch(request: HttpRequest, revision_id: int, offset: int, number: int) -> HttpResponse:
    """What each motion changes from one state of that picture to the next; 404 where the cache has lost it."""
    return _packed(queries.Reviewed(queries.revision_for(me(request), revision_id)).stock_stretch(offset, number))


@require_GET
def deviation(request: HttpRequest, revision_id: int, offset: int) -> HttpResponse:
    """How far the stock stands off the model's faces (programs.deviation_picture); 404 where nothing was compared."""
    return _packed(queries.Reviewed(queries.revision_for(me(request), revision_id)).deviation(offset))


def _packed(content: bytes | None) -> HttpResponse:
    """Bytes that zlib packed, to be unpacked by the browser."""
    if content is None:
        return HttpResponse(_("This is no longer kept."), status=404, content_type=PLAIN)
    response = _bytes(content)
    response["Content-Encoding"] = "deflate"
    return response
