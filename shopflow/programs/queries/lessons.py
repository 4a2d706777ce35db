"""What was learned at the machines: about a part, a material or a tool; shown at the next review and the next plan."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import Q, QuerySet

from shopflow.jobs.learned import Learned
from shopflow.jobs.models import Job, Part, SetupTool
from shopflow.programs.models import Lesson, ProgramRevision
from shopflow.shop.learned import Told
from shopflow.shop.models import Material, Tool

MOST = 20
"""The newest of them."""
MOST_LISTED = 300


def lessons_for(revision: ProgramRevision) -> list[Lesson]:
    """For a review: about the part, its material and the tools that the program calls, newest first."""
    return _lessons(revision.program.job, Tool.objects.filter(number__in=revision.called).values_list("pk", flat=True))


def learned_for(job: Job) -> list[Learned]:
    """For a plan: about the part, its material and the tools of its setups."""
    tools = SetupTool.objects.filter(setup__job=job).values_list("tool", flat=True)
    return [_learned(lesson) for lesson in _lessons(job, tools)]


def _learned(lesson: Lesson) -> Learned:
    job = lesson.from_job
    return Learned(lesson.text, lesson.about_words, str(lesson.noted_by), lesson.noted_at, job.number if job else "")


def lessons_about(row: Tool | Material | Part, *, retired: bool = False) -> list[Lesson]:
    """Those that hold about one tool, material or part, or those that were retired; newest first."""
    of_part = {"tool": None, "material": None} if isinstance(row, Part) else {}
    field = {Tool: "tool", Material: "material", Part: "part"}[type(row)]
    return list(_rows(retired).filter(**{field: row}, **of_part)[:MOST_LISTED])


def lessons_of_job(job: Job, *, retired: bool = False) -> list[Lesson]:
    """Those about the part, its material, and the tools of its setups and of its programs."""
    return list(_rows(retired).filter(_of(job, [tool.pk for tool in tools_of_job(job)]))[:MOST_LISTED])


def all_lessons(*, retired: bool = False) -> list[Lesson]:
    return list(_rows(retired)[:MOST_LISTED])


def told_of(row: Any) -> list[Told]:
    """For the page of a tool or a material of the shop."""
    if not isinstance(row, (Tool, Material)):
        return []
    return [Told(one.text, str(one.noted_by), one.noted_at) for one in lessons_about(row)]


def tools_of_job(job: Job) -> list[Tool]:
    called = {number for one in ProgramRevision.objects.filter(program__job=job) for number in one.called}
    planned = SetupTool.objects.filter(setup__job=job).values("tool")
    return list(Tool.objects.filter(Q(number__in=called) | Q(pk__in=planned)).order_by("number"))


def tools_of(revision: ProgramRevision) -> list[Tool]:
    """The crib's tools that a lesson from this program may be about."""
    return list(Tool.objects.filter(number__in=revision.called).order_by("number"))


def _lessons(job: Job, tools: QuerySet[Any, Any]) -> list[Lesson]:
    """A lesson about a tool or material of which nobody said which one is the part's."""
    return list(_rows(retired=False).filter(_of(job, tools))[:MOST])


def _of(job: Job, tools: Iterable[Any]) -> Q:
    wanted = Q(part=job.part, tool=None, material=None) | Q(tool__in=tools)
    return wanted | Q(material=job.material_id) if job.material_id else wanted


def _rows(retired: bool) -> QuerySet[Lesson]:
    rows = Lesson.objects.filter(retired_at__isnull=not retired)
    return rows.select_related("noted_by", "retired_by", "revision__program__job", "job", "part", "tool", "material")
