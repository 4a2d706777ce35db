"""T-slots, dovetails and grooves round an outside: the neck with an end mill, then what is wider with its own cutter.

Common practice with no source. A T-slot cutter enters at the slot's open end and fills its whole width where it is as
wide; else it goes along both walls. Ways follow the slot, once for each layer that the cutter is thick.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil

from shopflow.core.planning import picking
from shopflow.core.planning.needs import side_slot_words
from shopflow.core.planning.operations import Operation, OperationKind, Wanted
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.slots.side_slot import SideSlot
from shopflow.core.types import Tool, ToolUse

NECK_SHARE = 0.8
"""Of a neck's width, the mill that roughs it: its walls are finished on both sides."""
ROUGH_DEPTH, ROUGH_WIDTH = {True: 0.75, False: 0.5}, 0.4
FULL_MM = 0.05
"""A cutter narrower than the slot by less than this fills it."""


def undercutting(
    slots: Sequence[SideSlot], crib: Sequence[Tool], rules: PlanRules, *, soft: bool
) -> Iterator[Operation]:
    """The operations of a setup's undercuts."""
    for slot in slots:
        if slot.neck_mm > 0:
            yield from _neck(slot, crib, rules, soft=soft)
        yield _wide(slot, crib, rules)


def _neck(slot: SideSlot, crib: Sequence[Tool], rules: PlanRules, *, soft: bool) -> Iterator[Operation]:
    """Down to the floor of the wide part, so that its cutter only takes what is left beside it."""
    deep, wide = slot.depth_mm, slot.neck_mm
    what = f"neck of the {slot.kind}, {rules.say(wide)} wide, {rules.say(deep)} deep"
    size = f"{slot.kind} neck {wide:.3f} {deep:.3f} {slot.length_mm:.3f}"
    rough = picking.largest(picking.end_mills(crib, ToolUse.ROUGH, deep), NECK_SHARE * wide)
    finish = picking.largest(picking.end_mills(crib, ToolUse.WALL, deep), NECK_SHARE * wide)
    need = f"an end mill of at most ⌀{rules.say(NECK_SHARE * wide)} that reaches {rules.say(deep)} deep"
    own = rough.diameter_mm if rough else 0.0
    flutes = rough.flute_length_mm or deep if rough else deep
    yield Operation(
        OperationKind.ROUGH, f"rough {size}", what, rough, None if rough else Wanted(need, what),
        depth_mm=deep, width_mm=wide, volume_mm3=wide * deep * slot.length_mm,
        axial_mm=min(ROUGH_DEPTH[soft] * own, flutes, deep) or deep, radial_mm=ROUGH_WIDTH * own,
    )  # fmt: skip
    passes = ceil(deep / (finish.flute_length_mm or deep) - 1e-9) if finish else 1
    yield Operation(
        OperationKind.WALLS, f"walls {size}", what, finish, None if finish else Wanted(need, what), depth_mm=deep,
        length_mm=2 * slot.length_mm, axial_mm=deep / passes, radial_mm=rules.finish_stock_mm, passes=passes,
    )  # fmt: skip


def _wide(slot: SideSlot, crib: Sequence[Tool], rules: PlanRules) -> Operation:
    tool = _cutter(slot, crib)
    what = side_slot_words(slot, rules)
    thick = tool.flute_length_mm if tool and tool.flute_length_mm > 0 else slot.high_mm
    layers = max(1, ceil(slot.high_mm / thick - 1e-9))
    fills = slot.kind == "groove" or (tool is not None and tool.diameter_mm >= slot.across_mm - FULL_MM)
    return Operation(
        OperationKind.UNDERCUT,
        f"undercut {slot.kind} {slot.across_mm:.3f} {slot.high_mm:.3f} {slot.depth_mm:.3f} {slot.length_mm:.3f}",
        what,
        tool,
        None if tool else Wanted(_need(slot, rules), what),
        depth_mm=slot.depth_mm,
        width_mm=slot.across_mm,
        length_mm=slot.length_mm * (1 if fills else 2),
        axial_mm=slot.high_mm / layers,
        radial_mm=min(slot.beside_mm, tool.diameter_mm if tool else slot.beside_mm),
        passes=layers,
    )


def _cutter(slot: SideSlot, crib: Sequence[Tool]) -> Tool | None:
    """A dovetail's is no shape of the crib's list."""
    if slot.kind == "dovetail":
        return None
    room = slot.beside_mm + slot.neck_mm if slot.neck_mm else float("inf")
    return picking.undercut_cutter(crib, slot.beside_mm, slot.high_mm, slot.depth_mm, room)


def _need(slot: SideSlot, rules: PlanRules) -> str:
    deep, beside = rules.say(slot.depth_mm), rules.say(slot.beside_mm)
    if slot.kind == "dovetail":
        under = rules.say(slot.neck_mm)
        return f"a dovetail cutter of {slot.angle_deg:.4g}° under ⌀{under}, {rules.say(slot.high_mm)} high or more"
    through = f" of at most ⌀{rules.say(slot.across_mm)}" if slot.neck_mm else ""
    neck = f" with a neck under ⌀{rules.say(slot.neck_mm)}" if slot.neck_mm else ""
    return (
        f"a T-slot cutter{through}{neck}, at most {rules.say(slot.high_mm)} thick, with {beside} and more beside its "
        f"neck, that reaches {deep} deep"
    )
