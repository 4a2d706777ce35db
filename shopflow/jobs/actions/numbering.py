"""Setup and op numbers. Both are unique in a job, so rows that are there step aside before they are numbered."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import F

from shopflow.jobs.models import Setup, Step

ASIDE = 10_000
OP_STEP = 10


def renumber_setups(order: Sequence[Setup]) -> None:
    """Number setups 1, 2, 3 … and save the number of those that are stored; new ones are saved by the caller."""
    Setup.objects.filter(pk__in=[setup.pk for setup in order if setup.pk]).update(number=F("number") + ASIDE)
    for number, setup in enumerate(order, start=1):
        setup.number = number
        if setup.pk:
            setup.save(update_fields=["number"])


def renumber_steps(order: Sequence[Step]) -> None:
    """Number ops 10, 20, 30 …; a number that a person typed stays where it fits the order.

    Stored rows are set aside here; the caller saves all of them.
    """
    Step.objects.filter(pk__in=[step.pk for step in order if step.pk]).update(op_number=F("op_number") + ASIDE)
    before = 0
    for step in order:
        is_typed = "op_number" in step.fixed and step.op_number > before
        step.op_number = step.op_number if is_typed else next_op_number(before)
        before = step.op_number


def next_op_number(before: int) -> int:
    """The next full ten after an op number."""
    return (before // OP_STEP + 1) * OP_STEP
