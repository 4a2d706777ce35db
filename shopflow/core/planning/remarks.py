"""What a plan has to say beside its setups and steps, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.core.planning.clamping.locating import grip_note, standing_note
from shopflow.core.planning.given import Given
from shopflow.core.planning.proposal import SetupNote, SetupProposal
from shopflow.core.planning.sights import Account, hidden_note
from shopflow.core.solid.reading import Reading


def setup_notes(setups: Sequence[SetupProposal], given: Given) -> tuple[SetupNote, ...]:
    """About single setups: holding, tools, and how far the part stands over the jaws."""
    made = [SetupNote(one.number, text, ("workholding",)) for one in setups for text in one.holding.cautions]
    made += [SetupNote(one.number, text, ("tools",)) for one in setups for text in one.cautions]
    for one in setups:
        grip_mm = given.grips_mm.get(one.key, one.holding.grip_mm)
        if one.tilted:
            text = standing_note(grip_mm, one.tilted.height_mm, given.rules)
        else:
            text = grip_note(one.up, grip_mm, one.stock.size_mm, given.rules) if one.stock else ""
        made += [SetupNote(one.number, text)] if text else []
    return tuple(made)


def notes(reading: Reading, setups: Sequence[SetupProposal], counted: Account, given: Given) -> list[str]:
    """About the plan as a whole."""
    said = list(filter(None, [hidden_note(counted)]))
    if not given.machines:
        said.append("No machine is in the shop's list yet, so minutes are missing.")
    elif any(setup.machine is None and not setup.tilted for setup in setups):
        said.append("The blank is larger than the travel of every machine in the shop's list.")
    sharp = sum(pocket.sharp_corners for pocket in reading.pockets if pocket.closed and pocket.kind == "pocket")
    if sharp:
        corners = "inside corners of closed pockets are sharp, and no end mill leaves a sharp one"
        said.append(f"{sharp} {corners}: ask for a radius.")
    guesses = sorted({hole.thread_guess for hole in reading.holes if hole.thread_guess})
    if guesses and not given.threads:
        sizes = ", ".join(guesses)
        asked = "if they are threads, say so at the intake, and taps are planned."
        said.append(f"Some holes have the size of a tap drill ({sizes}): {asked}")
    return said
