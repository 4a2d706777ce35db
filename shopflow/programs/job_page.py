"""What the pages of a job show of its programs: the list, and signing several of them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.jobs.models import Job
from shopflow.people.access import Act, may
from shopflow.people.models import User
from shopflow.programs import proven as proofs
from shopflow.programs import queries
from shopflow.programs.findings_page import counts
from shopflow.programs.forms import SignOffForm
from shopflow.programs.models import Program, ProgramRevision
from shopflow.programs.proven import Proven
from shopflow.programs.queries import Reviewed


def crumbs(job: Job) -> list[tuple[str, str]]:
    return [(reverse("workflow:home"), _("Where it stands")), (job.get_absolute_url(), _("Job %s") % job.number)]


def stage_context(job: Job, user: User) -> dict[str, Any]:
    """For programs/_review_stage.html: the job's programs, how each stands, and the setups without one."""
    among = queries.Among.newest_of(job)
    programs = [_program_row(program, among.by_program.get(program.pk)) for program in among.today.programs]
    origin = {row["revision"].pk: row["revision"].repeats_id for row in programs if row["revision"]}
    proven = proofs.proven({*origin, *filter(None, origin.values())})
    return {
        "programs": [row | {"proven": _proof_of(row["revision"], proven)} for row in programs],
        "offers": queries.offers(job) if job.is_open else [],
        "setups_missing": queries.setups_without_program(job),
        "may_upload": may(user, Act.UPLOAD_PROGRAM) and job.is_open,
        "upload_url": reverse("programs:upload", args=[job.pk]),
        "list_url": reverse("programs:list", args=[job.pk]),
        "sign_all_url": _sign_all_url(job, user, programs),
    }


def _sign_all_url(job: Job, user: User, programs: list[dict[str, Any]]) -> str:
    """Where a reviewer signs several programs in one act; "" where fewer than two wait for it."""
    waiting = [row for row in programs if row["revision"] and not row["standing"].valid]
    return reverse("programs:sign_off_all", args=[job.pk]) if may(user, Act.SIGN_OFF) and len(waiting) > 1 else ""


def sign_all_context(job: Job, user: User, ticked: Collection[str] | None = None) -> dict[str, Any]:
    """For programs/sign_all.html. ticked: numbers of the revisions as they were sent; all that wait where None."""
    rows = queries.to_sign(job, by=user)
    waiting = [row for row in rows if not row.is_signed]
    return {
        "job": job,
        "crumbs": [*crumbs(job), (reverse("programs:list", args=[job.pk]), _("Programs"))],
        "signed": [row for row in rows if row.is_signed],
        "waiting": [(row, ticked is None or str(row.revision.pk) in ticked) for row in waiting],
        "is_reviewer": may(user, Act.SIGN_OFF),
        "is_some_ready": any(not row.why_not for row in waiting),
        "sign_form": SignOffForm(initial={"printed_name": user.full_name}),
    }


def _program_row(program: Program, seen: Reviewed | None) -> dict[str, Any]:
    """seen: its newest revision; None where nothing was sent."""
    row: dict[str, Any] = {
        "program": program,
        "revision": seen.revision if seen else None,
        "setups": [setup.number for setup in program.setups.all()],
    }
    if seen is not None:
        row |= {
            "standing": queries.standing_of(seen),
            "reading": seen.reading,
            "work": seen.review.work if seen.review else None,
            "counts": counts(seen.findings),
        }
    return row


def _proof_of(revision: ProgramRevision | None, proven: Mapping[int, Proven]) -> Proven | None:
    """Its own, else that of the revision that it was taken over from."""
    return (proven.get(revision.pk) or proven.get(revision.repeats_id or 0)) if revision else None
