"""Findings about what touches or passes by material and workholding as the tool moves."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc.extent import clear_heights
from shopflow.core.review.cut import Cut, one_cause
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible
from shopflow.core.review.places import FOLLOWS, SAME_PLACE_MM, earlier_here, straight_down
from shopflow.core.types import MotionKind, Motions, Tool, ToolShape

_PHYSICS = "a rapid does not cut"
_RUBS = "only the flutes cut"
_HOLDING = "the workholding drawn in the setup"
_GRAZES_MM = 1e-4
"""A tool that runs along a jaw without a gap is rounded off to either side."""
_NOT_CUTTING_MM = 0.05
"""A direct plunge of a tool without a cutting centre is none where it only meets a skin (our choice)."""


def rapid_through_material(subject: Subject) -> Iterator[Finding]:
    if subject.cut is None:
        return
    removal, motions = subject.cut.removal, subject.program.motions
    for rows, tool in _causes(subject, removal.rapid_touched(motions)):
        deep = sensible(float(removal.thickest_mm[rows].max()))
        message = f"T{tool} goes through material at rapid, up to {deep:.2f} mm of it in one place."
        yield Finding(
            "rapid-through-material", Weight.MUST_FIX, lines_of(subject.program, rows), message, tool=tool,
            measured=deep, limit=0.0, unit="mm", basis=_PHYSICS,
        )  # fmt: skip


def workholding_touched(subject: Subject) -> Iterator[Finding]:
    if subject.cut is None:
        return
    removal, names = subject.cut.removal, subject.cut.holding
    for rows, tool in _causes(subject, removal.holding_mm > _GRAZES_MM):
        deepest = rows[removal.holding_mm[rows].argmax()]
        deep, box = sensible(float(removal.holding_mm[deepest])), int(removal.holding_box[deepest])
        what = f"the {names[box]}" if box < len(names) else f"the workholding (body {box + 1} of the setup)"
        message = f"T{tool} or its holder goes {deep:.2f} mm into {what}."
        yield Finding(
            "workholding-touched", Weight.MUST_FIX, lines_of(subject.program, rows), message, tool=tool,
            measured=deep, limit=0.0, unit="mm", basis=_HOLDING,
        )  # fmt: skip


_SAME_HEIGHT_MM = 0.01


def rapid_too_near(subject: Subject) -> Iterator[Finding]:
    """Only where it touches nothing: what touches has its own finding."""
    cut = subject.cut
    if cut is None:
        return
    removal = cut.removal
    free = ~(removal.rapid_touched(subject.program.motions) | (removal.holding_mm > 0.0))
    is_low = _stays_down(subject)
    is_raw = _over_raw(subject.program.motions, cut) & ~is_low
    sideways = f" Sideways the gap is known to {removal.columns.aside_mm:.2f} mm."
    yield from _too_near(
        subject, removal.rapid_gap_mm, free & ~is_raw & ~is_low, "rapid_clearance", "material", sideways
    )
    yield from _too_near(
        subject,
        removal.rapid_gap_mm,
        free & is_low,
        "rapid_clearance_link",
        "material on a way that stays down",
        sideways,
    )
    yield from _too_near(
        subject, removal.rapid_gap_mm, free & is_raw, "rapid_clearance_raw", "stock as it came", sideways
    )
    yield from _too_near(subject, removal.holding_gap_mm, free, "rapid_clearance_holding", "workholding", "")


def _stays_down(subject: Subject) -> NDArray[np.bool_]:
    """Rapids from one cut to the next below the top of what was fed through: in a pocket, or round the part."""
    motions = subject.program.motions
    heights = clear_heights(motions, subject.program.end_known)
    sideways = np.hypot(*(motions.end[:, :2] - motions.start[:, :2]).T) > SAME_PLACE_MM
    below = np.isfinite(heights) & (heights < -SAME_PLACE_MM)
    down: NDArray[np.bool_] = below & np.concatenate([[False], below[:-1]]) & sideways
    links: NDArray[np.bool_] = down & (motions.kind == MotionKind.RAPID)
    return links


def _over_raw(motions: Motions, cut: Cut) -> NDArray[np.bool_]:
    """Rapids whose gap is the height of the tip over the top of the stock as it came."""
    tip = np.minimum(motions.start[:, 2], motions.end[:, 2])
    with np.errstate(invalid="ignore"):
        over: NDArray[np.bool_] = np.abs(tip - cut.removal.rapid_gap_mm - cut.raw_top_mm) < _SAME_HEIGHT_MM
    return over


def _too_near(
    subject: Subject, gaps: NDArray[np.float64], free: NDArray[np.bool_], key: str, what: str, more: str
) -> Iterator[Finding]:
    limit = subject.house_rules.limit(key)
    for rows, tool in _causes(subject, (gaps < limit - 1e-6) & free):
        gap = sensible(float(gaps[rows].min()))
        message = f"T{tool} passes {gap:.2f} mm from {what} at rapid; the house rule is {limit:.2f} mm.{more}"
        yield Finding(
            "rapid-too-near", Weight.DECIDE, lines_of(subject.program, rows), message, tool=tool,
            measured=gap, limit=limit, unit="mm", basis=subject.house_rules.basis(key),
        )  # fmt: skip


def holder_rubs(subject: Subject) -> Iterator[Finding]:
    if subject.cut is not None:
        yield from _rubbing(subject, "holder-rubs", "The holder", subject.cut.removal.holder_mm)


def shank_rubs(subject: Subject) -> Iterator[Finding]:
    if subject.cut is not None:
        yield from _rubbing(subject, "shank-rubs", "The shank or neck", subject.cut.removal.shank_mm)


def past_the_flutes(subject: Subject) -> Iterator[Finding]:
    """A necked tool that goes deeper than its length of cut is not meant: nothing of it touches."""
    cut = subject.cut
    if cut is None:
        return
    removal, limit = cut.removal, subject.house_rules.limit("touch_ignored")
    for rows, tool in _causes(subject, removal.past_flutes_mm > limit):
        over = sensible(float(removal.past_flutes_mm[rows].max()))
        known = subject.tool(tool)
        length = f" of {known.flute_length_mm:.1f} mm" if known is not None else ""
        message = (
            f"Material stands {over:.2f} mm above the flutes of T{tool}: it cuts deeper than its length of cut{length}."
        )
        yield Finding(
            "past-the-flutes", Weight.MUST_FIX, lines_of(subject.program, rows), message, tool=tool,
            measured=over, limit=limit, unit="mm", basis=subject.house_rules.basis("touch_ignored"),
        )  # fmt: skip


_OPEN_SHARE = 0.5
"""Of its own cylinder: an M6 tap takes 0.31 out of its 5 mm hole, and all of it out of solid (our choice)."""


def _in_a_hole(subject: Subject, row: int) -> bool:
    """Whether a tool that is made for holes takes no more than their wall: the stock came with the hole."""
    tool = subject.tool(int(subject.program.motions.tool[row]))
    if subject.cut is None or tool is None or tool.shape not in FOLLOWS:
        return False
    removal = subject.cut.removal
    whole = np.pi / 4.0 * tool.diameter_mm**2 * float(removal.plunge_mm[row])
    return float(removal.volume_mm3[row]) < _OPEN_SHARE * whole


_ALONG_AXIS = frozenset({ToolShape.TAP, ToolShape.REAMER, ToolShape.COUNTERBORE, ToolShape.BORE, ToolShape.COUNTERSINK})


def plunge_without_centre(subject: Subject) -> Iterator[Finding]:
    """Straight down into material with a tool that does not cut in its middle, where no other tool drilled before."""
    if subject.cut is None:
        return
    blunt = [
        number for number, tool in (subject.tools or {}).items() if not tool.centre_cutting or tool.shape in FOLLOWS
    ]
    plunge = subject.cut.removal.plunge_mm
    motions = subject.program.motions
    bare, down = (plunge > _NOT_CUTTING_MM) & np.isin(motions.tool, blunt), straight_down(motions, SAME_PLACE_MM)
    for row in np.flatnonzero(bare):
        bare[row] = not _drilled_before(motions, down, int(row)) and not _in_a_hole(subject, int(row))
    for rows, tool in _causes(subject, bare):
        deep = sensible(float(plunge[rows].max()))
        message = (
            f"T{tool} does not cut in its middle and plunges {deep:.2f} mm straight into material; "
            f"{_way_in((subject.tools or {})[tool])}."
        )
        yield Finding(
            "plunge-not-centre-cutting", Weight.MUST_FIX, lines_of(subject.program, rows), message, tool=tool,
            measured=deep, limit=0.0, unit="mm", basis=f"crib, tool {tool}: its shape, or not centre-cutting",
        )  # fmt: skip


def _way_in(tool: Tool) -> str:
    return "drill first" if tool.shape in _ALONG_AXIS else "let it ramp or go in by a helix, or drill first"


def _drilled_before(motions: Motions, down: NDArray[np.bool_], row: int) -> bool:
    """Whether another tool fed straight down at this place before, at least as deep. down: all that do."""
    here = earlier_here(motions, down, row)
    as_deep = motions.end[here, 2] <= motions.end[row, 2] + SAME_PLACE_MM
    return bool((as_deep & (motions.tool[here] != motions.tool[row])).any())


def _rubbing(subject: Subject, code: str, what: str, depth: NDArray[np.float64]) -> Iterator[Finding]:
    limit = subject.house_rules.limit("touch_ignored")
    for rows, tool in _causes(subject, depth > limit):
        deep = sensible(float(depth[rows].max()))
        message = f"{what} of T{tool} goes {deep:.2f} mm into material."
        yield Finding(
            code, Weight.MUST_FIX, lines_of(subject.program, rows), message, tool=tool,
            measured=deep, limit=limit, unit="mm", basis=f"{_RUBS}; {subject.house_rules.basis('touch_ignored')}",
        )  # fmt: skip


def _causes(subject: Subject, marked: NDArray[np.bool_]) -> Iterator[tuple[NDArray[np.intp], int]]:
    """Marked motions in groups of one cause, with their tool. Two groups by the same lines of a loop stay apart."""
    tool = subject.program.motions.tool
    for rows in one_cause(np.flatnonzero(marked), tool):
        yield rows, int(tool[rows[0]])


RULES = (
    rapid_through_material,
    workholding_touched,
    rapid_too_near,
    holder_rubs,
    shank_rubs,
    past_the_flutes,
    plunge_without_centre,
)
