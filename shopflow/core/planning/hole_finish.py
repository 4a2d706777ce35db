"""What brings a hole to its close size, its thread and its grooves, after the drill."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

from shopflow.core.planning import picking
from shopflow.core.planning.holes import HoleGroup, entrance_mm, grooves_of
from shopflow.core.planning.operations import Operation, OperationKind, Wanted
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid import Thread
from shopflow.core.solid.reading import Hole
from shopflow.core.types import Tool

SIZE_STOCK_MM = (0.2, 0.5)
"""On the diameter, left for a boring head (common practice, no source)."""


@dataclass(frozen=True)
class Way:
    """How a hole comes to a close size. less_mm: smallest and largest stock on the diameter that is left for it."""

    kind: OperationKind
    tool: Tool | None
    called: str
    less_mm: tuple[float, float]


def to_size(hole: Hole, crib: Sequence[Tool], rules: PlanRules) -> Way:
    """Reamed where the crib has the reamer; else bored from the size on where reamers are rare, or with what head is
    there."""
    reamer = picking.reamer(crib, hole.diameter_mm, hole.depth_mm, rules)
    head = picking.boring_head(crib, hole.diameter_mm, hole.depth_mm)
    if reamer is None and (head is not None or hole.diameter_mm >= rules.bore_from_mm):
        return Way(OperationKind.SIZE, head, "a boring head set to", SIZE_STOCK_MM)
    return Way(OperationKind.REAM, reamer, "a reamer", picking.REAM_ALLOWANCE_MM)


def threaded(
    group: HoleGroup, crib: Sequence[Tool], rules: PlanRules, family: str, thread: Thread, bore_mm: float
) -> Operation:
    """Tapped; milled where it is large, where a blind hole is flat so that a tap's chamfer leaves its end unthreaded,
    or where only a thread mill is there."""
    hole = group.first
    what = f"{group.count} × {thread.name}"
    tap = picking.tap(crib, thread.major_mm, thread.pitch_mm, hole.depth_mm)
    mill = picking.thread_mill(crib, bore_mm, thread.pitch_mm, hole.depth_mm)
    is_flat = not hole.through and hole.bottom == "flat"
    better_milled = thread.major_mm >= rules.thread_mill_mm or is_flat
    if not better_milled and (tap or not mill):
        return of_hole(OperationKind.TAP, family, what, tap, f"a tap {thread.name}", group)
    if mill is None and tap is not None:
        return of_hole(OperationKind.TAP, family, what, tap, "", group)
    most = rules.say(picking.THREAD_MILL_SHARE * bore_mm)
    deep = rules.say(hole.depth_mm)
    need = f"a thread mill of pitch {thread.pitch_mm:.4g} mm, at most ⌀{most}, that reaches {deep} deep"
    made = of_hole(OperationKind.THREAD, family, what, mill, need, group, width_mm=thread.major_mm)
    return replace(made, passes=_turns(hole.depth_mm, mill, thread.pitch_mm))


def _turns(depth_mm: float, mill: Tool | None, pitch_mm: float) -> int:
    """Turns of a thread mill: all teeth of the pitch cut at once, a single tooth goes down by the pitch."""
    if mill is None:
        return 1
    at_once = mill.flute_length_mm if mill.pitch_mm > 0 else pitch_mm
    return max(1, ceil(depth_mm / at_once - 1e-9)) if at_once > 0 else 1


def grooves(group: HoleGroup, crib: Sequence[Tool], rules: PlanRules, family: str) -> Iterator[Operation]:
    """Stretches of a hole that are wider than what lies before them: a ring's groove, a relief. They want a cutter that
    is wider than its neck."""
    hole = group.first
    for step in grooves_of(hole):
        wide, across = step.to_mm - step.from_mm, step.from_diameter_mm
        before = entrance_mm(hole, step)
        what = f"{group.count} × groove ⌀{rules.say(across)}, {rules.say(wide)} wide"
        deep = (across - before) / 2
        tool = picking.groove_cutter(crib, before, deep, wide, step.to_mm)
        need = (
            f"a T-slot cutter under ⌀{rules.say(before)}, at most {rules.say(wide)} thick, with {rules.say(deep)} and "
            f"more beside its neck, that reaches {rules.say(step.to_mm)} deep"
        )
        made = of_hole(OperationKind.GROOVE, family, what, tool, need, group, depth_mm=step.to_mm, width_mm=across)
        layers = max(1, ceil(wide / tool.flute_length_mm - 1e-9)) if tool and tool.flute_length_mm > 0 else 1
        yield replace(made, key=f"{made.key} {step.from_mm:.3f}", passes=layers, radial_mm=deep)


def of_hole(
    kind: OperationKind,
    family: str,
    what: str,
    tool: Tool | None,
    need: str,
    group: HoleGroup,
    *,
    depth_mm: float | None = None,
    width_mm: float | None = None,
) -> Operation:
    hole = group.first
    return Operation(
        kind, f"{kind} {family}", what, tool, None if tool else Wanted(need, what), family=family, count=group.count,
        depth_mm=hole.depth_mm if depth_mm is None else depth_mm,
        width_mm=hole.diameter_mm if width_mm is None else width_mm,
    )  # fmt: skip
