"""The tools that plans wait for: ordering them, and their way into the crib."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopflow.core.errors import CoreError
from shopflow.jobs import actions, queries
from shopflow.jobs.forms.buying import HowManyForm, ToolOrderForm
from shopflow.jobs.models import ToolOrder
from shopflow.jobs.views.answers import attempted, me
from shopflow.jobs.views.answers import done as done_or_refused
from shopflow.people import queries as people
from shopflow.people.access import Act, may
from shopflow.people.forms import done
from shopflow.shop.forms import ToolForm
from shopflow.shop.showing import fieldsets
from shopflow.shop.tables import TABLES


@require_GET
def to_buy(request: HttpRequest) -> HttpResponse:
    """Every tool that a plan waits for, soonest first, and what is on order though no plan waits for it."""
    wants = queries.to_buy()
    served = {want.order.pk for want in wants if want.order}
    context = {
        "wants": wants,
        "others": [order for order in queries.open_orders() if order.pk not in served],
        "may_buy": may(request.user, Act.EDIT_SHOP),
        "may_accept": may(request.user, Act.COUNT_ON_ORDER),
    }
    return render(request, "jobs/to_buy.html", context)


@require_http_methods(["GET", "POST"])
def order_tool(request: HttpRequest) -> HttpResponse:
    """`what` in the address: one of the tools that plans wait for, as the list says it."""
    what = request.GET.get("what", "")
    wants = [want for want in queries.to_buy() if want.what == what]
    with transaction.atomic():
        order = ToolOrder.objects.select_for_update().filter(what=what, received_on=None).first()
        if not wants and order is None:
            raise Http404(_("No plan waits for this tool any more."))
        typed = request.POST if request.method == "POST" else None
        lead = may(request.user, Act.COUNT_ON_ORDER)
        form = ToolOrderForm(typed, order=order, may_accept=lead, today=timezone.localdate())
        if typed is not None and form.settled(_ordered_by(order)) and _ordered(request, form, what, wants):
            messages.success(request, _("Noted: it is on order."))
            return redirect("jobs:to_buy")
    context = {"form": form, "what": what, "wants": wants, "order": order, "crumbs": _crumbs()}
    return render(request, "jobs/order_tool.html", context, status=422 if form.errors or form.is_overtaken else 200)


def _ordered_by(order: ToolOrder | None) -> Any:
    return people.last_to(["tool_ordered"], subject=("tool_order", order.pk)) if order else None


def _ordered(request: HttpRequest, form: ToolOrderForm, what: str, wants: list[queries.ToBuy]) -> bool:
    tool = wants[0].tool if wants else None
    return done_or_refused(form, lambda: actions.order_tool(what, tool=tool, by=me(request), **form.cleaned_data))


@require_POST
def count_on(request: HttpRequest, order_id: int) -> HttpResponse:
    order = get_object_or_404(ToolOrder, pk=order_id)
    attempted(request, lambda: actions.count_on(order, by=me(request)))
    return redirect("jobs:to_buy")


@require_POST
def drop(request: HttpRequest, order_id: int) -> HttpResponse:
    order = get_object_or_404(ToolOrder, pk=order_id)
    attempted(request, lambda: actions.drop_order(order, by=me(request)))
    return redirect("jobs:to_buy")


@require_http_methods(["GET", "POST"])
def crib(request: HttpRequest, order_id: int) -> HttpResponse:
    """Its row in the crib before it is here, with none on hand, so that programs can call its number."""
    order = get_object_or_404(ToolOrder, pk=order_id, tool=None, received_on=None)
    return _crib_page(request, order, is_here=False)


@require_http_methods(["GET", "POST"])
def receive(request: HttpRequest, order_id: int) -> HttpResponse:
    """It is here: how many, and its row in the crib where it has none."""
    order = get_object_or_404(ToolOrder, pk=order_id, received_on=None)
    if order.tool is None:
        return _crib_page(request, order, is_here=True)
    form = HowManyForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and done_or_refused(
        form, lambda: actions.receive_tool(order, by=me(request), **form.cleaned_data)
    ):
        messages.success(request, _("%s is on hand.") % order.tool)
        return redirect("jobs:to_buy")
    context = {"form": form, "order": order, "crumbs": _crumbs(), "is_here": True}
    return render(request, "jobs/crib_tool.html", context, status=422 if form.errors else 200)


def _crib_page(request: HttpRequest, order: ToolOrder, *, is_here: bool) -> HttpResponse:
    known = {name: text for name, text in asdict(queries.crib_row_of(order)).items() if text}
    form = ToolForm(request.POST or None, initial={**known, "on_hand": int(is_here)})
    if request.method == "POST" and _in_crib(request, form, order, is_here=is_here):
        messages.success(request, _("%s stands in the crib and in the plans that waited for it.") % form.instance)
        return redirect("jobs:to_buy")
    context = {
        "form": form,
        "fieldsets": fieldsets(TABLES["crib"], form),
        "order": order,
        "crumbs": _crumbs(),
        "is_here": is_here,
    }
    return render(request, "jobs/crib_tool.html", context, status=422 if form.errors else 200)


def _in_crib(request: HttpRequest, form: ToolForm, order: ToolOrder, *, is_here: bool) -> bool:
    def act(_typed: dict[str, Any]) -> object:
        tool = form.instance
        if is_here:
            return actions.receive_tool(order, by=me(request), quantity=tool.on_hand, tool=tool)
        return actions.put_in_crib(order, tool, by=me(request))

    try:
        return done(form, act)
    except CoreError as refusal:
        form.add_error(None, str(refusal))
        return False


def _crumbs() -> list[tuple[str, str]]:
    return [(reverse("shop:crib"), _("Tools")), (reverse("jobs:to_buy"), _("Tools to buy"))]
