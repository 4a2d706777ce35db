"""Line drawings of the part as it lies in a setup: along the spindle, and from a corner."""

from __future__ import annotations

import logging
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from shopflow.core import solid
from shopflow.core.errors import CoreError
from shopflow.core.solid import View
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, JobFile
from shopflow.records import files

log = logging.getLogger(__name__)

Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Picture:
    """A drawing for one orientation, or in words why there is none."""

    flat: SafeString = SafeString("")
    corner: SafeString = SafeString("")
    why_not: str = ""


def pictures_for(job: Job, orientations: list[str]) -> dict[str, Picture]:
    """Pictures by orientation ("+Z", "-X" …). A paper is printed without them rather than not at all, and says so."""
    model = jobs.current_file(job, JobFile.Kind.MODEL)
    if model is None:
        return dict.fromkeys(orientations, Picture(why_not=_("This job has no model.")))
    views = [view for up in orientations for view in views_of(up)]
    try:
        with files.path_of(model.stored) as path:
            drawings = solid.draw(path, views=views, solid_index=job.solid_index)
    except CoreError as refusal:
        log.warning("no picture of job %s: %s", job.number, refusal)
        return dict.fromkeys(orientations, Picture(why_not=str(refusal)))
    drawn = [mark_safe(solid.svg(drawing, show_hidden=False)) for drawing in drawings]
    return {up: Picture(flat, corner) for up, flat, corner in zip(orientations, drawn[::2], drawn[1::2], strict=True)}


def views_of(up: str) -> tuple[View, View]:
    """Along the spindle, and from a corner with the spindle's side on top."""
    flat = next(view for view in solid.STANDARD if _name(view.towards) == up)
    spindle, right, back = flat.towards, flat.flat_right, flat.up
    towards = tuple(s + r - b for s, r, b in zip(spindle, right, back, strict=True))
    across = tuple(r + b for r, b in zip(right, back, strict=True))
    return flat, View("corner", _vector(towards), _vector(across))


def _name(direction: Vector) -> str:
    """Axis and sign of a direction along an axis, as Direction names it."""
    axis = max(range(3), key=lambda i: abs(direction[i]))
    return f"{'+' if direction[axis] > 0 else '-'}{'XYZ'[axis]}"


def _vector(values: tuple[float, ...]) -> Vector:
    x, y, z = values
    return (x, y, z)
