"""What a removal of material is computed from, gathered from the rows; or what is missing for it."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, Setup
from shopflow.programs.inputs import Inputs
from shopflow.programs.models import Program, ProgramRevision
from shopflow.programs.simulating import VERSION, Asked, Place
from shopflow.records import work

SIMULATION = "simulation"


@dataclass(frozen=True)
class Lacking:
    """Why material removal is not computed, one sentence, and the page that mends it."""

    why: str
    mend_url: str = ""


def asked_of(revision: ProgramRevision, inputs: Inputs) -> Asked | Lacking:
    """What to compute for a revision as the rows say today."""
    job = revision.program.job
    setups = list(revision.program.setups.select_related("job__reading"))
    reading = jobs.reading_of(job)
    if reading is None:
        return Lacking(jobs.why_not_read(job), job.get_absolute_url())
    lacking = _lacking(setups, inputs)
    if lacking:
        return lacking
    assert inputs.machine is not None
    places = []
    for setup in setups:
        placement, blank = jobs.placement_of(setup), jobs.blank_of(setup, reading)
        if placement is None or blank is None:
            return _not_placed(setup, placement is None)
        places.append(Place(setup.number, setup.work_offset, placement, blank))
    return Asked(
        inputs.content,
        jobs.mesh_key(job),
        _key_before(revision, setups[0]),
        inputs.machine,
        inputs.tools,
        tuple(places),
    )


def _lacking(setups: list[Setup], inputs: Inputs) -> Lacking | None:
    if not setups:
        return Lacking(_("The program runs no setup of the plan."))
    if inputs.machine is None:
        return Lacking(_("Setup %d names no machine.") % setups[0].number, _page(setups[0]))
    if not inputs.tools:
        return Lacking(_("None of the tools that the program calls is in the crib."), _tools_page())
    offsets = [setup.work_offset for setup in setups]
    twice = next((setup for setup in setups if offsets.count(setup.work_offset) > 1), None)
    if twice:
        said = {"offset": twice.work_offset_code}
        return Lacking(
            _("Several setups of this program share %(offset)s: which line cuts in which cannot be told.") % said,
            _page(twice),
        )
    return None


def _not_placed(setup: Setup, is_zero: bool) -> Lacking:
    if is_zero:
        text = _("The plan does not say where on the model the part zero of setup %d is.")
    else:
        text = _("The plan does not say how large the blank of setup %d is and how far it stands over the part.")
    return Lacking(text % setup.number, _page(setup))


def _tools_page() -> str:
    return reverse("shop:tools")


def _page(setup: Setup) -> str:
    return reverse("jobs:setup", args=[setup.pk])


def _key_before(revision: ProgramRevision, first: Setup) -> str:
    """The work that computes what this program starts from; "" where it starts from the blank."""
    from shopflow.programs.inputs import inputs_of

    before = _program_before(revision.program.job, first)
    newest = before.revisions.select_related("stored", "program__job__reading").first() if before else None
    if newest is None:
        return ""
    asked = asked_of(newest, inputs_of(newest))
    return "" if isinstance(asked, Lacking) else work.key_of(SIMULATION, asked.plain, version=VERSION)


def _program_before(job: Job, first: Setup) -> Program | None:
    """The program whose setups all lie before this one and come nearest to it."""
    found = None
    for program in job.programs.prefetch_related("setups"):
        last = max((setup.number for setup in program.setups.all()), default=first.number)
        if last < first.number and (found is None or last > found[0]):
            found = last, program
    return found[1] if found else None
