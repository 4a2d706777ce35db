"""Findings about coolant. Whether a tool should cut dry is the shop's to say: this only sees what stands out.

Nothing here must be mended before a sign-off: what is usual is common practice, and shops differ.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from shopflow.core.cutting.coolant import BITS, CODES, SOURCE, running, usual_coolant
from shopflow.core.cutting.groups import group_of
from shopflow.core.cutting.rows import Way, Ways
from shopflow.core.nc.extent import lengths
from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of
from shopflow.core.types import Coolant, ToolShape


def cuts_dry(subject: Subject) -> Iterator[Finding]:
    """A tool that never has coolant while another of the same program has it: mostly a line that was forgotten.

    Not one that is usually dry in this material.
    """
    motions = subject.program.motions
    for tool, rows in _dry_beside_wet(subject):
        usual = _usual(subject, tool)
        if usual is not None and Way.DRY in usual.usual:
            continue
        message = f"T{tool} cuts without coolant from line {motions.line[rows[0]]} on; other tools here have it."
        if usual is not None and usual.source == SOURCE:
            message += f" Usual in {_group(subject)}: {_listed(subject, tool, usual)}."
        basis = SOURCE
        yield Finding("cuts-dry", Weight.DECIDE, lines_of(subject.program, rows[:1]), message, tool=tool, basis=basis)


def _dry_beside_wet(subject: Subject) -> Iterator[tuple[int, NDArray[np.intp]]]:
    motions = subject.program.motions
    feeding = motions.feeds
    if not (feeding & (motions.coolant != 0)).any():
        return
    for tool, rows in by_tool(subject.program, np.flatnonzero(feeding & (motions.tool != 0))):
        known = subject.tool(tool)
        if not motions.coolant[rows].any() and (known is None or known.shape is not ToolShape.PROBE):
            yield tool, rows


def _group(subject: Subject) -> str:
    return group_of(subject.material.group, subject.material.name) if subject.material else ""


def _usual(subject: Subject, number: int) -> Ways | None:
    tool = subject.tool(number)
    return usual_coolant(tool, subject.material, subject.own_data) if tool else None


OTHER_SHARE = 0.25
"""Of the way that a tool feeds: less without its coolant is what runs before the coolant comes (our choice)."""


def coolant_not_usual(subject: Subject) -> Iterator[Finding]:
    """A steel drill dry in steel, flood over cast iron: not what is usual for this tool in this material.

    Not said where another rule says it: a tool that is dry beside others, and water over magnesium.
    """
    told = {tool for tool, _ in _dry_beside_wet(subject)}
    motions, way = subject.program.motions, lengths(subject.program.motions)
    for number, rows in by_tool(subject.program, np.flatnonzero(motions.feeds & (motions.tool != 0))):
        usual = _usual(subject, number)
        ways = _possible(subject, number, usual) if usual else ()
        if usual is None or not ways or number in told or _group(subject) == "magnesium":
            continue
        fits = [bits for bits in np.unique(motions.coolant[rows]).tolist() if running(bits) & set(ways)]
        other = rows[~np.isin(motions.coolant[rows], fits)]
        if float(way[other].sum()) > OTHER_SHARE * float(way[rows].sum()):
            yield _not_usual(subject, number, usual, other)


def _possible(subject: Subject, number: int, usual: Ways) -> tuple[Way, ...]:
    """Without coolant through the tool where tool or machine has no way for it."""
    tool, machine = subject.tool(number), subject.machine
    can = (tool is None or tool.through_coolant) and (machine is None or machine.through_coolant)
    return tuple(way for way in usual.usual if can or way is not Way.THROUGH)


def _not_usual(subject: Subject, number: int, usual: Ways, rows: NDArray[np.intp]) -> Finding:
    tool, motions = subject.tool(number), subject.program.motions
    now = running(int(motions.coolant[rows[0]]))
    does = "cuts dry" if Way.DRY in now else f"cuts with {' and '.join(sorted(now))}"
    message = (
        f"T{number} ({tool.name if tool else ''}) {does} in {subject.material.name if subject.material else ''} from "
        f"line {motions.line[rows[0]]} on; usual: {_listed(subject, number, usual)}."
    )
    message += f" Why: {usual.why}." if usual.why else ""
    message += " Program one of these, or accept this with a reason; a habit of the shop goes into Speeds & feeds."
    weight = Weight.DECIDE if usual.decides else Weight.NOTE
    lines = lines_of(subject.program, rows[:1])
    return Finding("coolant-not-usual", weight, lines, message, tool=number, basis=usual.source)


def _listed(subject: Subject, number: int, usual: Ways) -> str:
    """Each way with the code that this control has for it."""
    control = subject.machine.control if subject.machine else None
    own = {bits: code for code, bits in control.coolant_codes} if control else {}
    codes = {way: own.get(int(BITS[way])) for way in BITS if way not in CODES} | CODES
    ways = _possible(subject, number, usual) or usual.usual
    return ", ".join(f"{way.value} ({codes[way]})" if codes.get(way) else way.value for way in ways)


def through_without(subject: Subject) -> Iterator[Finding]:
    """Coolant through the tool where machine or tool has no way for it: nothing comes, or a seal suffers."""
    motions = subject.program.motions
    feeding = motions.feeds
    asked = feeding & ((motions.coolant & Coolant.THROUGH) != 0)
    for tool, rows in by_tool(subject.program, np.flatnonzero(asked)):
        known = subject.tool(tool)
        if subject.machine is not None and not subject.machine.through_coolant:
            basis, who = f"machine {subject.machine.name}", "the machine has none"
        elif known is not None and not known.through_coolant:
            basis, who = f"crib, tool {tool}", "the tool has no channel for it"
        else:
            continue
        message = f"T{tool} asks for coolant through the tool; {who}."
        yield Finding(
            "through-without", Weight.DECIDE, lines_of(subject.program, rows), message, tool=tool, basis=basis
        )


def wet_magnesium(subject: Subject) -> Iterator[Finding]:
    """Water and magnesium chips make hydrogen."""
    motions = subject.program.motions
    wet = (motions.coolant & (Coolant.FLOOD | Coolant.MIST | Coolant.THROUGH)) != 0
    rows = np.flatnonzero(wet & motions.feeds)
    if _group(subject) == "magnesium" and len(rows):
        message = "Coolant runs over magnesium: with water in it chips give off hydrogen. Cut dry, or with mineral oil."
        basis = "NFPA 484 (from memory): no water-based coolant on magnesium without what the standard asks for"
        yield Finding("wet-magnesium", Weight.DECIDE, lines_of(subject.program, rows), message, basis=basis)


RULES = (cuts_dry, coolant_not_usual, through_without, wet_magnesium)
