"""Line drawings of the part: all its views, and as it lies in a setup, along the spindle and from a corner."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from shopflow.core import solid
from shopflow.core.errors import CoreError
from shopflow.core.orientation import SQUARE, Angles
from shopflow.core.planning import AXES, rotation
from shopflow.core.solid import Drawing, View
from shopflow.jobs import queries as jobs
from shopflow.jobs.actions import lines_of
from shopflow.jobs.models import Job, JobFile, Setup

log = logging.getLogger(__name__)

Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Picture:
    """A drawing for one setup, or in words why there is none. has_zero: whether its part zero is marked on it.
    is_quick: whether lines of it are those of the mesh."""

    flat: SafeString = SafeString("")
    corner: SafeString = SafeString("")
    has_zero: bool = False
    is_quick: bool = False
    why_not: str = ""


def pictures_for(job: Job, setups: Sequence[Setup]) -> list[Picture]:
    """A picture for each setup. A paper is printed without them rather than not at all, and says so."""
    model = jobs.current_file(job, JobFile.Kind.MODEL)
    if model is None:
        return [Picture(why_not=_("This job has no model."))] * len(setups)
    seats = list(dict.fromkeys(_seat(setup) for setup in setups))
    views = [_as_drawn(view) for seat in seats for view in views_of(*seat)]
    try:
        drawings = lines_of(model.stored, job.solid_index, views, is_hurried=True)
    except CoreError as refusal:
        log.warning("no picture of job %s: %s", job.number, refusal)
        return [Picture(why_not=str(refusal))] * len(setups)
    reading = jobs.reading_of(job)
    box = jobs.part_box(reading) if reading else None
    drawn = dict(zip(seats, zip(drawings[::2], drawings[1::2], strict=True), strict=True))
    pictures = []
    for setup in setups:
        flat, corner = drawn[_seat(setup)]
        pictures.append(_picture(setup, solid.on_axis(flat, views_of(*_seat(setup))[0], box), corner))
    return pictures


def _seat(setup: Setup) -> tuple[str, str, Angles]:
    return setup.up, setup.along_x, setup.angles


def _as_drawn(view: View) -> View:
    return solid.off_axis(view) if view.is_square else view


def drawing_for(job: Job) -> Picture:
    """All views of the part on one sheet, or in words why there are none; out of the cache where they were drawn."""
    model, reading = jobs.current_file(job, JobFile.Kind.MODEL), jobs.reading_of(job)
    if model is None or reading is None:
        return Picture(why_not=_("This job has no model.") if model is None else jobs.why_not_read(job))
    try:
        drawings = lines_of(model.stored, job.solid_index, jobs.STANDARD, is_hurried=True)
    except CoreError as refusal:
        log.warning("no drawing of job %s: %s", job.number, refusal)
        return Picture(why_not=str(refusal))
    unit = next((setup.blank_x.unit for setup in job.setups.all() if setup.blank_x), "mm")
    is_quick = any(not drawing.is_exact for drawing in drawings)
    return Picture(flat=mark_safe(jobs.sheet_of(drawings, reading, across=True, unit=unit)), is_quick=is_quick)


def _picture(setup: Setup, flat: Drawing, corner: Drawing) -> Picture:
    unit = setup.blank_x.unit if setup.blank_x else "mm"
    mark = zero_mark(flat, jobs.zero_mm(setup))
    seen = solid.svg(flat, show_hidden=False, unit=unit).removesuffix("</svg>")
    return Picture(
        flat=mark_safe(f"{seen}{mark}</svg>"),
        corner=mark_safe(solid.svg(corner, show_hidden=False, unit=unit)),
        has_zero=bool(mark),
        is_quick=not (flat.is_exact and corner.is_exact),
    )


def zero_mark(drawing: Drawing, zero: Vector | None) -> SafeString:
    """Part zero on a drawing along the spindle: a ring with a cross, X to the right and Y up; empty where it is not
    known, or not on the paper."""
    low, high = drawing.box()
    if zero is None:
        return SafeString("")
    across, along = drawing.view.place(zero)
    x, y = across - low[0], high[1] - along
    size = max(high[0] - low[0], high[1] - low[1]) / 100
    if not (-5 * size <= x <= high[0] - low[0] + 5 * size and -5 * size <= y <= high[1] - low[1] + 5 * size):
        return SafeString("")
    ring, arm = 2.2 * size, 9 * size
    return format_html(
        '<g class="zero" fill="none" stroke="#000" stroke-width="{}"><circle cx="{}" cy="{}" r="{}" fill="#fff"/>'
        '<path d="M{} {}H{}M{} {}V{}"/></g>'
        '<g font-size="{}" font-weight="600"><text x="{}" y="{}">X</text><text x="{}" y="{}">Y</text></g>',
        *(f"{number:.3f}" for number in (0.7 * size, x, y, ring, x - ring, y, x + arm, x, y + ring, y - arm)),
        *(f"{number:.3f}" for number in (5 * size, x + arm + size, y + 1.6 * size, x - 1.4 * size, y - arm - size)),
    )


def views_of(up: str, along_x: str, angles: Angles = SQUARE) -> tuple[View, View]:
    """Along the spindle, X+ to the right as at the machine, and from a corner with the spindle's side on top."""
    spindle, right = AXES[up], AXES[along_x] if along_x else _usual_right(AXES[up])
    if along_x and any(angles):
        rows = rotation(up, along_x, angles)
        spindle, right = _vector(rows[6:9]), _vector(rows[0:3])
    flat = View("flat", spindle, right)
    right, back = flat.flat_right, flat.up
    towards = tuple(s + r - b for s, r, b in zip(spindle, right, back, strict=True))
    across = tuple(r + b for r, b in zip(right, back, strict=True))
    return flat, View("corner", _vector(towards), _vector(across))


def _usual_right(spindle: Vector) -> Vector:
    return next(view.right for view in solid.STANDARD if view.towards == spindle)


def _vector(values: tuple[float, ...]) -> Vector:
    x, y, z = values
    return (x, y, z)
