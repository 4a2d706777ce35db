"""Signing a program off."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from shopflow.jobs.views.answers import done, me
from shopflow.people import log_in
from shopflow.people.pages import HtmxRequest
from shopflow.programs import actions, queries
from shopflow.programs.forms import SignOffForm
from shopflow.programs.models import ProgramRevision
from shopflow.programs.views.review import whole


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def sign_off(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """GET: what is missing, or the form. POST: sign the exact bytes off."""
    revision = queries.revision_for(me(request), revision_id)
    if request.method == "GET":
        return whole(request, revision, part="programs/_sign_off.html")
    form = SignOffForm(request.POST)
    if _signed(request, revision, form):
        messages.success(request, _("Signed off: exactly these bytes, under today's plan and tools."))
        return redirect("programs:revision", revision.pk)
    return whole(request, revision, part="programs/_sign_off.html", sign_form=form)


def _signed(request: HttpRequest, revision: ProgramRevision, form: SignOffForm) -> bool:
    try:
        return done(form, lambda: actions.sign_off(
            revision, by=me(request), address=request.META.get("REMOTE_ADDR", ""), **form.cleaned_data))  # fmt: skip
    except log_in.LogInRefused as refusal:
        form.add_error("password", str(refusal))
        return False
