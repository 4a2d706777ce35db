"""What the review page of a program shows: one function a part, so that a part can be fetched alone."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.core.nc import offset_name
from shopflow.people.access import Act, may
from shopflow.people.models import User
from shopflow.programs import proven as proofs
from shopflow.programs import queries, text_window
from shopflow.programs.assumptions import machine_of
from shopflow.programs.findings_page import findings_context, sign_context
from shopflow.programs.forms import CutForm, EditForm, MadeWithForm
from shopflow.programs.job_page import crumbs
from shopflow.programs.made_with import said_in
from shopflow.programs.models import ProgramRevision
from shopflow.programs.over_part import drawn_over
from shopflow.programs.queries import Reviewed
from shopflow.programs.removal_page import removal_context
from shopflow.records.models import Work
from shopflow.shop.models import Tool


def review_context(revision: ProgramRevision, user: User, asked: Mapping[str, str]) -> dict[str, Any]:
    """Everything that the review page of a revision shows."""
    job = revision.program.job
    seen = queries.Reviewed(revision)
    review = seen.review
    return {
        "job": job,
        "revision": revision,
        "program": revision.program,
        "setups": seen.today.setups_of(revision.program_id),
        "newest": seen.today.newest.get(revision.program_id),
        "is_newest": seen.is_newest,
        "crumbs": [*crumbs(job), (reverse("programs:list", args=[job.pk]), _("Programs"))],
        "lessons": queries.lessons_for(revision),
        "review": review,
        "rule_set": queries.rule_set_of(review) if review else None,
        "work": review.work if review else None,
        "work_url": reverse("programs:work", args=[revision.pk]),
        "retry_url": reverse("programs:again", args=[revision.pk]) if may(user, Act.DECIDE) else "",
        "is_failed": review is not None and review.work.state == Work.State.FAILED,
        "standing": queries.standing_of(seen),
        "revisions": list(revision.program.revisions.select_related("uploaded_by", "stored")),
        "upload_url": _next_upload(revision) if may(user, Act.UPLOAD_PROGRAM) and job.is_open else "",
        "signed_revisions": queries.signed_revisions(revision.program),
        "base": queries.base_of(revision),
        "comparison": None,
        **_made_context(revision, user),
        **_proven_context(seen),
        **edits_context(seen, user),
        **removal_context(seen),
        **findings_context(seen, user, asked),
        **sign_context(seen, user),
        **lines_context(seen, asked),
        **_reading_context(seen, asked),
        **parts_context(seen, user),
    }


def _proven_context(seen: Reviewed) -> dict[str, Any]:
    """For programs/_proven.html; of a program taken over from an earlier job, the proof is that job's."""
    revision = seen.revision
    each = proofs.on_each_machine({revision.pk, revision.repeats_id or revision.pk})
    found = each.get(revision.pk) or each.get(revision.repeats_id or 0) or []
    proof = proofs.on(found, machine_of(seen.today.setups_of(revision.program_id)))
    return {
        "proven": proof,
        "also_proven": [one for one in found if one is not proof],
        "differs": queries.differs_since(seen, proof) if proof else [],
    }


def parts_context(seen: Reviewed, user: User, also_after: Collection[int] | None = None) -> dict[str, Any]:
    """For programs/_parts.html. also_after: lines behind which a part ends besides; those that are kept where None."""
    reading, program = seen.reading or {}, seen.revision.program
    mains = [row for row in reading.get("programs", ()) if not row["is_called"]]
    may_cut = seen.is_newest and program.job.is_open and may(user, Act.UPLOAD_PROGRAM)
    parts, cuts = queries.parts_of(seen, also_after), queries.cuts_of(seen.revision)
    return {
        "parts": parts,
        "cuts": cuts,
        "may_cut": may_cut and bool(reading),
        "may_part": may_cut and len(parts) > 1 and len(mains) < 2,
        "programs_in_file": reading.get("programs", ()),
        "may_split": len(mains) > 1 and may_cut,
        "setups_to_choose": program.job.setups.filter(manual_reason=""),
        "cut_form": CutForm(initial={"after": " ".join(map(str, cuts.lines)) if cuts else ""}),
    }


def edits_context(seen: Reviewed, user: User) -> dict[str, Any]:
    """For programs/_edits.html. trial: what the marked edits change together, once somebody looked (views.edits)."""
    program = seen.revision.program
    return {
        "edits": edit_rows(seen, seen.edits),
        "own_edits": [],
        "own_waiting": [],
        "waiting": None,
        "ticked": (),
        "trial": None,
        "edit_form": EditForm(tools=(seen.reading or {}).get("tools", ()), units=user.units, auto_id="edit_%s"),
        "may_edit": may(user, Act.UPLOAD_PROGRAM) and program.job.is_open and seen.is_newest,
    }


def edit_rows(seen: Reviewed, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Edits as programs/_edit.html shows them."""
    warnings = queries.warnings_of(rows, seen.inputs)
    return [
        row | {"shown_seconds": f"{abs(row['seconds']):.1f} s", "warnings": warnings.get(row["id"], ())} for row in rows
    ]


def _made_context(revision: ProgramRevision, user: User) -> dict[str, Any]:
    """For programs/_made_with.html; what a header says is offered while nobody said anything."""
    may_say = may(user, Act.UPLOAD_PROGRAM)
    asks = may_say and not revision.made_with and not revision.stored.is_withdrawn
    said = {"made_with": revision.made_with, "made_settings": revision.made_settings}
    return {
        "may_say_made": may_say,
        "header_says": said_in(queries.content(revision)) if asks else "",
        "made_form": MadeWithForm(said, auto_id="made_%s"),
        **queries.recent_makers(),
    }


def _next_upload(revision: ProgramRevision) -> str:
    return reverse("programs:upload", args=[revision.program.job_id]) + f"?program={revision.program_id}"


def lines_context(seen: Reviewed, asked: Mapping[str, str]) -> dict[str, Any]:
    """A window of the text around the line asked for."""
    line = asked.get("line", "")
    return {
        "revision": seen.revision,
        "window": text_window.window(seen, int(line[:9]) if line.isdigit() else 0),
    }


def _reading_context(seen: Reviewed, asked: Mapping[str, str]) -> dict[str, Any]:
    revision, reading = seen.revision, seen.reading
    if reading is None:
        return {"reading": None}
    offsets = list(dict.fromkeys(section["offset"] for section in reading["sections"] if section["offset"]))
    return {
        "reading": reading,
        "bar": _time_bar(reading["sections"]),
        "tools": _tool_rows(revision, reading),
        **_drawing_context(seen, asked, offsets),
    }


def _drawing_context(seen: Reviewed, asked: Mapping[str, str], offsets: list[int]) -> dict[str, Any]:
    """One work offset is drawn at a time: each has a zero of its own, and the part stands otherwise in each."""
    chosen = next((offset for offset in offsets if str(offset) == asked.get("offset")), offsets[0] if offsets else 0)
    return {
        "drawings": [{"offset": offset, "name": offset_name(offset)} for offset in offsets],
        "drawn": chosen,
        "drawing_url": reverse("programs:path", args=[seen.revision.pk, chosen]) if offsets else "",
        "stock_url": reverse("programs:stock", args=[seen.revision.pk, chosen]) if seen.removal else "",
        "deviation_url": reverse("programs:deviation", args=[seen.revision.pk, chosen]) if seen.removal else "",
        **drawn_over(seen.revision, chosen),
    }


BAR_WIDTH = 1000
LETTERS = 9
"""Width of a letter in the bar's own units, for deciding whether a name fits."""


def _time_bar(sections: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Each section with its place in a bar 1000 wide."""
    total = sum(section["seconds"] for section in sections) or 1.0
    at, bar = 0.0, []
    for number, section in enumerate(sections):
        width = section["seconds"] / total * BAR_WIDTH
        label = f"T{section['tool']}"
        bar.append(
            section
            | {"x": f"{at:.2f}", "width": f"{width:.2f}", "middle": f"{at + width / 2:.2f}", "shade": number % 3,
               "label": label if width > LETTERS * len(label) + 6 else ""}
        )  # fmt: skip
        at += width
    return bar


def _tool_rows(revision: ProgramRevision, reading: dict[str, Any]) -> list[dict[str, Any]]:
    """The program's tools in order of use, then those of the plan that it does not call."""
    planned = {
        row.tool.number: row
        for setup in revision.program.setups.all()
        for row in setup.setup_tools.select_related("tool")
    }  # noqa: E501
    called = reading["tools"]
    numbers = [*called, *(number for number in planned if number not in called)]
    crib = {tool.number: tool for tool in Tool.objects.filter(number__in=numbers).select_related("holder")}
    return [
        {
            "number": number,
            "tool": crib.get(number),
            "purpose": planned[number].purpose if number in planned else "",
            "is_called": number in called,
            "is_planned": number in planned,
            "seconds": sum(s["seconds"] for s in reading["sections"] if s["tool"] == number),
            "lowest_z": min(
                (s["lowest_z"] for s in reading["sections"] if s["tool"] == number and s["lowest_z"] is not None),
                default=None,
            ),  # noqa: E501
        }
        for number in numbers
    ]
