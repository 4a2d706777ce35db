"""The order of a setup's operations: each after what it waits for, with as few tool changes as that leaves."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.core.planning.operations import HOLE_KINDS, Operation, OperationKind

STAGES = {
    OperationKind.FACE: 0, OperationKind.ROUGH: 1, OperationKind.FLOORS: 2, OperationKind.WALLS: 3,
    OperationKind.SURFACE: 4, OperationKind.UNDERCUT: 4, OperationKind.SPOT: 5, OperationKind.DRILL: 6,
    OperationKind.BORE: 6,
    OperationKind.COUNTERBORE: 7, OperationKind.COUNTERSINK: 8, OperationKind.GROOVE: 8,
    OperationKind.REAM: 9, OperationKind.SIZE: 9, OperationKind.TAP: 9, OperationKind.THREAD: 9,
       OperationKind.CHAMFER: 10, OperationKind.EDGES: 11,
}  # fmt: skip
BEFORE_HOLES = STAGES[OperationKind.ROUGH]


def waits_for(later: Operation, earlier: Operation) -> bool:
    """Whether one must be done before the other: roughing before finishing, the bore of a hole before its mouth and
    its thread, and edges last, where no cut raises a new burr."""
    if STAGES[earlier.kind] >= STAGES[later.kind]:
        return False
    if later.family == "edges":
        return earlier.family != "edges"
    if earlier.kind not in HOLE_KINDS:
        return later.kind not in HOLE_KINDS or STAGES[earlier.kind] <= BEFORE_HOLES
    return later.family.startswith(earlier.family)


def in_order(operations: Sequence[Operation]) -> list[Operation]:
    """Always the next that may be done with the tool in the spindle; else the tool with the most to do at once."""
    left = sorted(operations, key=lambda one: STAGES[one.kind])
    done: list[Operation] = []
    in_spindle: int | None = None
    waiting = {id(one): sum(waits_for(one, other) for other in left) for one in left}
    while left:
        ready = [one for one in left if not waiting[id(one)]]
        number = _next_tool(ready, in_spindle)
        chosen = next(one for one in ready if _number(one) == number)
        left = [one for one in left if one is not chosen]
        for one in left:
            waiting[id(one)] -= waits_for(one, chosen)
        done.append(chosen)
        in_spindle = number
    return done


def _next_tool(ready: Sequence[Operation], in_spindle: int | None) -> int | None:
    numbers = [_number(one) for one in ready]
    if in_spindle is not None and in_spindle in numbers:
        return in_spindle
    first = min(STAGES[one.kind] for one in ready)
    at_first = [_number(one) for one in ready if STAGES[one.kind] == first]
    return max(at_first, key=lambda number: (numbers.count(number), -at_first.index(number)))


def _number(one: Operation) -> int | None:
    return one.tool.number if one.tool else None


def first_of_each_tool(operations: Sequence[Operation]) -> list[Operation]:
    """Those before which a tool goes into the spindle; what has no tool yet counts as none."""
    with_tool = [one for one in operations if one.tool]
    numbers = [_number(one) for one in with_tool]
    return [one for one, before, here in zip(with_tool, [None, *numbers], numbers, strict=False) if here != before]
