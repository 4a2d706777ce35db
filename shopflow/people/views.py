"""Logging in and out, the list of people, one's own page."""

from __future__ import annotations

import segno
from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopflow.people import actions, log_in, queries, sessions
from shopflow.people.access import Act, may
from shopflow.people.forms import (
    ChangedPersonForm,
    GivenPasswordForm,
    LogInForm,
    NewPersonForm,
    OwnPasswordForm,
    OwnPinForm,
    StationLogInForm,
    UnitsForm,
    done,
)
from shopflow.people.models import User
from shopflow.people.sessions import signed_in


def _crumbs() -> list[tuple[str, str]]:
    return [(reverse("people:list"), _("People"))]


def _onwards(request: HttpRequest, otherwise: str) -> HttpResponse:
    """To the page the person wanted before logging in, when it is one of ours."""
    wanted = request.POST.get("next") or request.GET.get("next", "")
    if url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure()):
        return redirect(wanted)
    return redirect(otherwise)


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def log_in_by_password(request: HttpRequest) -> HttpResponse:
    form = LogInForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            user = log_in.by_password(request, **form.cleaned_data)
        except log_in.LogInRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            sessions.log_in_at_desk(request, user)
            return _onwards(request, "workflow:home")
    context = {
        "form": form,
        "next": request.POST.get("next") or request.GET.get("next", ""),
        "nobody_yet": queries.nobody_yet(),
    }
    return render(request, "people/log_in.html", context, status=422 if form.errors else 200)


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def log_in_by_badge(request: HttpRequest) -> HttpResponse:
    form = StationLogInForm(request.POST if request.method == "POST" else None)
    if form.is_valid() and form.cleaned_data["pin"]:
        try:
            user = log_in.by_badge(request, code=form.cleaned_data["badge"], pin=form.cleaned_data["pin"])
        except log_in.LogInRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            sessions.log_in_at_station(request, user)
            return _onwards(request, "floor:stations")
    if form.has_badge:
        form.ask_for_pin()
    context = {
        "form": form,
        "next": request.POST.get("next") or request.GET.get("next", ""),
        "minutes": sessions.STATION_SECONDS // 60,
    }
    return render(request, "people/station_log_in.html", context, status=422 if form.errors else 200)


@login_not_required
@require_POST
def log_out(request: HttpRequest) -> HttpResponse:
    """End the session, and go back to the way of logging in that belongs to the device."""
    came_by_badge = sessions.BADGE in request.session
    logout(request)
    return redirect("people:station_log_in" if came_by_badge else "people:log_in")


@require_GET
def list_people(request: HttpRequest) -> HttpResponse:
    return render(
        request, "people/list.html", {"people": queries.people(), "may_edit": may(request.user, Act.EDIT_PEOPLE)}
    )


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    form = NewPersonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and done(form, lambda typed: actions.add_person(**typed, by=signed_in(request))):
        messages.success(request, _("%(name)s can log in now.") % {"name": form.cleaned_data["full_name"]})
        return redirect("people:list")
    return render(request, "people/add.html", {"form": form, "crumbs": _crumbs()}, status=422 if form.errors else 200)


def _as_kept(person: User) -> dict[str, object]:
    """What the form of a person shows."""
    return {
        "username": person.username,
        "full_name": person.full_name,
        "roles": sorted(person.roles),
        "is_active": person.is_active,
    }


def _edit_page(request: HttpRequest, person: User, status: int = 200, **shown: object) -> HttpResponse:
    context = {
        "person": person,
        "crumbs": _crumbs(),
        "form": ChangedPersonForm(initial=_as_kept(person)),
        "password_form": GivenPasswordForm(),
        **shown,
    }
    return render(request, "people/edit.html", context, status=status)


@require_http_methods(["GET", "POST"])
def edit(request: HttpRequest, person_id: int) -> HttpResponse:
    person = get_object_or_404(User, pk=person_id)
    if request.method == "GET":
        return _edit_page(request, person)
    with transaction.atomic():
        person = get_object_or_404(User.objects.select_for_update(), pk=person_id)
        form = ChangedPersonForm(request.POST, initial=_as_kept(person))
        saved_by = queries.last_to(["person_changed", "roles_changed"], subject=("person", person.pk))
        if form.settled(saved_by) and done(
            form, lambda typed: actions.change_person(person, **typed, by=signed_in(request))
        ):
            messages.success(request, _("%(name)s is changed.") % {"name": form.cleaned_data["full_name"]})
            return redirect("people:list")
    return _edit_page(request, person, status=422, form=form)


@sensitive_post_parameters()
@require_POST
def give_password(request: HttpRequest, person_id: int) -> HttpResponse:
    person = get_object_or_404(User, pk=person_id)
    form = GivenPasswordForm(request.POST)
    if done(form, lambda typed: actions.give_password(person, **typed, by=signed_in(request))):
        messages.success(request, _("%(name)s has a new password.") % {"name": person})
        return redirect("people:list")
    return _edit_page(request, person, status=422, password_form=form)


@never_cache
@require_POST
def issue_badge(request: HttpRequest, person_id: int) -> HttpResponse:
    """Show the new badge once; only its digest is kept."""
    person = get_object_or_404(User, pk=person_id)
    code = actions.issue_badge(person, by=signed_in(request))
    drawn = segno.make_qr(code, error="m").svg_inline(scale=6, border=4, omitsize=False)
    context = {"person": person, "code": code, "drawn": mark_safe(drawn), "crumbs": _crumbs()}
    return render(request, "people/badge.html", context)


@require_POST
def take_badge(request: HttpRequest, person_id: int) -> HttpResponse:
    person = get_object_or_404(User, pk=person_id)
    actions.take_badge(person, by=signed_in(request))
    messages.success(request, _("%(name)s has no badge now.") % {"name": person})
    return redirect("people:edit", person.pk)


def _own_page(request: HttpRequest, status: int = 200, **shown: object) -> HttpResponse:
    context = {
        "units_form": UnitsForm(initial={"units": signed_in(request).units}),
        "password_form": OwnPasswordForm(),
        "pin_form": OwnPinForm(),
        **shown,
    }
    return render(request, "people/me.html", context, status=status)


@require_GET
def me(request: HttpRequest) -> HttpResponse:
    return _own_page(request)


@require_POST
def my_units(request: HttpRequest) -> HttpResponse:
    form = UnitsForm(request.POST)
    if done(form, lambda typed: actions.change_units(**typed, by=signed_in(request))):
        messages.success(request, _("Your pages show these units now."))
        return redirect("people:me")
    return _own_page(request, status=422, units_form=form)


@sensitive_post_parameters()
@require_POST
def my_password(request: HttpRequest) -> HttpResponse:
    form = OwnPasswordForm(request.POST)
    had_temporary = signed_in(request).password_is_temporary
    if done(form, lambda typed: actions.change_password(**typed, by=signed_in(request))):
        update_session_auth_hash(request, signed_in(request))
        messages.success(request, _("Your password is changed; other devices are logged out."))
        return redirect("workflow:home" if had_temporary else "people:me")
    return _own_page(request, status=422, password_form=form)


@sensitive_post_parameters()
@require_POST
def my_pin(request: HttpRequest) -> HttpResponse:
    form = OwnPinForm(request.POST)
    if done(form, lambda typed: actions.change_pin(**typed, by=signed_in(request))):
        messages.success(request, _("Your PIN is changed."))
        return redirect("people:me")
    return _own_page(request, status=422, pin_form=form)
