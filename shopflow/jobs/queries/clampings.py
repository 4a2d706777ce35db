"""Which of the job's setups is which of those that a plan proposes.

A straight one by the side that is up. A tilted one by the direction that it was proposed for, or by standing in it:
somebody may have set it up by hand before the plan proposed it.
"""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.core.planning import AXES, Proposal, SetupProposal, directions_along_x, is_same_way, rotation
from shopflow.core.types import Vector
from shopflow.jobs.models import Setup


def laid_out(proposal: Proposal, rows: Sequence[Setup]) -> dict[int, Setup]:
    """By the number in the proposal, the job's setup; none for one that was taken out or is new. Each row is one."""
    free = list(rows)
    found: dict[int, Setup] = {}
    for wanted in sorted(proposal.setups, key=lambda one: one.tilted is None):
        row = _tilted(wanted, free) if wanted.tilted else _straight(wanted, free)
        if row is not None:
            found[wanted.number] = row
            free = [other for other in free if other is not row]
    return found


def looks_up(setup: Setup) -> Vector:
    """The direction of the model that looks to the spindle, in the model's axes."""
    if not setup.is_aslant:
        return AXES[setup.up]
    x, y, z = rotation(setup.up, setup.along_x or directions_along_x(setup.up)[0], setup.angles)[6:9]
    return x, y, z


def _tilted(wanted: SetupProposal, rows: Sequence[Setup]) -> Setup | None:
    assert wanted.tilted is not None
    named = next((row for row in rows if row.slant == wanted.key), None)
    way = wanted.tilted.tilt.direction
    by_hand = (row for row in rows if not row.slant and row.is_aslant and is_same_way(looks_up(row), way))
    return named or next(by_hand, None)


def _straight(wanted: SetupProposal, rows: Sequence[Setup]) -> Setup | None:
    same = [row for row in rows if not row.slant and row.up == wanted.up]
    return min(same, key=lambda row: row.is_aslant, default=None)
