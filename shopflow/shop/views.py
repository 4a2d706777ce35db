"""The shop's tables: lists, forms, CSV out and in."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import models, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopflow.core.errors import NotPossible
from shopflow.people.access import Act, may
from shopflow.people.forms import done
from shopflow.people.pages import HtmxRequest, render_part
from shopflow.people.sessions import signed_in
from shopflow.shop import actions, csv_files, queries, showing, tool_life
from shopflow.shop.forms import CsvForm, RowForm
from shopflow.shop.learned import learned_about
from shopflow.shop.models import Tool
from shopflow.shop.tables import TABLES, Table


@require_GET
def table(request: HtmxRequest, key: str) -> HttpResponse:
    """A table of the shop, or the rows in which the words of `q` stand."""
    shown = TABLES[key]
    words = request.GET.get("q", "").strip()
    rows = queries.rows_of(shown.model)
    found = queries.find(rows, words, shown.shown + ("note",)) if words else list(rows)
    context = {
        **_page(request, shown),
        "words": words,
        "headings": showing.headings(shown),
        "rows": [showing.row(shown, row) for row in found],
    }
    return render_part(request, page="shop/table.html", part="shop/_rows.html", context=context)


def _page(request: HttpRequest, shown: Table) -> dict[str, Any]:
    return {
        "table": shown,
        "tabs": showing.tabs(shown.key, signed_in(request)),
        "may_edit": may(signed_in(request), shown.act),
        "list_url": reverse(f"shop:{shown.key}"),
        "add_url": reverse(f"shop:{shown.key}_add"),
        "csv_url": reverse(f"shop:{shown.key}_csv"),
        "read_url": reverse(f"shop:{shown.key}_read"),
    }


def _crumbs(shown: Table) -> list[tuple[str, Any]]:
    return [(reverse(f"shop:{shown.key}"), shown.title)]


@require_http_methods(["GET", "POST"])
def add(request: HttpRequest, key: str) -> HttpResponse:
    shown = TABLES[key]
    form = shown.form(request.POST if request.method == "POST" else None)
    if request.method == "POST" and _saved(request, form):
        return redirect(f"shop:{key}")
    return _form_page(request, shown, form, None)


@require_http_methods(["GET", "POST"])
def row(request: HttpRequest, key: str, row_id: int) -> HttpResponse:
    shown = TABLES[key]
    if request.method == "GET":
        kept = get_object_or_404(shown.model, pk=row_id)
        return _form_page(request, shown, shown.form(instance=kept), kept)
    with transaction.atomic():
        kept = get_object_or_404(shown.model._default_manager.select_for_update(), pk=row_id)
        form = shown.form(request.POST, instance=kept)
        if form.settled(queries.last_by(shown.kind.name, row_id)) and _saved(request, form):
            return redirect(f"shop:{key}")
    return _form_page(request, shown, form, get_object_or_404(shown.model, pk=row_id))


def _saved(request: HttpRequest, form: RowForm) -> bool:
    if not done(form, lambda _typed: actions.save(form.instance, by=signed_in(request))):
        return False
    messages.success(request, _("%(row)s is saved.") % {"row": form.instance})
    return True


def _form_page(request: HttpRequest, shown: Table, form: RowForm, kept: models.Model | None) -> HttpResponse:
    context = {
        **_page(request, shown),
        "form": form,
        "fieldsets": showing.fieldsets(shown, form),
        "row": kept,
        "crumbs": _crumbs(shown),
        "entries": showing.history(kept) if kept else [],
        "learned": learned_about(kept) if kept else [],
        "lessons_url": _lessons_url(shown, kept),
        "edge_words": list(tool_life.EDGES.items())
        if isinstance(kept, Tool) and may(signed_in(request), Act.RUN)
        else [],
        "remove_url": reverse(f"shop:{shown.key}_remove", args=[kept.pk]) if kept else "",
    }
    return render(request, "shop/row.html", context, status=422 if form.errors or form.is_overtaken else 200)


def _lessons_url(shown: Table, kept: models.Model | None) -> str:
    """Where a lesson about the row is kept; "" for rows that nobody keeps lessons about."""
    name = {"crib": "tool", "materials": "material"}.get(shown.key)
    return f"{reverse('programs:lessons')}?{name}={kept.pk}" if name and kept else ""


@require_POST
def remove(request: HttpRequest, key: str, row_id: int) -> HttpResponse:
    kept = get_object_or_404(TABLES[key].model, pk=row_id)
    name = str(kept)
    try:
        actions.remove(kept, by=signed_in(request))
    except actions.InUse as refusal:
        messages.error(request, str(refusal))
        return redirect(f"shop:{key}_row", row_id)
    messages.success(request, _("%(row)s is removed.") % {"row": name})
    return redirect(f"shop:{key}")


@require_POST
def tool_edge(request: HttpRequest, row_id: int) -> HttpResponse:
    """A new or reground edge, or one that is worn or used up; back to where it was said."""
    kept = get_object_or_404(Tool, pk=row_id)
    try:
        now = tool_life.set_edge(kept, request.POST.get("how", ""), by=signed_in(request))
    except NotPossible as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("%(tool)s: %(edge)s.") % {"tool": now, "edge": now.edge_said})
    back = request.POST.get("back", "")
    if url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure()):
        return redirect(back)
    return redirect("shop:crib")


@require_GET
def csv_out(request: HttpRequest, key: str) -> HttpResponse:
    """The whole table; the mark in front lets spreadsheets read it as UTF-8."""
    shown = TABLES[key]
    text = csv_files.write(shown, queries.rows_of(shown.model))
    headers = {"Content-Disposition": f'attachment; filename="{key}.csv"'}
    return HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8", headers=headers)


@require_http_methods(["GET", "POST"])
def csv_in(request: HttpRequest, key: str) -> HttpResponse:
    """Read a file: saved at once when every line is good, else shown line by line for the person to decide."""
    shown = TABLES[key]
    form = CsvForm(request.POST, request.FILES) if request.method == "POST" else CsvForm()
    reading = _read(shown, form) if form.is_bound else None
    if reading and (reading.is_all_good or (form.cleaned_data["only_good"] and _is_as_shown(reading, form))):
        written = csv_files.apply(reading, by=signed_in(request))
        messages.success(request, _counted(written, len(reading.good) - len(written)))
        return redirect(f"shop:{key}")
    context = {
        **_page(request, shown),
        "form": form,
        "reading": reading,
        "crumbs": [(reverse(f"shop:{key}"), shown.title)],
    }
    return render(request, "shop/csv_in.html", context, status=422 if reading or form.errors else 200)


def _is_as_shown(reading: csv_files.Reading, form: CsvForm) -> bool:
    """Whether the rows are still as they were when the person decided; otherwise the page says so and asks again."""
    if form.cleaned_data["state"] in ("", reading.state):
        return True
    reading.problems.append(
        _("Somebody changed the table while this page was open. Look at the lines again, and decide.")
    )
    return False


def _read(shown: Table, form: CsvForm) -> csv_files.Reading | None:
    """What the file or the text says, or None with the reason in the form."""
    if not form.is_valid():
        return None
    try:
        if form.cleaned_data["file"]:
            return csv_files.read(shown, *csv_files.decode(form.cleaned_data["file"].read(csv_files.MOST_BYTES + 1)))
        return csv_files.read(shown, form.cleaned_data["text"])
    except csv_files.NotCsv as refusal:
        form.add_error("file", str(refusal))
    return None


def _counted(written: list[actions.Written], same: int) -> str:
    added = sum(one.is_new for one in written)
    parts = [
        ngettext("%d row added", "%d rows added", added) % added,
        ngettext("%d changed", "%d changed", len(written) - added) % (len(written) - added),
        ngettext("%d as it was", "%d as they were", same) % same,
    ]
    return ", ".join(parts) + "."
