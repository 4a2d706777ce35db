"""What was learned at the machines: about a part, a material or a tool; shown at the next review and the next plan."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet

from shopflow.jobs.learned import Learned
from shopflow.jobs.models import Job, SetupTool
from shopflow.programs.models import Lesson, ProgramRevision
from shopflow.shop.models import Tool

MOST = 20
"""The newest of them."""


def lessons_for(revision: ProgramRevision) -> list[Lesson]:
    """For a review: about the part, its material and the tools that the program calls, newest first."""
    return _lessons(revision.program.job, Tool.objects.filter(number__in=revision.called).values_list("pk", flat=True))


def learned_for(job: Job) -> list[Learned]:
    """For a plan: about the part, its material and the tools of its setups."""
    tools = SetupTool.objects.filter(setup__job=job).values_list("tool", flat=True)
    return [_learned(lesson) for lesson in _lessons(job, tools)]


def _learned(lesson: Lesson) -> Learned:
    job = lesson.revision.program.job.number
    return Learned(lesson.text, lesson.about_words, str(lesson.noted_by), lesson.noted_at, job)


def tools_of(revision: ProgramRevision) -> list[Tool]:
    """The crib's tools that a lesson from this program may be about."""
    return list(Tool.objects.filter(number__in=revision.called).order_by("number"))


def _lessons(job: Job, tools: QuerySet[Any, Any]) -> list[Lesson]:
    """A lesson about a tool or material of which nobody said which one is the part's."""
    of_part = Q(part=job.part, tool=None, material=None)
    wanted = of_part | Q(tool__in=tools)
    if job.material_id:
        wanted |= Q(material=job.material_id)
    rows = Lesson.objects.filter(wanted).select_related("noted_by", "revision__program__job", "tool", "material")
    return list(rows[:MOST])
