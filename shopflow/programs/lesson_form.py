"""What a person types who keeps a lesson."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.models import Job, Part, Stage
from shopflow.people.choosing import offer
from shopflow.programs import queries
from shopflow.shop.models import Material, Tool

MOST_PARTS = 300
"""Of open jobs, in the list of everything a lesson may be about."""
OPEN = [stage for stage in Stage if stage != Stage.CLOSED]


class LessonForm(forms.Form):
    """A lesson, and what it is about: of what the page is about, else of everything in the shop."""

    about_what = forms.ChoiceField(label=_("It is about"))
    text = forms.CharField(
        label=_("What was learned"), max_length=300, widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Shown at the next review and the next plan, such as: peck from 20 mm on."),
    )  # fmt: skip

    def __init__(
        self, *args: Any, row: Tool | Material | Part | None = None, job: Job | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.rows = dict(_lesson_rows(row, job))
        offer(self, "about_what", [(key, _lesson_label(one)) for key, one in self.rows.items()])

    @property
    def about(self) -> Tool | Material | Part:
        return self.rows[self.cleaned_data["about_what"]]


def _lesson_rows(row: Tool | Material | Part | None, job: Job | None) -> Iterator[tuple[str, Tool | Material | Part]]:
    rows: list[Tool | Material | Part]
    if row:
        rows = [row]
    elif job:
        rows = [job.part, *([job.material] if job.material else []), *queries.tools_of_job(job)]
    else:
        parts = Part.objects.filter(revisions__jobs__stage__in=OPEN).distinct()[:MOST_PARTS]
        rows = [*Tool.objects.order_by("number"), *Material.objects.all(), *parts]
    for one in rows:
        yield f"{type(one).__name__.lower()}-{one.pk}", one


def _lesson_label(row: Tool | Material | Part) -> str:
    words = {Tool: _now("the tool %s"), Material: _now("the material %s"), Part: _now("the part %s")}
    return words[type(row)] % row
