"""Part zeros for a setup whose plan says none: where the program's drilled places fall on the model's holes."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.errors import CoreError, NotPossible
from shopflow.core.planning.directions import AXES, name_of
from shopflow.core.planning.placement import Standing, turn_back
from shopflow.core.solid import Reading
from shopflow.core.stock.zero import Proposal, find_zero
from shopflow.core.types import Vector
from shopflow.jobs import actions as job_actions
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Setup
from shopflow.people.models import User
from shopflow.programs import queries, reviewing
from shopflow.programs.inputs import inputs_of
from shopflow.programs.models import ProgramRevision

MOST_OFFERS = 12
HEIGHTS = {
    "depths": gettext_lazy("from the depths of blind holes"),
    "part top": gettext_lazy("top of the part, which fits every through hole"),
    "part bottom": gettext_lazy("bottom of the part, which fits every through hole"),
}


@dataclass(frozen=True)
class Offer:
    """One zero that fits. up, along_x: directions of the model ("+Z"). zero_mm: the point of the model. words: what X0,
    Y0 and Z0 lie on. height_from: in words, "" where nothing says how high Z0 is.
    """

    up: str
    along_x: str
    zero_mm: Vector
    words: str
    matched: int
    drilled: int
    residual_mm: float
    depth_fits: int
    height_from: str

    @property
    def key(self) -> str:
        return " ".join([self.up, self.along_x, *(f"{value:.3f}" for value in self.zero_mm)])

    @property
    def numbers(self) -> str:
        return " ".join(f"{name} {value:.3f}" for name, value in zip("XYZ", self.zero_mm, strict=True))


@dataclass(frozen=True)
class Offers:
    """offers: those that fit best and equally well. why_none: in words, "" where there are some. other_sides: whether
    sides other than the one that the plan has up were looked at.
    """

    offers: tuple[Offer, ...]
    why_none: str = ""
    other_sides: bool = False


def offers_for(revision: ProgramRevision, setup: Setup, *, units: str) -> Offers:
    """Zeros under which what the program drills in the setup's work offset falls on holes of the model.

    The side that the plan has up is tried first, then all six.
    """
    reading = jobs.reading_of(setup.job)
    if reading is None:
        return Offers((), jobs.why_not_read(setup.job))
    if not reading.holes:
        return Offers((), _("The model has no hole to find the zero by."))
    if setup.is_aslant:
        return Offers((), _("Zeros are looked for where the part stands by right angles. Type this one on the plan."))
    inputs = inputs_of(revision)
    try:
        program = reviewing.read(inputs, queries.content(revision))
    except CoreError as refusal:
        return Offers((), str(refusal))
    tools, box = {tool.number: tool for tool in inputs.tools}, jobs.part_box(reading)
    for ups in ((AXES[setup.up],), None):
        found = find_zero(
            program.motions, reading.holes, box, tools=tools or None, work_offset=setup.work_offset, ups=ups
        )
        if not found.drilled:
            said = {"offset": setup.work_offset_code}
            return Offers((), _("The program drills nothing in %(offset)s: nothing says where its zero is.") % said)
        if found.proposals:
            offers = tuple(_offer(one, setup, reading, units) for one in found.proposals[:MOST_OFFERS])
            return Offers(offers, other_sides=ups is None)
    words = _("The %d drilled places fall on no pattern of the model's holes: another model, or another part.")
    return Offers((), words % found.drilled)


def take_offer(revision: ProgramRevision, setup: Setup, key: str, *, by: User) -> Setup:
    """Write the zero of this key into the plan. Raises NotPossible where it fits no longer, or its height is open."""
    found = offers_for(revision, setup, units=by.units)
    offer = next((one for one in found.offers if one.key == key), None)
    if offer is None:
        raise NotPossible(_("This zero fits no longer: the program, the plan or the model was changed. Look again."))
    if not offer.height_from:
        raise NotPossible(_("Nothing says how high Z0 is. Type the zero on the setup's page."))
    x, y, z = (job_actions.typed_place(value, by.units) for value in offer.zero_mm)
    return job_actions.change_setup(setup, by=by, up=offer.up, along_x=offer.along_x, zero_x=x, zero_y=y, zero_z=z)


def _offer(found: Proposal, setup: Setup, reading: Reading, units: str) -> Offer:
    rows, origin = found.placement.rotation, found.placement.origin_mm
    up, along = name_of((rows[6], rows[7], rows[8])), name_of((rows[0], rows[1], rows[2]))
    assert up and along  # only square ways to stand are tried
    zero = turn_back(rows, (-origin[0], -origin[1], -origin[2]))
    rounded = (round(zero[0], 3) + 0.0, round(zero[1], 3) + 0.0, round(zero[2], 3) + 0.0)
    references = Standing(up, along, jobs.part_box(reading), None, reading.holes).references(rounded)
    assert references  # as above
    return Offer(
        up=up,
        along_x=along,
        zero_mm=rounded,
        words=jobs.in_words(references, units),
        matched=found.matched,
        drilled=found.drilled,
        residual_mm=found.residual_mm,
        depth_fits=found.depth_fits,
        height_from=str(HEIGHTS.get(found.height_from, "")),
    )
