"""The line drawings of a job's model, out of the cache, as SVG."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _

from shopflow.core import solid
from shopflow.core.planning import group_holes
from shopflow.core.solid import Drawing, Reading, View
from shopflow.jobs.models import Job, JobFile
from shopflow.jobs.queries.intake import current_file
from shopflow.jobs.queries.model import reading_of
from shopflow.records import cache

DRAWING_VERSION = "2"
"""Raise it when a drawing of the same bytes would come out otherwise."""


STANDARD = tuple(solid.off_axis(view) if view.is_square else view for view in solid.STANDARD)
"""The standard views as they are drawn, see core.solid.off_axis."""


def view_key(sha256: str, solid_index: int | None, view: View) -> str:
    """The name in the cache of one view of a model; a view of another name that looks the same way is the same."""
    way = [round(1e6 * value) for value in (*view.towards, *view.flat_right)]
    return cache.key("view", sha256=sha256, solid=solid_index, way=way, version=DRAWING_VERSION)


def drawn(sha256: str, solid_index: int | None, views: Sequence[View]) -> list[Drawing | None]:
    """Each view out of the cache, None where it is not there."""
    kept = [cache.read(view_key(sha256, solid_index, view)) for view in views]
    return [
        replace(Drawing.from_json(json.loads(content)), view=view) if content else None
        for view, content in zip(views, kept, strict=True)
    ]


def has_drawings(job: Job) -> bool:
    """Whether the drawings of the job's present model are in the cache."""
    return bool(_drawings(job))


def drawing_svg(job: Job, *, across: bool, unit: str) -> str:
    """All views on one sheet, hidden lines removed; "" where they are not drawn yet. unit: "mm" or "in"."""
    drawings, reading = _drawings(job), reading_of(job)
    return sheet_of(drawings, reading, across=across, unit=unit) if drawings and reading else ""


def sheet_of(drawings: tuple[Drawing, ...], reading: Reading, *, across: bool, unit: str) -> str:
    """Drawings as one sheet: sizes of the part's box, and each size of hole with its number in the list of holes."""
    seen = _on_axes(drawings, reading)
    groups = [group.holes for group in group_holes(reading.holes)]
    return solid.sheet(seen, across=across, unit=unit, groups=groups, names=_names(), title=_("Views of the part"))


def _on_axes(drawings: tuple[Drawing, ...], reading: Reading) -> list[Drawing]:
    box = (reading.box_min_mm, reading.box_max_mm)
    return [
        solid.on_axis(drawing, view, box) if view.is_square else drawing
        for drawing, view in zip(drawings, solid.STANDARD, strict=True)
    ]


def balloon_svg(job: Job, *, across: bool, unit: str) -> str:
    """The sheet with the balloons of the characteristics where people placed them; "" where nothing is drawn yet."""
    seen = drawn_views(job)
    pointed: dict[str, list[solid.Pointed]] = {}
    for row in job.characteristics.exclude(view=""):
        if row.across is not None and row.down is not None:
            pointed.setdefault(row.view, []).append(solid.Pointed(str(row.number), row.across, row.down))
    title = _("Where each characteristic is measured")
    return solid.sheet(seen, across=across, unit=unit, names=_names(), title=title, pointed=pointed) if seen else ""


def drawn_views(job: Job) -> list[Drawing]:
    """The job's views as they stand on the sheet; none where they are not drawn yet."""
    drawings, reading = _drawings(job), reading_of(job)
    return _on_axes(drawings, reading) if drawings and reading else []


def view_names() -> dict[str, str]:
    """What each view is called."""
    return _names()


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


def _drawings(job: Job) -> tuple[Drawing, ...]:
    """The standard views of the job's present model; none where not all of them are in the cache."""
    model = current_file(job, JobFile.Kind.MODEL)
    kept = drawn(model.stored.sha256, job.solid_index, STANDARD) if model else []
    there = tuple(drawing for drawing in kept if drawing)
    return there if len(there) == len(kept) else ()
