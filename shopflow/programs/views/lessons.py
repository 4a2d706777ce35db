"""What was learned at the machines: all of it or of one tool, material, part or job; keeping more, retiring what no
longer holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, Part
from shopflow.jobs.views.answers import attempted, done, me
from shopflow.people.access import Act, may
from shopflow.programs import actions, queries
from shopflow.programs.lesson_form import LessonForm
from shopflow.programs.models import Lesson
from shopflow.shop.models import Material, Tool

ROWS: dict[str, type[Tool] | type[Material] | type[Part]] = {"tool": Tool, "material": Material, "part": Part}


@dataclass(frozen=True)
class Asked:
    """What the page is about, from its address: one row, or a job with all that is cut in it, or everything."""

    row: Tool | Material | Part | None = None
    job: Job | None = None
    back: str = ""

    @property
    def query(self) -> str:
        name = next((key for key, kind in ROWS.items() if isinstance(self.row, kind)), "")
        given = {name: self.row.pk if self.row else "", "job": self.job.pk if self.job else "", "back": self.back}
        return urlencode({key: value for key, value in given.items() if key and value})

    def lessons(self, *, retired: bool) -> list[Lesson]:
        if self.row:
            return queries.lessons_about(self.row, retired=retired)
        if self.job:
            return queries.lessons_of_job(self.job, retired=retired)
        return queries.all_lessons(retired=retired)


@require_http_methods(["GET", "POST"])
def lessons(request: HttpRequest) -> HttpResponse:
    asked = _asked(request, request.GET)
    form = LessonForm(request.POST if request.method == "POST" else None, row=asked.row, job=asked.job)
    if request.method == "POST" and done(form, lambda: _keep(request, form, asked)):
        messages.success(request, _("Kept. The next review and the next plan are told of it."))
        return redirect(asked.back or f"{reverse('programs:lessons')}?{asked.query}")
    return _page(request, asked, form)


def _keep(request: HttpRequest, form: LessonForm, asked: Asked) -> Lesson:
    return actions.keep_lesson(form.about, form.cleaned_data["text"], by=me(request), job=asked.job)


@require_POST
def retire(request: HttpRequest, lesson_id: int) -> HttpResponse:
    lesson, asked = get_object_or_404(Lesson, pk=lesson_id), _asked(request, request.GET)
    if attempted(request, lambda: actions.retire_lesson(lesson, request.POST.get("reason", ""), by=me(request))):
        messages.success(request, _("Retired. It stays in this list with the reason."))
    return redirect(f"{reverse('programs:lessons')}?{asked.query}")


def _page(request: HttpRequest, asked: Asked, form: LessonForm) -> HttpResponse:
    context: dict[str, Any] = {
        "asked": asked,
        "form": form,
        "lessons": asked.lessons(retired=False),
        "retired": asked.lessons(retired=True),
        "may_keep": may(request.user, Act.KEEP_LESSON),
        "crumbs": _crumbs(asked),
    }
    return render(request, "programs/lessons.html", context, status=422 if form.errors else 200)


def _crumbs(asked: Asked) -> list[tuple[str, str]]:
    if asked.job:
        return [(reverse("jobs:list"), _("Jobs")), (asked.job.get_absolute_url(), asked.job.number)]
    if isinstance(asked.row, (Tool, Material)):
        key = "crib" if isinstance(asked.row, Tool) else "materials"
        page = reverse(f"shop:{key}_row", args=[asked.row.pk])
        return [(reverse(f"shop:{key}"), _("Crib & shop")), (page, str(asked.row))]
    return [(reverse("programs:came_in"), _("Programs as they came"))]


def _asked(request: HttpRequest, given: QueryDict) -> Asked:
    back = given.get("back", "")
    is_ours = url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure())
    row: Any = None
    for name, kind in ROWS.items():
        if name in given:
            row = get_object_or_404(kind, pk=_number(given.get(name, "")))
    job = jobs.job_for(me(request), _number(given.get("job", ""))) if "job" in given else None
    return Asked(row, job, back if is_ours else "")


def _number(text: str) -> int:
    if not text.isascii() or not text.isdecimal() or len(text) > 15:
        raise Http404
    return int(text)
