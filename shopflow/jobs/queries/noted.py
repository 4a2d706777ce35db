"""What a proposal says about single setups, by the numbers that the job's own setups have.

A person takes setups out, adds some and puts them in another order, so that the proposal's own numbers mean nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from shopflow.core.planning import Proposal
from shopflow.jobs.models import Setup
from shopflow.jobs.queries.clampings import laid_out


def setup_notes(proposal: Proposal, setups: Sequence[Setup]) -> list[str]:
    """Sentences; nothing about a setup that was taken out or that a person says is done by hand, nor about what a
    person typed otherwise.
    """
    return [
        _("Setup %(number)s %(text)s") % {"number": row.number, "text": text} for row, text in _said(proposal, setups)
    ]


def notes_about(setup: Setup, proposal: Proposal, setups: Sequence[Setup]) -> list[str]:
    """What is said of one of them, each as what follows "this setup"."""
    return [text for row, text in _said(proposal, setups) if row.pk == setup.pk]


def _said(proposal: Proposal, setups: Sequence[Setup]) -> list[tuple[Setup, str]]:
    rows = laid_out(proposal, [row for row in setups if not row.is_manual])
    return [
        (rows[note.setup], note.text)
        for note in proposal.setup_notes
        if note.setup in rows and not set(rows[note.setup].fixed).intersection(note.about)
    ]


def cut_apart(proposal: Proposal, setups: Sequence[Setup]) -> list[tuple[str, list[int]]]:
    """What is toleranced to one another and cut in several of the job's setups, with their numbers."""
    rows = laid_out(proposal, setups)
    found = [(one.what, sorted(rows[n].number for n in one.setups if n in rows)) for one in proposal.apart]
    return [(what, numbers) for what, numbers in found if len(numbers) > 1]
