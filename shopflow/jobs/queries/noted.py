"""What a proposal says about single setups, by the numbers that the job's own setups have.

A person takes setups out, adds some and puts them in another order, so that the proposal's own numbers mean nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from shopflow.core.planning import Proposal
from shopflow.jobs.models import Setup


def setup_notes(proposal: Proposal, setups: Sequence[Setup]) -> list[str]:
    """Sentences; nothing about a setup that was taken out or that a person says is done by hand, nor about what a
    person typed otherwise.
    """
    laid_out = _laid_out(proposal, [row for row in setups if not row.is_manual])
    typed = {row.number: set(row.fixed) for row in setups}
    return [
        _("Setup %(number)s %(text)s") % {"number": laid_out[note.setup], "text": note.text}
        for note in proposal.setup_notes
        if note.setup in laid_out and not typed[laid_out[note.setup]].intersection(note.about)
    ]


def cut_apart(proposal: Proposal, setups: Sequence[Setup]) -> list[tuple[str, list[int]]]:
    """What is toleranced to one another and cut in several of the job's setups, with their numbers."""
    laid_out = _laid_out(proposal, setups)
    found = [(one.what, sorted(laid_out[n] for n in one.setups if n in laid_out)) for one in proposal.apart]
    return [(what, numbers) for what, numbers in found if len(numbers) > 1]


def _laid_out(proposal: Proposal, setups: Sequence[Setup]) -> dict[int, int]:
    """By the number in the proposal, that of the job's setup with the same side up."""
    numbers = {row.up: row.number for row in reversed(setups)}
    return {one.number: numbers[one.up] for one in proposal.setups if one.up in numbers}
