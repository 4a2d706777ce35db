"""The intake of one job: its files, what the model says, its questions."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopflow.jobs import actions, pages, queries
from shopflow.jobs.forms.intake import AnswerForm, MaterialForm, PrintAndModelForm, QuestionForm, SolidForm, UploadForm
from shopflow.jobs.models import Job, JobFile, Question
from shopflow.jobs.views.answers import attempted, back_to, done, me, said
from shopflow.jobs.views.orders import crumbs_of
from shopflow.people import kept_files
from shopflow.people.pages import HtmxRequest, render_part
from shopflow.records.models import Work

SHOWN_IN_PLACE = ("application/pdf", "image/png", "image/jpeg")
"""What a browser shows by itself; anything else is handed over as a file to keep."""


HAS_MESH = (JobFile.Kind.MODEL, JobFile.Kind.BLANK)


def _intake(request: HtmxRequest, job: Job, **forms: Any) -> HttpResponse:
    """The intake as it is now, with forms that were not accepted as they were typed."""
    context = {"job": job, "crumbs": crumbs_of(job), **pages.intake_context(job, me(request)), **forms}
    is_wrong = any(form.errors for form in forms.values())
    return render_part(
        request, page="jobs/intake.html", part="jobs/_intake.html", context=context, status=422 if is_wrong else 200
    )


@require_GET
def intake(request: HtmxRequest, job_id: int) -> HttpResponse:
    return _intake(request, queries.job_for(me(request), job_id))


@require_POST
def upload(request: HttpRequest, job_id: int) -> HttpResponse:
    """Always answers with a redirect: the script that shows the progress follows it."""
    job = queries.job_for(me(request), job_id)
    form = UploadForm(request.POST, request.FILES)
    if done(
        form, lambda: actions.add_file(job, form.cleaned_data["file"], by=me(request), kind=form.cleaned_data["kind"])
    ):
        messages.success(request, _("“%s” is with the job now.") % form.cleaned_data["file"].name)
    said(request, form)
    return back_to(request, job, "intake")


@require_http_methods(["GET", "POST"])
def model(request: HtmxRequest, job_id: int) -> HttpResponse:
    """GET: what the model says, or how far its reading is. POST: read it again."""
    job = queries.job_for(me(request), job_id)
    if request.method == "POST":
        attempted(request, lambda: actions.ask_reading(job, by=me(request)))
        return back_to(request, job, "intake")
    context = {"job": job, "crumbs": crumbs_of(job), **pages.intake_context(job, me(request))}
    return render_part(request, page="jobs/intake.html", part="jobs/_model.html", context=context)


@require_http_methods(["GET", "POST"])
def views(request: HtmxRequest, job_id: int) -> HttpResponse:
    """GET: the line drawings, or how far they are; drawn by a worker when first asked. POST: try again."""
    job = queries.job_for(me(request), job_id)
    if request.method == "POST":
        attempted(request, lambda: actions.draw_again(job, by=me(request)))
        return back_to(request, job, "views")
    context = {"job": job, "crumbs": crumbs_of(job), **pages.views_context(job, me(request), actions.ask_drawing(job))}
    return render_part(request, page="jobs/views.html", part="jobs/_views.html", context=context)


@require_GET
def views_svg(request: HttpRequest, job_id: int) -> HttpResponse:
    """All views as one picture; with ?down=1 one under another, for a narrow screen. 204 while there is none."""
    job = queries.job_for(me(request), job_id)
    picture = queries.drawing_svg(job, across="down" not in request.GET, unit=me(request).units)
    if not picture:
        return HttpResponse(status=204)
    response = HttpResponse(picture, content_type="image/svg+xml")
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, max-age=0, must-revalidate"
    return response


@require_GET
def changes(request: HtmxRequest, job_id: int) -> HttpResponse:
    """What differs between an earlier model of the part and the present one; compared by a worker when first asked."""
    job = queries.job_for(me(request), job_id)
    others, present = queries.other_models(job), queries.current_file(job, JobFile.Kind.MODEL)
    base = queries.model_before(others, present, wanted=request.GET.get("before", ""))
    context: dict[str, Any] = {"job": job, "crumbs": crumbs_of(job), "others": others}
    if base and present:
        context |= pages.changes_context(job, base, present, actions.ask_comparison(base, present))
    return render_part(request, page="jobs/changes.html", part="jobs/_changes.html", context=context)


@require_GET
def mesh(request: HttpRequest, job_id: int) -> HttpResponse:
    """The mesh as the viewer reads it (core.solid.mesh); 204 while there is none."""
    return _mesh(queries.job_for(me(request), job_id).reading)


@require_GET
def faces(request: HttpRequest, job_id: int) -> JsonResponse:
    """What each face of the part is, in words, by its number: for the viewer."""
    user = me(request)
    return JsonResponse({"faces": pages.faces_in_words(queries.job_for(user, job_id), user)})


@require_GET
def model_mesh(request: HttpRequest, job_id: int, file_id: int) -> HttpResponse:
    """The mesh of one of the job's models, the present one or one that it superseded, or of the model of a blank."""
    job = queries.job_for(me(request), job_id)
    model_file = get_object_or_404(job.files.select_related("stored"), pk=file_id, kind__in=HAS_MESH)
    return _mesh(queries.work_of_model(model_file))


def _mesh(row: Work | None) -> HttpResponse:
    content = queries.mesh_in(row)
    if content is None:
        actions.remake_picture(row)
        return HttpResponse(status=204)
    response = HttpResponse(content, content_type="application/octet-stream")
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, max-age=0, must-revalidate"
    return response


@require_GET
def file(request: HttpRequest, job_id: int, file_id: int) -> HttpResponseBase:
    """The bytes of one of the job's files. Who may see the job may read it."""
    job = queries.job_for(me(request), job_id)
    kept = get_object_or_404(job.files.select_related("stored"), pk=file_id)
    is_shown = kept.stored.media_type in SHOWN_IN_PLACE
    media_type = kept.stored.media_type if is_shown else kept_files.BYTES
    return kept_files.sent(kept.stored, kept.name, media_type=media_type, is_shown=is_shown)


@require_POST
def confirm_unit(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    attempted(request, lambda: actions.confirm_unit(job, by=me(request)))
    return back_to(request, job, "intake")


@require_POST
def choose_solid(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = SolidForm(request.POST)
    done(form, lambda: actions.choose_solid(job, by=me(request), index=form.cleaned_data["solid"]))
    said(request, form)
    return back_to(request, job, "intake")


@require_http_methods(["GET", "POST"])
def questions(request: HtmxRequest, job_id: int) -> HttpResponse:
    """GET: the intake, which holds the questions. POST: one more."""
    job = queries.job_for(me(request), job_id)
    if request.method == "GET":
        return _intake(request, job)
    form = QuestionForm(request.POST)
    if done(form, lambda: actions.ask_question(job, by=me(request), **form.cleaned_data)):
        return back_to(request, job, "questions")
    return _intake(request, job, question_form=form)


@require_POST
def answer(request: HttpRequest, job_id: int, question_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    question = get_object_or_404(Question, job=job, pk=question_id)
    form = AnswerForm(request.POST)
    done(form, lambda: actions.answer_question(question, by=me(request), **form.cleaned_data))
    said(request, form)
    return back_to(request, job, "questions")


@require_POST
def material(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = MaterialForm(request.POST)
    done(form, lambda: actions.receive_material(job, by=me(request), **form.cleaned_data))
    said(request, form)
    return back_to(request, job, "intake")


@require_POST
def print_and_model(request: HtmxRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = PrintAndModelForm(request.POST)
    if done(form, lambda: actions.compare_print_and_model(job, by=me(request), **form.cleaned_data)):
        return back_to(request, job, "intake")
    return _intake(request, job, print_form=form)
