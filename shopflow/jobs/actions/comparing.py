"""Two models of one part, compared by a worker."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core import solid
from shopflow.core.errors import NotPossible
from shopflow.jobs import queries
from shopflow.jobs.actions.files import reading_of_model
from shopflow.jobs.models import JobFile
from shopflow.records import work
from shopflow.records.models import Work

COMPARISON = "compare_models"
"""Kind of the long work that compares two readings."""
COMPARISON_VERSION = "1"
"""Raise it when a comparison of the same readings would come out otherwise."""


def ask_comparison(before: JobFile, after: JobFile) -> Work:
    """What is to be waited for: the reading of one of the models, then their comparison; from before where it is there.

    A reading that failed comes back as it is, with its reason.
    """
    readings = [reading_of_model(model) for model in (before, after)]
    for row in readings:
        if row.state != Work.State.DONE:
            return row
    inputs = {"before": readings[0].key, "after": readings[1].key}
    with transaction.atomic():
        return work.ask(COMPARISON, inputs, version=COMPARISON_VERSION, subject=("file", after.stored_id))


def compare_models(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Compare the two readings that a piece of work names; the result is the comparison."""
    progress(10, _("Comparing the two models"))
    before, after = (
        queries.reading_in(Work.objects.filter(key=row.data[name]).first()) for name in ("before", "after")
    )
    if before is None or after is None:
        raise NotPossible(_("One of the two models was read again meanwhile. Open the comparison once more."))
    return solid.compare(before, after).to_json()
