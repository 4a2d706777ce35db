"""The operations of one setup, and what follows from them: its tools, and those that the crib lacks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.core.planning.hole_operations import HoleFacts, drilling
from shopflow.core.planning.mill_operations import milling
from shopflow.core.planning.minutes import timed
from shopflow.core.planning.operations import Operation, Speeds, Wanted
from shopflow.core.planning.ordering import in_order
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.side_work import SideWork
from shopflow.core.types import Tool

__all__ = ["PickedTool", "Wanted", "operations_of", "picked", "wanted"]


@dataclass(frozen=True)
class PickedTool:
    """A tool of the crib and what a setup needs it for."""

    tool: Tool
    purposes: tuple[str, ...]

    @property
    def purpose(self) -> str:
        return ", ".join(self.purposes)


def operations_of(
    work: SideWork, crib: Sequence[Tool], rules: PlanRules, speeds: Speeds, facts: HoleFacts
) -> tuple[Operation, ...]:
    """What a setup does, in order, each with tool, speed, feed and minutes as far as they are known."""
    made = [*milling(work, crib, rules, speeds.material), *drilling(work, crib, rules, facts, speeds.material)]
    return tuple(timed(one, speeds) for one in in_order(made))


def picked(operations: Sequence[Operation]) -> tuple[PickedTool, ...]:
    """The tools in the order they are first needed, with what for."""
    purposes: dict[int, list[str]] = {}
    tools: dict[int, Tool] = {}
    for one in operations:
        if one.tool is not None:
            tools[one.tool.number] = one.tool
            said = purposes.setdefault(one.tool.number, [])
            if one.purpose not in said:
                said.append(one.purpose)
    return tuple(PickedTool(tools[number], tuple(said)) for number, said in purposes.items())


def wanted(operations: Sequence[Operation]) -> tuple[Wanted, ...]:
    """What the crib lacks, each once."""
    return tuple(dict.fromkeys(one.wanted for one in operations if one.wanted is not None))
