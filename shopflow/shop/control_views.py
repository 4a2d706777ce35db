"""The pages of control profiles: list, one profile, copy, change, file out and in."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopflow.core.errors import Unreadable
from shopflow.core.nc import CONTROLS, ControlFile, read_control, write_control
from shopflow.core.types import ControlProfile as CoreProfile
from shopflow.people.access import Act, may
from shopflow.people.forms import done
from shopflow.people.sessions import signed_in
from shopflow.shop import control_actions, control_showing, queries, showing
from shopflow.shop.actions import InUse
from shopflow.shop.control_forms import ControlFileForm, ControlForm, CopyForm, ReasonForm
from shopflow.shop.models import ControlProfile


@require_GET
def controls(request: HttpRequest) -> HttpResponse:
    own, built_in = control_showing.listed()
    context = {
        "own": own,
        "built_in": built_in,
        "tabs": showing.tabs("controls", signed_in(request)),
        **_shared(request),
    }
    return render(request, "shop/controls.html", context)


@require_GET
def control(request: HttpRequest, name: str) -> HttpResponse:
    return _control_page(request, name, ReasonForm())


def _control_page(request: HttpRequest, name: str, remove_form: BaseForm, status: int = 200) -> HttpResponse:
    """One profile in words, with what may be done with it."""
    profile, own = _profile(name)
    base = CONTROLS[own.based_on] if own else None
    context = {
        "profile": profile,
        "own": own,
        "base": base,
        "themes": control_showing.themes(profile, base),
        "machines": queries.machines_by_control().get(name, []),
        "entries": control_showing.history(own) if own else [],
        "remove_form": remove_form,
        **_shared(request),
    }
    return render(request, "shop/control.html", context, status=status)


def _shared(request: HttpRequest) -> dict[str, Any]:
    return {
        "may_edit": may(signed_in(request), Act.EDIT_SHOP),
        "crumbs": [(reverse("shop:controls"), _("Control profiles"))],
    }


def _profile(name: str) -> tuple[CoreProfile, ControlProfile | None]:
    """A profile by name, with its row where it is the shop's own; 404 where there is none."""
    if name in CONTROLS:
        return CONTROLS[name], None
    own = get_object_or_404(ControlProfile, name=name)
    return queries.core_control(own), own


@require_http_methods(["GET", "POST"])
def copy(request: HttpRequest, name: str) -> HttpResponse:
    profile, _own = _profile(name)
    form = CopyForm(request.POST or None, initial={"title": _("%s, ours") % profile.title[:100]})
    made: list[ControlProfile] = []
    by = signed_in(request)
    if request.method == "POST" and done(
        form, lambda typed: made.append(control_actions.copy_control(name, **typed, by=by))
    ):
        messages.success(request, _("Copied. Now change what is different on your control."))
        return redirect("shop:control_change", made[0].name)
    context = {"profile": profile, "form": form, **_shared(request)}
    return render(request, "shop/control_copy.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, name: str) -> HttpResponse:
    profile, own = _profile(name)
    if own is None:
        raise Http404(_("A built-in profile is copied and the copy is changed."))
    form = ControlForm(profile=profile, based_on=own.based_on)
    if request.method == "POST":
        with transaction.atomic():
            own = get_object_or_404(ControlProfile.objects.select_for_update(), pk=own.pk)
            form = ControlForm(request.POST, profile=queries.core_control(own), based_on=own.based_on)
            if _changed(request, own, form):
                return redirect("shop:control", form.profile.name)
    context = {
        "profile": profile,
        "own": own,
        "form": form,
        "machines": queries.machines_by_control().get(name, []),
        **_shared(request),
    }
    context["crumbs"] = [*context["crumbs"], (reverse("shop:control", args=[name]), profile.title)]
    is_wrong = form.errors or form.is_overtaken
    return render(request, "shop/control_change.html", context, status=422 if is_wrong else 200)


def _changed(request: HttpRequest, own: ControlProfile, form: ControlForm) -> bool:
    last = queries.control_changes(own).first()
    if not form.settled(last.changed_by if last else ""):
        return False
    by = signed_in(request)
    try:
        saved = done(
            form,
            lambda typed: control_actions.change_control(own, form.profile, reason=typed["reason"], by=by),
        )
    except InUse as refusal:
        form.add_error("name", str(refusal))
        return False
    if saved:
        messages.success(request, _("%(profile)s is saved.") % {"profile": form.profile.title})
    return saved


@require_POST
def remove(request: HttpRequest, name: str) -> HttpResponse:
    profile, own = _profile(name)
    if own is None:
        raise Http404(_("A built-in profile stays."))
    form = ReasonForm(request.POST)
    by = signed_in(request)
    try:
        if not done(form, lambda typed: control_actions.remove_control(own, **typed, by=by)):
            return _control_page(request, name, form, status=422)
    except InUse as refusal:
        messages.error(request, str(refusal))
        return redirect("shop:control", name)
    messages.success(request, _("%(row)s is removed.") % {"row": profile.title})
    return redirect("shop:controls")


@require_GET
def file(request: HttpRequest, name: str) -> HttpResponse:
    """The profile as a file, for another shop or for the command read_program."""
    profile, own = _profile(name)
    text = write_control(profile, based_on=own.based_on if own else profile.name)
    headers = {"Content-Disposition": f'attachment; filename="{name}.control.json"'}
    return HttpResponse(text, content_type="application/json; charset=utf-8", headers=headers)


@require_http_methods(["GET", "POST"])
def read(request: HttpRequest) -> HttpResponse:
    """Read a file: a new profile is taken at once; one that would change another is shown first."""
    form = ControlFileForm(request.POST, request.FILES) if request.method == "POST" else ControlFileForm()
    found = _found(form) if form.is_bound else None
    kept = ControlProfile.objects.filter(name=found.profile.name).first() if found else None
    by = signed_in(request)
    if found and (kept is None or form.cleaned_data["is_replacing"]):
        taken = done(
            form,
            lambda typed: control_actions.take_control_file(
                found, reason=typed["reason"], by=by, is_replacing=typed["is_replacing"]
            ),
        )
        if taken:
            messages.success(request, _("%(profile)s is saved.") % {"profile": found.profile.title})
            return redirect("shop:control", found.profile.name)
    context: dict[str, Any] = {"form": form, "found": found, "kept": kept, **_shared(request)}
    if found and kept:
        context["text"] = write_control(found.profile, based_on=found.based_on)
        context["changes"] = control_showing.would_change(queries.core_control(kept), found.profile)
    return render(request, "shop/control_read.html", context, status=422 if form.errors or kept else 200)


def _found(form: ControlFileForm) -> ControlFile | None:
    if not form.is_valid():
        return None
    try:
        return read_control(form.content())
    except Unreadable as refusal:
        form.add_error("file", str(refusal))
    return None
