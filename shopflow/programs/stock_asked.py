"""What a removal of material is computed from, gathered from the rows; or what is missing for it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.review.house_rules import CUT_KEYS
from shopflow.core.solid import Reading
from shopflow.core.stock.compare_plan import OtherSetups
from shopflow.core.types import Vector
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Setup, Threads
from shopflow.programs.inputs import Inputs, inputs_of
from shopflow.programs.models import ProgramRevision
from shopflow.programs.simulating import VERSION, Asked, Place
from shopflow.programs.today import Today
from shopflow.records import work

SIMULATION = "simulation"


@dataclass(frozen=True)
class Lacking:
    """Why material removal is not computed, one sentence, and the page that mends it.

    zero_of: the setup whose zero can be looked for in what the program drills, None for none.
    """

    why: str
    mend_url: str = ""
    zero_of: Setup | None = None


def asked_of(revision: ProgramRevision, today: Today | None = None) -> Asked | Lacking:
    """What to compute for a revision as the rows say today. today: of its job, where it was read already."""
    today = today or Today.of(revision)
    job, inputs = today.job, today.once(inputs_of, revision)
    setups = today.setups_of(revision.program_id)
    if today.reading is None:
        return Lacking(jobs.why_not_read(job), job.get_absolute_url())
    lacking = _lacking(setups, inputs)
    if lacking:
        return lacking
    assert inputs.machine is not None
    before, known = _before(today, setups[0])
    places = _places(revision.program_id, today, today.reading, known)
    if isinstance(places, Lacking):
        return places
    blank_model = jobs.blank_work(setups[0])
    return Asked(
        inputs.content,
        jobs.mesh_key(job),
        job.reading.key if job.reading else "",
        before,
        inputs.machine,
        inputs.tools,
        tuple(places),
        {key: inputs.changed_rules[key] for key in CUT_KEYS if key in inputs.changed_rules},
        material=inputs.material,
        own_data=inputs.own_data,
        shows_majors=job.threads == Threads.MAJOR,
        blank=blank_model.key if blank_model else "",
    )


def _places(program_id: int, today: Today, reading: Reading, known: frozenset[int]) -> list[Place] | Lacking:
    """Where the part stands in each setup of a program. known: numbers of the setups cut before it."""
    places = []
    for setup in today.setups_of(program_id):
        if why_no_blank := jobs.why_no_blank_model(setup):
            return Lacking(why_no_blank, _page(setup))
        try:
            blank, holding = jobs.blank_range_of(setup, reading), jobs.holding_of(setup, reading)
        except NotPossible as why:
            return Lacking(str(why), _page(setup))
        placement = jobs.placement_of(setup)
        if placement is None or blank is None:
            return _not_placed(setup, placement is None)
        others = _others(program_id, setup, today, known)
        form = jobs.blank_form(setup)
        places.append(Place(setup.number, setup.work_offset, placement, *blank, others, holding, form))
        known = known | {setup.number}
    return places


def _others(program_id: int, setup: Setup, today: Today, known: frozenset[int]) -> OtherSetups:
    """The job's other setups as one of them sees them. known: numbers of those whose cuts are in its stock.

    Where another program runs this setup too, nobody can say what that one cuts: it is one of the others.
    """
    before, later, unknown = list[Setup](), list[Setup](), list[Setup]()
    for other in today.setups:
        if other.number == setup.number:
            if today.is_run_by_another(other, program_id):
                unknown.append(other)
        elif other.number > setup.number:
            later.append(other)
        else:
            (before if other.number in known else unknown).append(other)
    return OtherSetups(later=_ups(later), known=_ups(before), unknown=_ups(unknown))


def _ups(setups: Iterable[Setup]) -> tuple[Vector, ...]:
    """What looks up in each. Which way it is turned about that matters to nobody here."""
    return tuple(dict.fromkeys(jobs.looks_up(setup) for setup in setups))


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
    return Lacking(text % setup.number, _page(setup), setup if is_zero else None)


def _tools_page() -> str:
    return reverse("shop:crib")


def _page(setup: Setup) -> str:
    return reverse("jobs:setup", args=[setup.pk])


def _before(today: Today, first: Setup) -> tuple[str, frozenset[int]]:
    """The work that computes what a program starts from, and the setups whose cuts are in that; "" and none where it
    starts from the blank. first: of the setups that it runs."""
    newest = _revision_before(today, first)
    asked = today.once(asked_of, newest) if newest else None
    if newest is None or asked is None or isinstance(asked, Lacking):
        return "", frozenset()
    known = frozenset(place.number for place in asked.places)
    _, further = _before(today, today.setups_of(newest.program_id)[0])
    return work.key_of(SIMULATION, asked.plain, version=VERSION), known | further


def earlier_revisions(revision: ProgramRevision, today: Today | None = None) -> list[ProgramRevision]:
    """The newest revisions of the programs whose cuts are in what this one starts from, in their order."""
    today = today or Today.of(revision)
    newest = _revision_before(today, today.setups_of(revision.program_id)[0])
    if newest is None or isinstance(today.once(asked_of, newest), Lacking):
        return []
    return [*earlier_revisions(newest, today), newest]


def _revision_before(today: Today, first: Setup) -> ProgramRevision | None:
    """The newest of the program whose setups all lie before this one and come nearest to it."""
    ends = [(setups[-1].number, program) for program in today.programs if (setups := today.setups_of(program.pk))]
    before = [(last, program) for last, program in ends if last < first.number]
    nearest = max(before, key=lambda found: found[0], default=None)
    return today.newest.get(nearest[1].pk) if nearest else None
