"""What the pages of program review show: one function a part, so that a part can be fetched alone."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.core.nc import offset_name
from shopflow.core.review import Weight
from shopflow.jobs.models import Job
from shopflow.people.access import Act, may
from shopflow.people.models import User
from shopflow.programs import proven as proofs
from shopflow.programs import queries, text_window
from shopflow.programs.forms import CutForm, DecideForm, EditForm, FilterForm, MadeWithForm, SignOffForm
from shopflow.programs.made_with import said_in
from shopflow.programs.models import Program, ProgramRevision
from shopflow.programs.over_part import drawn_over
from shopflow.programs.proven import Proven
from shopflow.programs.queries import Found, Reviewed
from shopflow.programs.removal_page import removal_context
from shopflow.records.models import Work
from shopflow.shop.models import Tool

MOST_BLOCKING = 20
MOST_SHOWN = 100
"""Findings on a page at once; the filter finds the rest."""


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


def counts(found: list[Found]) -> dict[str, int]:
    return {
        "must_fix": sum(finding.weight == Weight.MUST_FIX for finding in found),
        "open": sum(finding.is_open and finding.weight != Weight.MUST_FIX for finding in found),
        "decided": sum(finding.decision is not None and not finding.is_open for finding in found),
        "notes": sum(finding.weight == Weight.NOTE for finding in found),
        "all": len(found),
    }


def review_context(revision: ProgramRevision, user: User, asked: Mapping[str, str]) -> dict[str, Any]:
    """Everything that the review page of a revision shows."""
    job = revision.program.job
    seen = queries.Reviewed(revision)
    review = seen.review
    newest = queries.newest(revision.program)
    return {
        "job": job,
        "revision": revision,
        "program": revision.program,
        "setups": list(revision.program.setups.select_related("machine")),
        "newest": newest,
        "is_newest": newest == revision,
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
        **_proven_context(revision),
        **edits_context(seen, user),
        **removal_context(seen),
        **_findings_context(seen, user, asked),
        **_sign_context(seen, user),
        **lines_context(seen, asked),
        **_reading_context(seen, asked),
        **parts_context(seen, user),
    }


def _proof_of(revision: ProgramRevision | None, proven: Mapping[int, Proven]) -> Proven | None:
    """Its own, else that of the revision that it was taken over from."""
    return (proven.get(revision.pk) or proven.get(revision.repeats_id or 0)) if revision else None


def _proven_context(revision: ProgramRevision) -> dict[str, Any]:
    """For programs/_proven.html; of a program taken over from an earlier job, the proof is that job's."""
    each = proofs.on_each_machine({revision.pk, revision.repeats_id or revision.pk})
    found = each.get(revision.pk) or each.get(revision.repeats_id or 0) or []
    proof = proofs.on(found, next((setup.machine for setup in revision.program.setups.all() if setup.machine), None))
    return {
        "proven": proof,
        "also_proven": [one for one in found if one is not proof],
        "differs": queries.differs_since(revision, proof) if proof else [],
    }


def parts_context(seen: Reviewed, user: User, also_after: Collection[int] | None = None) -> dict[str, Any]:
    """For programs/_parts.html. also_after: lines behind which a part ends besides; those that are kept where None."""
    reading, program = seen.reading or {}, seen.revision.program
    is_newest = queries.newest(program) == seen.revision
    mains = [row for row in reading.get("programs", ()) if not row["is_called"]]
    may_cut = is_newest and program.job.is_open and may(user, Act.UPLOAD_PROGRAM)
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
    is_newest = queries.newest(program) == seen.revision
    return {
        "edits": edit_rows(seen, seen.edits),
        "own_edits": [],
        "own_waiting": [],
        "waiting": None,
        "ticked": (),
        "trial": None,
        "edit_form": EditForm(tools=(seen.reading or {}).get("tools", ()), units=user.units, auto_id="edit_%s"),
        "may_edit": may(user, Act.UPLOAD_PROGRAM) and program.job.is_open and is_newest,
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


def _findings_context(seen: Reviewed, user: User, asked: Mapping[str, str]) -> dict[str, Any]:
    revision = seen.revision
    sections = seen.reading["sections"] if seen.reading else []
    tools = sorted({section["tool"] for section in sections} - {0})
    setups = sorted({section["setup"] for section in sections} - {0})
    form = FilterForm(asked, tools=tools, setups=setups)
    everything = seen.findings
    shown = queries.findings(revision, form.wanted(), seen=seen)
    may_decide = may(user, Act.DECIDE) and queries.newest(revision.program) == revision
    return {
        "filter_form": form,
        "groups": _groups(shown),
        "not_shown": max(0, len(shown) - MOST_SHOWN),
        "is_filtered": len(shown) < len(everything),
        "counts": counts(everything),
        "may_decide": may_decide and bool(everything),
        "decide_form": DecideForm(),
        "marked": [],
        "reasons": queries.reasons_for(revision, [finding.code for finding in everything]) if may_decide else [],
    }


def _groups(found: list[Found]) -> list[dict[str, Any]]:
    """Findings by weight, then by setup and tool, in the order of the program; counted all, shown the first of them."""
    words = {Weight.MUST_FIX: _("Must be mended"), Weight.DECIDE: _("To decide"), Weight.NOTE: _("Notes")}
    shown = found[:MOST_SHOWN]
    return [
        {
            "weight": weight,
            "title": title,
            "count": sum(finding.weight == weight for finding in found),
            "parts": _parts([finding for finding in shown if finding.weight == weight]),
        }
        for weight, title in words.items()
        if any(finding.weight == weight for finding in shown)
    ]


def _parts(rows: list[Found]) -> list[dict[str, Any]]:
    """Findings of one weight by the place where they stand."""
    by_place: dict[tuple[int, int], list[Found]] = {}
    for row in rows:
        by_place.setdefault((row.setup, row.tool), []).append(row)
    return [{"title": _place(*place), "findings": found} for place, found in by_place.items()]


def _place(setup: int, tool: int) -> str:
    parts = [_("Setup %d") % setup if setup else "", f"T{tool}" if tool else ""]
    return ", ".join(part for part in parts if part) or _("The program as a whole")


def _sign_context(seen: Reviewed, user: User) -> dict[str, Any]:
    revision = seen.revision
    blocking = queries.blocking(revision, seen=seen)
    is_newest = queries.newest(revision.program) == revision
    return {
        "blocking": [_condition(item) for item in blocking[:MOST_BLOCKING]],
        "blocking_more": max(0, len(blocking) - MOST_BLOCKING),
        "may_sign": may(user, Act.SIGN_OFF) and is_newest and not blocking,
        "is_reviewer": may(user, Act.SIGN_OFF),
        "sign_form": SignOffForm(initial={"printed_name": user.full_name}),
        "sign_offs": list(revision.sign_offs.select_related("signed_by")),
    }


def _condition(item: queries.Blocking) -> dict[str, Any]:
    return {
        "text": item.reason,
        "met": False,
        "mend": f"#finding-{item.finding.pk}" if item.finding else "",
        "mend_text": _("Show it"),
    }


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
