"""Published speeds and feeds, and what a plan would take for one tool."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopflow.people.sessions import signed_in
from shopflow.shop import cutting_showing, queries, showing
from shopflow.shop.cutting_form import LookUpForm


@require_GET
def defaults(request: HttpRequest) -> HttpResponse:
    """The published rows of a group, and the answer to a material, a tool and a use where those are asked about."""
    units = signed_in(request).units
    form = LookUpForm(request.GET if "tool" in request.GET else None, units=units)
    answer = None
    if form.is_bound and form.is_valid():
        made = queries.suggestion(**form.cleaned_data)
        if made is None:
            form.add_error("tool", _("No table says anything about this tool for this use."))
        else:
            answer = cutting_showing.answer(made, units)
    group = request.GET.get("group", "")
    context = {
        "form": form,
        "answer": answer,
        "groups": cutting_showing.groups(),
        "group": group,
        "coolants": cutting_showing.coolant_lines(group),
        "rows": cutting_showing.default_lines(group, units),
        "tabs": showing.tabs("cutting", signed_in(request)),
        "units": units,
    }
    return render(request, "shop/cutting_defaults.html", context)
