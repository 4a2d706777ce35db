"""Pages for what the floor set: a photo sent in at the op, and all that was noted for a job."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from shopflow.floor import as_run, as_run_actions
from shopflow.floor.as_run_forms import PhotoForm
from shopflow.floor.delivery import key_of
from shopflow.floor.models import AsRun
from shopflow.floor.views import lot_and_step, op_url
from shopflow.jobs import queries as jobs
from shopflow.jobs.views.answers import done, me
from shopflow.people import kept_files
from shopflow.people.answers import problems, refuse


@require_POST
def photo(request: HttpRequest, lot_id: int, step_id: int) -> HttpResponse:
    """A photo of the setup, which needs the network; everything else about it may wait on the device."""
    lot, step = lot_and_step(lot_id, step_id)
    form = PhotoForm(request.POST, request.FILES)
    if form.is_valid() and done(
        form,
        lambda: as_run_actions.note_photo(
            lot, step, form.cleaned_data["photo"], by=me(request), text=form.cleaned_data["text"], key=key_of(request)
        ),
    ):
        messages.success(request, _("The photo is kept."))
    else:
        refuse(request, problems(form), form)
    return redirect(op_url(lot, step))


@require_GET
def picture(request: HttpRequest, as_run_id: int) -> HttpResponseBase:
    """The photo that was kept with a record."""
    found = get_object_or_404(AsRun.objects.select_related("photo"), pk=as_run_id)
    if found.photo is None:
        raise Http404
    response = kept_files.sent(found.photo, f"as-run-{found.pk}", media_type=found.photo.media_type, is_shown=True)
    response["Cache-Control"] = "private, max-age=86400"
    return response


@require_GET
def of_job(request: HttpRequest, job_id: int) -> HttpResponse:
    """Everything that was set for a job, newest first."""
    job = jobs.job_for(me(request), job_id)
    context = {
        "job": job,
        "records": as_run.of_job(job),
        "missing": as_run.missing_in(job),
        "crumbs": [
            (reverse("workflow:home"), _("Where it stands")),
            (job.get_absolute_url(), _("Job %s") % job.number),
        ],
    }
    return render(request, "floor/as_run_of_job.html", context)
