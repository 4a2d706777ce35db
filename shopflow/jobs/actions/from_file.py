"""Setups of a plan taken from a setup file, as a person saw them beside the plan."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.review.setup_values import SetupFile
from shopflow.jobs.actions.locked import job_off_the_floor
from shopflow.jobs.actions.setups import add_setup, add_tool, add_touch, change_setup
from shopflow.jobs.models import Job
from shopflow.jobs.queries.from_file import FromFile
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger


@transaction.atomic
def take_setups(
    job: Job, said: SetupFile, *, by: User, numbers: Collection[int], seen: str, file: str = ""
) -> list[int]:
    """Write the setups of these numbers as the file says them; give the numbers that were written.

    seen: `FromFile.state` of what the person was shown; where the plan is another one now, nothing is written. file:
    SHA-256 of the file, for the history.
    """
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    beside = FromFile(now, said)
    if beside.state != seen:
        raise NotPossible(_("The plan was changed while this page was open. Look at it again; nothing was taken."))
    taken = [block for block in beside.blocks if block.number in numbers and not block.is_same]
    if not taken:
        raise NotPossible(_("Tick the setups to take."))
    new = [block.number for block in beside.blocks if block.setup is None]
    if [one.number for one in taken if one.setup is None] != new[: sum(one.setup is None for one in taken)]:
        raise NotPossible(_("Setups are numbered in a row: take the new ones before it too."))
    for block in taken:
        setup = block.setup or add_setup(now, by=by)
        change_setup(setup, by=by, **block.typed)
        for tool in block.tools:
            add_tool(setup, by=by, tool=tool)
        for reason, after in block.touches:
            add_touch(setup, by=by, reason=reason, after_tool=after)
    written = [block.number for block in taken]
    ledger.append("setups_from_file", chain=now.chain, subject=("job", now.pk), by=by, setups=written, file=file)
    return written
