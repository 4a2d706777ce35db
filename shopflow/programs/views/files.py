"""Bytes of programs: the text as it came, and the drawing of its motions."""

from __future__ import annotations

from django.http import FileResponse, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopflow.core.errors import CoreError
from shopflow.jobs.views.answers import me
from shopflow.programs import queries
from shopflow.records import files

PLAIN = "text/plain; charset=utf-8"


@require_GET
def file(request: HttpRequest, revision_id: int) -> HttpResponse | FileResponse:
    """The exact bytes, to be kept as a file."""
    revision = queries.revision_for(me(request), revision_id)
    try:
        handle = files.open_file(revision.stored)
    except CoreError as gone:
        return HttpResponse(str(gone), status=410, content_type=PLAIN)
    response = FileResponse(handle, as_attachment=True, filename=revision.name, content_type="application/octet-stream")
    response["Content-Length"] = revision.stored.size
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
