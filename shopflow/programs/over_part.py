"""What the review page draws a program's motions over: the part and its blank, as they stand in the setup."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.core.nc import offset_name
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Setup
from shopflow.jobs.pages import blank_picture, picture_of
from shopflow.programs.models import ProgramRevision


def drawn_over(revision: ProgramRevision, offset: int) -> dict[str, Any]:
    """What the page draws the motions of one work offset over: mesh, placement and blank of the setup that has it.

    why_alone: in words, why the part cannot be drawn with them; "" where it is.
    """
    setups = list(revision.program.setups.filter(work_offset=offset).select_related("job__reading"))
    why = _why_alone(setups, offset_name(offset))
    if why:
        return {"mesh_url": "", "placement": "", "blank": "", "drawn_setup": None, "why_alone": why}
    setup = setups[0]
    reading = jobs.reading_of(setup.job)
    blank = jobs.blank_of(setup, reading) if reading else None
    return {
        "mesh_url": reverse("jobs:mesh", args=[setup.job_id]),
        "drawn_setup": setup,
        "why_alone": "",
        **picture_of(jobs.placement_of(setup), blank),
        **blank_picture(setup),
    }


def _why_alone(setups: list[Setup], offset: str) -> str:
    if not setups:
        return _("No setup of this program has the work offset %s.") % offset
    if len(setups) > 1:
        numbers = ", ".join(str(setup.number) for setup in setups)
        return _("Setups %(numbers)s share %(offset)s, and the part stands otherwise in each.") % {
            "numbers": numbers, "offset": offset,
        }  # fmt: skip
    if jobs.reading_of(setups[0].job) is None:
        return jobs.why_not_read(setups[0].job)
    if not setups[0].zero:
        return _("The plan does not say where on the model the part zero of setup %d is.") % setups[0].number
    return ""
