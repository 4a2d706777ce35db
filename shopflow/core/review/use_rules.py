"""Findings about what tools are used for, whatever the comments of the program say."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc.extent import lengths
from shopflow.core.review.classing import USE_OF, Doing, mean_width
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible
from shopflow.core.types import Tool, ToolUse

if TYPE_CHECKING:
    from shopflow.core.stock.removal import Removal

_ALSO = {
    ToolUse.DEBURR: {ToolUse.CHAMFER},
    ToolUse.COUNTERSINK: {ToolUse.CHAMFER, ToolUse.SPOT, ToolUse.DEBURR},
    ToolUse.WALL: {ToolUse.FLOOR, ToolUse.SURFACE},
    ToolUse.FLOOR: {ToolUse.WALL, ToolUse.FACE, ToolUse.SURFACE},
    ToolUse.BORE: {ToolUse.HELICAL},
}
"""What a shop allows with it: a tool that finishes walls meets floors, and one that chamfers breaks an edge."""
_SHARE = {ToolUse.WALL: 0.5, ToolUse.FLOOR: 0.5}
_LEAST_SHARE = 0.1
"""Of the length that a tool cuts: a rougher's last pass is thin, so that what looks like finishing must be most of it
(our choice)."""

_CLEARLY_ROUGH = 0.35
"""Of the diameter: a finisher that comes round a corner meets more than along the wall, and still finishes (ours)."""
_LONG = 5.0
"""Diameters: along a way this long the corners at its ends do not matter to its mean."""


def use_not_allowed(subject: Subject) -> Iterator[Finding]:
    """A finisher roughs, a spot drill drills through, an end mill faces: the crib's allowed uses do not hold it."""
    if subject.cut is None:
        return
    motions, way = subject.program.motions, lengths(subject.program.motions)
    wide = mean_width(subject.cut.removal, motions)
    for number, tool in (subject.tools or {}).items():
        if not tool.uses:
            continue
        mine = (motions.tool == number) & (subject.doing > Doing.AIR)
        whole = float(way[mine].sum())
        for doing in np.unique(subject.doing[mine]).tolist():
            use = USE_OF.get(Doing(doing))
            if use is None or use in tool.uses or _ALSO.get(use, set()) & tool.uses:
                continue
            rows = np.flatnonzero(mine & (subject.doing == doing))
            if use is ToolUse.ROUGH:
                rows = rows[wide[rows] > _CLEARLY_ROUGH * tool.diameter_mm]
            if float(way[rows].sum()) > _SHARE.get(use, _LEAST_SHARE) * whole:
                yield _not_allowed(subject, tool, use, rows)


def _not_allowed(subject: Subject, tool: Tool, use: ToolUse, rows: NDArray[np.intp]) -> Finding:
    allowed = ", ".join(sorted(one.value for one in tool.uses))
    message = f"T{tool.number} ({tool.name}) does the work “{use.value}” here; the crib allows it for: {allowed}."
    lines = lines_of(subject.program, rows)
    basis = f"crib, tool {tool.number}: allowed uses"
    return Finding("use-not-allowed", Weight.DECIDE, lines, message, tool=tool.number, basis=basis)


_FINISHES = frozenset({ToolUse.WALL, ToolUse.FLOOR, ToolUse.SURFACE})


def finisher_takes(subject: Subject) -> Iterator[Finding]:
    """A tool that only finishes meets more stock than the house leaves for it, or so little that it rubs."""
    if subject.cut is None:
        return
    rules = subject.house_rules
    way = lengths(subject.program.motions)
    most, least = (rules.limit(key) for key in ("finish_stock_most", "finish_stock_least"))
    for number, tool in (subject.tools or {}).items():
        if not tool.uses or tool.uses - _FINISHES:
            continue
        cutting = np.isin(subject.doing, (Doing.WALL, Doing.FLOOR, Doing.ROUGH)) & (way > _LONG * tool.diameter_mm)
        rows = np.flatnonzero(cutting & (subject.program.motions.tool == number))
        taken = _taken(subject.cut.removal, subject, tool)
        thick, thin = rows[taken[rows] > most], rows[taken[rows] < least]
        if len(thick):
            much = sensible(float(taken[thick].max()))
            message = f"T{number} only finishes, and here it meets {much:.2f} mm; the house leaves up to {most:g} mm."
            yield Finding(
                "finisher-takes-much", Weight.DECIDE, lines_of(subject.program, thick), message, tool=number,
                measured=much, limit=most, unit="mm", basis=rules.basis("finish_stock_most"),
            )  # fmt: skip
        elif len(thin) > 0.5 * len(rows):
            little = sensible(float(taken[thin].max()))
            message = f"T{number} only finishes, and nothing more than {little:.3f} mm is left for it: its edges rub."
            yield Finding(
                "finisher-takes-little", Weight.NOTE, lines_of(subject.program, thin), message, tool=number,
                measured=little, limit=least, unit="mm", basis=rules.basis("finish_stock_least"),
            )  # fmt: skip


def _taken(removal: Removal, subject: Subject, tool: Tool) -> NDArray[np.float64]:
    """(n,) mm, the smaller of width and depth. The width is the widest, unless a corner made it so."""
    corner = removal.radial_mm > _CLEARLY_ROUGH * tool.diameter_mm
    wide = np.where(corner, mean_width(removal, subject.program.motions), removal.radial_mm)
    taken: NDArray[np.float64] = np.minimum(wide, removal.axial_mm)
    return taken


RULES = (use_not_allowed, finisher_takes)
