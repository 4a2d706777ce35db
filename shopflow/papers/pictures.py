"""Line drawings of the part as it lies in a setup: along the spindle, and from a corner."""

from __future__ import annotations

import logging
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from shopflow.core import solid
from shopflow.core.errors import CoreError
from shopflow.core.planning import AXES
from shopflow.core.solid import View
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, JobFile
from shopflow.records import files

log = logging.getLogger(__name__)

Vector = tuple[float, float, float]


Turned = tuple[str, str]
"""What is up ("+Z", "-X" …) and what lies along X+, "" where nobody has said."""


@dataclass(frozen=True)
class Picture:
    """A drawing for one orientation, or in words why there is none."""

    flat: SafeString = SafeString("")
    corner: SafeString = SafeString("")
    why_not: str = ""


def pictures_for(job: Job, orientations: list[Turned]) -> dict[Turned, Picture]:
    """Pictures by orientation. A paper is printed without them rather than not at all, and says so."""
    model = jobs.current_file(job, JobFile.Kind.MODEL)
    if model is None:
        return dict.fromkeys(orientations, Picture(why_not=_("This job has no model.")))
    views = [view for up, along_x in orientations for view in views_of(up, along_x)]
    try:
        with files.path_of(model.stored) as path:
            drawings = solid.draw(path, views=views, solid_index=job.solid_index)
    except CoreError as refusal:
        log.warning("no picture of job %s: %s", job.number, refusal)
        return dict.fromkeys(orientations, Picture(why_not=str(refusal)))
    drawn = [mark_safe(solid.svg(drawing, show_hidden=False)) for drawing in drawings]
    pairs = zip(drawn[::2], drawn[1::2], strict=True)
    return {one: Picture(flat, corner) for one, (flat, corner) in zip(orientations, pairs, strict=True)}


def views_of(up: str, along_x: str) -> tuple[View, View]:
    """Along the spindle, X+ to the right as at the machine, and from a corner with the spindle's side on top."""
    standard = next(view for view in solid.STANDARD if _name(view.towards) == up)
    flat = View("flat", standard.towards, AXES[along_x]) if along_x else standard
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
