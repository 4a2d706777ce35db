"""What the pages and fragments of this app show; the job page includes the same fragments with the same context."""

from __future__ import annotations

from typing import Any

from shopflow.core.planning.holes import group_holes
from shopflow.jobs import queries
from shopflow.jobs.forms.intake import AnswerForm, MaterialForm, QuestionForm
from shopflow.jobs.models import Job, JobFile, Stage
from shopflow.people.access import Act, may
from shopflow.people.models import User

MOST_HOLE_ROWS = 60


def intake_context(job: Job, user: User) -> dict[str, Any]:
    """What jobs/_intake.html shows beside `job`."""
    reading = queries.reading_of(job)
    files = queries.files_of(job)
    groups = group_holes(reading.holes) if reading else []
    return {
        "may_edit": may(user, Act.EDIT_JOB) and job.is_open,
        "is_on_floor": job.stage == Stage.FLOOR,
        "model_file": _newest(files, JobFile.Kind.MODEL),
        "drawing_file": _newest(files, JobFile.Kind.DRAWING),
        "files": files,
        "work": queries.reading_work(job),
        "reading": reading,
        "mass_kg": queries.part_mass_kg(job, reading) if reading else None,
        "hole_groups": groups[:MOST_HOLE_ROWS],
        "hole_groups_left": max(0, len(groups) - MOST_HOLE_ROWS),
        "questions": queries.questions_of(job),
        "question_form": QuestionForm(),
        "answer_form": AnswerForm(),
        "material_form": MaterialForm(initial={"heat_number": job.heat_number, "received": job.material_received}),
    }


def _newest(files: list[JobFile], kind: str) -> JobFile | None:
    return next((file for file in files if file.kind == kind), None)
