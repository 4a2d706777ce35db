"""The house rules and the shop's own facts."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopflow.people import actions as people_actions
from shopflow.people import queries as people
from shopflow.people.access import Act, may
from shopflow.people.forms import done
from shopflow.people.sessions import signed_in
from shopflow.shop import actions, queries, showing
from shopflow.shop.forms import HouseRuleForm, ShopFactsForm


@require_GET
def house_rules(request: HttpRequest) -> HttpResponse:
    return _rules_page(request)


def _rules_page(request: HttpRequest, status: int = 200, **forms: HouseRuleForm) -> HttpResponse:
    context: dict[str, Any] = {
        "rules": showing.rules(forms),
        "entries": [showing.told_rule(change) for change in queries.rule_changes()],
        "tabs": showing.tabs("house_rules", signed_in(request)),
        "may_edit": may(signed_in(request), Act.EDIT_RULES),
    }
    return render(request, "shop/house_rules.html", context, status=status)


@require_POST
def house_rule(request: HttpRequest, rule_key: str) -> HttpResponse:
    try:
        rule = queries.rule_of(rule_key)
    except LookupError as unknown:
        raise Http404 from unknown
    with transaction.atomic():
        form = HouseRuleForm(request.POST, prefix=rule_key, initial={"text": queries.rule_text(rule_key, lock=True)})
        last = queries.rule_changes().filter(key=rule_key).first()
        if form.settled(last.changed_by if last else "") and done(
            form, lambda typed: actions.change_house_rule(rule_key, **typed, by=signed_in(request))
        ):
            messages.success(request, _("Changed: %(rule)s.") % {"rule": rule.title})
            return redirect("shop:house_rules")
    return _rules_page(request, status=422, **{rule_key: form})


@require_http_methods(["GET", "POST"])
def facts(request: HttpRequest) -> HttpResponse:
    """Name and address of the shop, as papers print them."""
    kept = people.shop_settings()
    initial: dict[str, Any] = {"name": kept.name, "address": kept.address, "paper_size": kept.paper_size}
    initial["worked_days"] = list(kept.worked_days)
    form = ShopFactsForm(request.POST if request.method == "POST" else None, initial=initial)
    by = signed_in(request)
    if (
        request.method == "POST"
        and form.settled(people.last_to(["shop_settings_changed"], subject=("shop", kept.pk)))
        and done(form, lambda typed: people_actions.change_shop_settings(**typed, by=by))
    ):
        messages.success(request, _("Saved. New papers carry it."))
        return redirect("shop:facts")
    context = {"form": form, "tabs": showing.tabs("facts", by)}
    return render(request, "shop/facts.html", context, status=422 if form.errors or form.is_overtaken else 200)
