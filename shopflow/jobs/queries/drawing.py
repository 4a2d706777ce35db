"""The line drawings of a job's model, out of the cache, as SVG."""

from __future__ import annotations

import json

from django.utils.translation import gettext as _

from shopflow.core import solid
from shopflow.core.planning import group_holes
from shopflow.core.solid import Drawing, Reading
from shopflow.jobs.models import Job, JobFile
from shopflow.jobs.queries.intake import current_file
from shopflow.jobs.queries.model import reading_of
from shopflow.records import cache

DRAWING_VERSION = "1"
"""Raise it when a drawing of the same bytes would come out otherwise."""


def drawing_key(sha256: str, solid_index: int | None) -> str:
    """The name in the cache of the standard views of a model."""
    return cache.key("drawings", sha256=sha256, solid=solid_index, version=DRAWING_VERSION)


def drawings_in(key: str) -> tuple[Drawing, ...]:
    """The drawings kept under a key; none where there are none."""
    content = cache.read(key)
    return tuple(Drawing.from_json(one) for one in json.loads(content)) if content else ()


def has_drawings(job: Job) -> bool:
    """Whether the drawings of the job's present model are in the cache."""
    key = _key(job)
    return bool(key) and cache.read(key) is not None


def drawing_svg(job: Job, *, across: bool, unit: str) -> str:
    """All views on one sheet, hidden lines removed; "" where they are not drawn yet. unit: "mm" or "in"."""
    key, reading = _key(job), reading_of(job)
    drawings = drawings_in(key) if key else ()
    return sheet_of(drawings, reading, across=across, unit=unit) if drawings and reading else ""


def sheet_of(drawings: tuple[Drawing, ...], reading: Reading, *, across: bool, unit: str) -> str:
    """Drawings as one sheet: sizes of the part's box, and each size of hole with its number in the list of holes."""
    box = (reading.box_min_mm, reading.box_max_mm)
    seen = []
    for drawing, view in zip(drawings, solid.STANDARD, strict=True):
        seen.append(solid.on_axis(drawing, view, box) if view.is_square else drawing)
    groups = [group.holes for group in group_holes(reading.holes)]
    return solid.sheet(seen, across=across, unit=unit, groups=groups, names=_names(), title=_("Views of the part"))


def _names() -> dict[str, str]:
    return {
        "front": _("front"),
        "back": _("back"),
        "left": _("left"),
        "right": _("right"),
        "top": _("top"),
        "bottom": _("bottom"),
        "isometric": _("isometric"),
    }


def _key(job: Job) -> str:
    model = current_file(job, JobFile.Kind.MODEL)
    return drawing_key(model.stored.sha256, job.solid_index) if model else ""
