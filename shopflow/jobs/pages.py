"""What the pages and fragments of this app show; the job page includes the same fragments with the same context."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.planning import directions_along_x, rotation
from shopflow.core.planning.holes import group_holes
from shopflow.core.solid import Comparison, FaceFacts, Hole, Reading
from shopflow.core.types import Box, Placement
from shopflow.jobs import queries
from shopflow.jobs.forms.intake import AnswerForm, MaterialForm, PrintAndModelForm, QuestionForm
from shopflow.jobs.forms.plan import NewStepForm
from shopflow.jobs.learned import learned
from shopflow.jobs.models import Job, JobFile, Setup, Stage
from shopflow.jobs.templatetags.part import HOWS, face_kind
from shopflow.people.access import Act, may
from shopflow.people.models import User
from shopflow.people.templatetags.ui import in_units
from shopflow.records.models import Work

MOST_HOLE_ROWS = 60
MOST_CHANGED_ROWS = 120
SHIFT_MM = 0.005
"""A model that lies elsewhere by less lies in the same place."""
NOTHING = Decimal(0)


def intake_context(job: Job, user: User) -> dict[str, Any]:
    """What jobs/_intake.html shows beside `job`."""
    reading = queries.reading_of(job)
    files = queries.files_of(job)
    groups = group_holes(reading.holes) if reading else []
    revisions = queries.revisions_of(job)
    return {
        "may_edit": may(user, Act.EDIT_JOB) and job.is_open,
        "is_on_floor": job.stage == Stage.FLOOR,
        "model_file": _newest(files, JobFile.Kind.MODEL),
        "drawing_file": _newest(files, JobFile.Kind.DRAWING),
        "files": files,
        "blanks": _blanks(files),
        "work": queries.reading_work(job),
        "other_models": queries.other_models(job),
        "reading": reading,
        "mass_kg": queries.part_mass_kg(job, reading) if reading else None,
        "hole_groups": groups[:MOST_HOLE_ROWS],
        "hole_groups_left": max(0, len(groups) - MOST_HOLE_ROWS),
        "revisions": revisions,
        "orientations": _orientations(job),
        "print_form": PrintAndModelForm(
            initial={
                "print_revision": revisions.print_,
                "model_revision": revisions.model,
                "threads": job.threads,
                "settled": job.revisions_settled,
            }
        ),
        "guesses_threads": any(group.first.thread_guess for group in groups),
        "questions": queries.questions_of(job),
        "question_form": QuestionForm(),
        "answer_form": AnswerForm(),
        "material_form": MaterialForm(initial={"heat_number": job.heat_number, "received": job.material_received}),
    }


def faces_in_words(job: Job, user: User) -> list[str]:
    """For each face of the model its kind, size and the feature it belongs to; none while there is no reading."""
    reading = queries.reading_of(job)
    if reading is None:
        return []
    holes = [(face, hole) for group in group_holes(reading.holes) for hole in group.holes for face in hole.faces]
    features = {face: _("hole %s") % _hole_words(hole, user.units) for face, hole in holes}
    for pocket in reading.pockets:
        deep = in_units(pocket.depth_mm, user.units, 2)
        words = _("pocket or step, %(deep)s %(unit)s deep") % {"deep": deep, "unit": user.units}
        features |= dict.fromkeys(pocket.faces, words)
    return [_face_words(face, features.get(face.index, ""), user.units) for face in reading.faces]


def _hole_words(hole: Hole, units: str) -> str:
    size = f"\u2300 {in_units(hole.diameter_mm, units, 3)} {units}"
    return f"{size}, {_('through')}" if hole.through else f"{size} \u00d7 {in_units(hole.depth_mm, units, 3)} {units}"


def _face_words(face: FaceFacts, feature: str, units: str) -> str:
    radius = f", R {in_units(face.radius_mm, units, 3)} {units}" if face.radius_mm else ""
    said = f"{face_kind(face)}{radius}"
    return f"{face.index + 1}: {said}; {feature}." if feature else f"{face.index + 1}: {said}."


def _orientations(job: Job) -> list[dict[str, str]]:
    """How the part stands in each setup, as the viewer's buttons take it."""
    found = []
    for setup in job.setups.all():
        right = setup.along_x or directions_along_x(setup.up)[0]
        rows = rotation(setup.up, right, setup.angles)
        label = _("Setup %d") % setup.number
        found.append({"label": label, "up": _numbers(rows[6:9]), "right": _numbers(rows[0:3])})
    return found


def views_context(job: Job, user: User, row: Work | None) -> dict[str, Any]:
    """What jobs/_views.html shows beside `job`. row: the drawing as long work."""
    reading = queries.reading_of(job)
    groups = group_holes(reading.holes) if reading else []
    is_done = row is not None and row.state == Work.State.DONE and row.result is not None
    exact = (row.result or {}).get("views", {}) if row else {}
    return {
        "work": row,
        "may_edit": may(user, Act.EDIT_JOB) and job.is_open,
        "is_drawn": is_done,
        "quick_views": sum(not is_exact for is_exact in exact.values()),
        "reading": reading,
        "hole_groups": groups[:MOST_HOLE_ROWS],
        "hole_groups_left": max(0, len(groups) - MOST_HOLE_ROWS),
    }


def changes_context(job: Job, base: JobFile, present: JobFile, row: Work) -> dict[str, Any]:
    """What jobs/_changes.html shows beside `job`. row: their comparison, or the reading that it waits for."""
    context: dict[str, Any] = {"model_file": present, "base": base, "work": row}
    found = queries.comparison_in(row)
    before, after = (queries.reading_in(queries.work_of_model(model)) for model in (base, present))
    if found is None or before is None or after is None:
        return context
    changed = queries.changed_model(job, found, before, after)
    return context | {
        "found": found,
        "old_shift": _numbers(found.shift_mm),
        "is_elsewhere": any(abs(way) > SHIFT_MM for way in found.shift_mm),
        "changed": changed,
        "items": changed.items[:MOST_CHANGED_ROWS],
        "items_left": max(0, len(changed.items) - MOST_CHANGED_ROWS),
        "marks": _marks(found),
    }


def _marks(found: Comparison) -> list[dict[str, Any]]:
    """What the viewer colours and letters, as _viewer.html takes it; what is gone is drawn from the older model."""
    faces = found.faces
    new = {
        "moved": [other for _, other in faces.moved],
        "changed": [other for _, other in faces.changed],
        "added": list(faces.added),
    }
    marks = [_mark(how, new=numbers, old=[]) for how, numbers in new.items()]
    return [*marks, _mark("gone", new=[], old=list(faces.gone))]


def _mark(how: str, *, new: list[int], old: list[int]) -> dict[str, Any]:
    word, letter = HOWS[how]
    return {"name": how, "word": word, "letter": letter, "new": new, "old": old, "count": len(new) + len(old)}


def plan_context(job: Job, user: User) -> dict[str, Any]:
    """What jobs/_plan.html shows beside `job`."""
    steps = queries.steps_of(job)
    approval = queries.approval_of(job)
    plan_hash = queries.plan_hash(job)
    is_approved = queries.is_plan_approved(job, plan_hash)
    setups = queries.setups_with_lacks(job, is_approved=is_approved)
    proposal, rows = queries.proposal_of(job, units=user.units), [setup for setup, _lacks in setups]
    characteristics = queries.characteristics_of(job)
    minutes_setup = sum((step.minutes_setup or NOTHING for step in steps), NOTHING)
    minutes_each = sum((step.minutes_each or NOTHING for step in steps), NOTHING)
    return {
        "learned": learned(job),
        "may_plan": may(user, Act.PLAN) and job.stage not in (Stage.FLOOR, Stage.CLOSED),
        "steps": steps,
        "breakdown": queries.breakdown_of(job, steps, rows),
        "minutes_setup": minutes_setup,
        "minutes_each": minutes_each,
        "job_seconds": float(60 * (minutes_setup + job.quantity * minutes_each)),
        "setups": setups,
        "is_lacking": any(lacks for _, lacks in setups),
        "proposal": proposal,
        "setup_notes": queries.setup_notes(proposal, rows) if proposal else [],
        "cut_apart": queries.cut_apart(proposal, rows) if proposal else [],
        "why_not_planned": "" if job.no_model_reason else queries.why_not_planned(job),
        "tools_wanted": queries.tools_lacking(job, units=user.units),
        "left_out": queries.left_out_words(job),
        "needed_by": queries.needed_by(job) if steps else None,
        "characteristics": characteristics,
        "gauge_advice": queries.gauge_advice(characteristics, on=timezone.localdate()),
        "aims": queries.aims_of(characteristics),
        "unassigned": queries.unassigned_characteristics(job).count(),
        "plan_hash": plan_hash,
        "earlier": queries.earlier_jobs(job),
        "picks": queries.picks_of(job),
        "supplied": queries.supplied_of(job),
        "blank_file": queries.blank_file_of(job),
        "approval": approval,
        "other_models": queries.other_models(job),
        "is_approved": is_approved,
        "new_step_form": NewStepForm(job=job),
    }


def setup_picture(setup: Setup, reading: Reading | None) -> dict[str, Any]:
    """What the viewer of jobs/setup.html is given: the part as it stands, the blank around it, axes at the zero.

    While the zero is not known the part is drawn in the model's own coordinates, and is_placed says so.
    """
    placed = queries.placement_of(setup)
    return {
        "mesh_url": reverse("jobs:mesh", args=[setup.job_id]) if reading else "",
        "is_placed": placed is not None,
        **picture_of(placed, queries.blank_of(setup, reading) if reading else None),
        **blank_picture(setup),
    }


def blank_picture(setup: Setup) -> dict[str, str]:
    """How the viewer's fragment draws the blank, where it is no box: a round's axis, or the mesh of its model."""
    blank = setup.blank_file
    along = setup.blank_round and not blank
    return {
        "blank_round": str("XYZ".index(setup.blank_round)) if along else "",
        "blank_mesh_url": reverse("jobs:model_mesh", args=[setup.job_id, blank.pk]) if blank else "",
    }


def picture_of(placed: Placement | None, blank: Box | None) -> dict[str, str]:
    """Placement and blank as the viewer's fragment takes them: twelve and six numbers, mm; "" where not known."""
    return {
        "placement": _numbers((*placed.rotation, *placed.origin_mm)) if placed else "",
        "blank": _numbers((*blank[0], *blank[1])) if blank else "",
    }


def _numbers(values: Iterable[float]) -> str:
    return " ".join(f"{value:.6g}" for value in values)


def _blanks(files: list[JobFile]) -> list[dict[str, Any]]:
    """Models of blanks, each with what it says, or why it says nothing yet."""
    return [
        {
            "file": file,
            "reading": queries.reading_in(queries.work_of_model(file)),
            "why_not": queries.why_not_a_blank(file),
        }
        for file in files
        if file.kind == JobFile.Kind.BLANK
    ]


def _newest(files: list[JobFile], kind: str) -> JobFile | None:
    return next((file for file in files if file.kind == kind), None)
