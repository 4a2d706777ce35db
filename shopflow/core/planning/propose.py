"""A routing proposed from what a model says: saw, one op a setup, deburr, inspect, ship."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from shopflow.core.planning.blank import BlankProposal, StockIn, propose_blank, stock_in
from shopflow.core.planning.cutting_data import work_data
from shopflow.core.planning.directions import AXES, along, height_axis, name_of
from shopflow.core.planning.holding import Holding, holding
from shopflow.core.planning.minutes import (
    Load,
    cutting_minutes,
    deburr_minutes,
    inspect_minutes,
    saw_minutes,
    setup_minutes,
)
from shopflow.core.planning.needs import Need, needs_of
from shopflow.core.planning.orientations import Orientation, orientations
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tooling import Cut, PickedTool, Tooling, Wanted, tooling
from shopflow.core.solid.reading import Pocket, Reading
from shopflow.core.types import Machine, Material, Tool, Vector

DEFAULT_RULES = PlanRules()
MINUS = "\u2212"
WALL_COSINE = 0.1
"""A plane whose normal is nearly square to the spindle is a wall of that setup."""


class StepKind(StrEnum):
    SAW = "saw"
    MILL = "mill"
    DEBURR = "deburr"
    INSPECT = "inspect"
    SHIP = "ship"


@dataclass(frozen=True)
class SetupProposal:
    """One clamping. machine: None where the shop's machines are all too small or there is none.

    stock: what is clamped; None without a model.
    """

    number: int
    up: str
    title: str
    machine: Machine | None
    holding: Holding
    stock: StockIn | None
    tools: tuple[PickedTool, ...]
    wanted: tuple[Wanted, ...]
    needs: tuple[Need, ...]


@dataclass(frozen=True)
class StepProposal:
    """One line of the routing. setup: the number of its setup for a milling step, else None. Minutes may be unknown."""

    kind: StepKind
    title: str
    setup: int | None
    minutes_each: float | None
    minutes_setup: float | None
    first_piece: bool = False


@dataclass(frozen=True)
class Proposal:
    """A plan to start from. blank: None where there is no model to take it from.

    unreached: what no side of a three-axis machine reaches. notes: plain sentences. part_mm3: volume of the part.
    """

    blank: BlankProposal | None
    setups: tuple[SetupProposal, ...]
    steps: tuple[StepProposal, ...]
    unreached: tuple[Need, ...]
    notes: tuple[str, ...]
    part_mm3: float = 0.0

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """Tools that the crib does not have, each once."""
        return tuple(dict.fromkeys(want for setup in self.setups for want in setup.wanted))

    @property
    def unreached_words(self) -> list[str]:
        """What is out of reach, equal ones counted."""
        counted = Counter(need.what for need in self.unreached)
        return [f"{count} × {what}" if count > 1 else what for what, count in counted.items()]


def propose(
    reading: Reading,
    *,
    crib: Sequence[Tool],
    machines: Sequence[Machine],
    material: Material | None = None,
    characteristics: int = 0,
    rules: PlanRules = DEFAULT_RULES,
    sawn_mm: Vector | None = None,
) -> Proposal:
    """Plan the part that was read. crib: the tools on hand. machines: in the order the shop prefers them.

    sawn_mm: the blank along the model's axes as it comes off the stock that was picked, where some was.
    """
    sides, unreached = orientations(needs_of(reading, rules))
    blank = propose_blank(reading.bbox_mm, reading.volume_mm3, sides[0].up, rules, sawn_mm)
    loads = _loads(reading, sides, blank)
    toolings = [_tooling(reading, side, blank, is_first=n == 0, crib=crib, rules=rules) for n, side in enumerate(sides)]
    setups = tuple(
        _setup(n, side, made, reading, blank, machines, rules)
        for n, (side, made) in enumerate(zip(sides, toolings, strict=True))
    )
    milling = [_mill_step(setup, load, material, rules) for setup, load in zip(setups, loads, strict=True)]
    steps = (_saw(blank, sides[0].up, rules), *milling, *_last_steps(reading, characteristics, rules))
    return Proposal(blank, setups, steps, tuple(unreached), _notes(reading, setups, machines), reading.volume_mm3)


def _setup(
    index: int,
    side: Orientation,
    made: Tooling,
    reading: Reading,
    blank: BlankProposal,
    machines: Sequence[Machine],
    rules: PlanRules,
) -> SetupProposal:
    return SetupProposal(
        number=index + 1,
        up=side.up,
        title=f"mill with {side.up.replace('-', MINUS)} up",
        machine=_machine_for(blank, side.up, machines),
        holding=holding(index, side.up, (reading.box_min_mm, reading.box_max_mm), blank.size_mm, rules),
        stock=stock_in(index, side.up, reading.bbox_mm, blank.size_mm, rules),
        tools=tuple(made.picked),
        wanted=tuple(made.wanted),
        needs=side.needs,
    )


def _machine_for(blank: BlankProposal, up: str, machines: Sequence[Machine]) -> Machine | None:
    """The first machine whose table travel holds the blank, either way round, with as much height again for tools."""
    height = height_axis(up)
    flat = sorted(size for axis, size in enumerate(blank.size_mm) if axis != height)
    for machine in machines:
        travel = sorted(machine.travel_mm[:2])
        if flat[0] <= travel[0] and flat[1] <= travel[1] and 2 * blank.size_mm[height] <= machine.travel_mm[2]:
            return machine
    return None


def _tooling(
    reading: Reading, side: Orientation, blank: BlankProposal, *, is_first: bool, crib: Sequence[Tool], rules: PlanRules
) -> Tooling:
    looks_up = any(name_of(group.direction) == side.up for group in side.planes)
    cut = Cut(
        faces_mm=_narrow_mm(side.up, blank if is_first else None, reading) if looks_up else 0.0,
        depth_mm=_depth_mm(reading, side, is_first),
        corner_mm=min((p.radius_mm for p in side.pockets if p.radius_mm is not None), default=None),
        has_sharp_edges=reading.sharp_edges.count > 0,
    )
    return tooling(cut, side.holes, crib, rules)


def _narrow_mm(up: str, blank: BlankProposal | None, reading: Reading) -> float:
    sizes = blank.size_mm if blank else reading.bbox_mm
    height = height_axis(up)
    return min(size for axis, size in enumerate(sizes) if axis != height)


def _depth_mm(reading: Reading, side: Orientation, is_first: bool) -> float:
    """How deep end mills go: in the first setup the outline's whole height, later the deepest floor that looks up."""
    if is_first:
        return reading.bbox_mm[height_axis(side.up)]
    floors = [
        group.levels[0].level_mm - level.level_mm
        for group in side.planes
        if name_of(group.direction) == side.up and group.levels
        for level in group.levels
    ]
    height_mm = reading.bbox_mm[height_axis(side.up)]
    return max([*floors, *(_pocket_depth_mm(pocket, side.up, height_mm) for pocket in side.pockets)], default=0.0)


def _pocket_depth_mm(pocket: Pocket, up: str, height_mm: float) -> float:
    """How deep a pocket is from this side: its own depth where it opens upwards, else all of its length at most."""
    return pocket.depth_mm if name_of(pocket.axis) == up else min(pocket.length_mm, height_mm)


def _loads(reading: Reading, sides: Sequence[Orientation], blank: BlankProposal) -> list[Load]:
    """The volume between blank and part shared out by the room above each side's floors; walls fall to the first."""
    removed = max(blank.volume_mm3 - reading.volume_mm3, 0.0)
    shares = [_room_above(reading, side) for side in sides]
    whole = sum(shares) or 1.0
    return [
        Load(
            volume_mm3=removed * share / whole,
            floor_mm2=sum(g.area_mm2 for g in side.planes if name_of(g.direction) == side.up),
            wall_mm2=_wall_area(reading, side.up) if index == 0 else 0.0,
            holes=side.holes,
        )
        for index, (share, side) in enumerate(zip(shares, sides, strict=True))
    ]


def _room_above(reading: Reading, side: Orientation) -> float:
    """Volume of the columns between each floor that looks up and a little over the part's top, mm³."""
    up, height = side.up, height_axis(side.up)
    top = reading.box_max_mm[height] if up[0] == "+" else -reading.box_min_mm[height]
    over = 1.0
    return sum(
        level.area_mm2 * (top - level.level_mm + over)
        for group in side.planes
        if name_of(group.direction) == up
        for level in group.levels
    )


def _wall_area(reading: Reading, up: str) -> float:
    return sum(g.area_mm2 for g in reading.planes if abs(along(g.direction, AXES[up])) < WALL_COSINE)


def _saw(blank: BlankProposal, up: str, rules: PlanRules) -> StepProposal:
    """Sawn across its longest side, since bars are bought by section."""
    sizes = sorted(blank.size_mm)
    return StepProposal(StepKind.SAW, "saw the blanks", None, saw_minutes(sizes[0] * sizes[1], rules), 5.0)


def _mill_step(setup: SetupProposal, load: Load, material: Material | None, rules: PlanRules) -> StepProposal:
    work = work_data(material.group, material.name) if material else work_data("")
    minutes = rules.load_min + (
        cutting_minutes(load, setup.tools, work, setup.machine, material) if setup.machine else 0.0
    )
    return StepProposal(
        StepKind.MILL, setup.title, setup.number, minutes, setup_minutes(len(setup.tools), rules), first_piece=True
    )


def _last_steps(reading: Reading, characteristics: int, rules: PlanRules) -> tuple[StepProposal, ...]:
    return (
        StepProposal(StepKind.DEBURR, "deburr", None, deburr_minutes(reading.sharp_edges.length_mm, rules), 0.0),
        StepProposal(StepKind.INSPECT, "inspect", None, inspect_minutes(characteristics, rules), 5.0),
        StepProposal(StepKind.SHIP, "pack and ship", None, 0.5, 0.0),
    )


def _notes(reading: Reading, setups: Sequence[SetupProposal], machines: Sequence[Machine]) -> tuple[str, ...]:
    notes = []
    if not machines:
        notes.append("No machine is in the shop's list yet, so minutes are missing.")
    elif any(setup.machine is None for setup in setups):
        notes.append("The blank is larger than the travel of every machine in the shop's list.")
    sharp = sum(pocket.sharp_corners for pocket in reading.pockets if pocket.closed and pocket.kind == "pocket")
    if sharp:
        said = "inside corners of closed pockets are sharp, and no end mill leaves a sharp one"
        notes.append(f"{sharp} {said}: ask for a radius.")
    threads = sorted({hole.thread_guess for hole in reading.holes if hole.thread_guess})
    if threads:
        sizes = ", ".join(threads)
        notes.append(f"Some holes have the size of a tap drill ({sizes}): if they are threads, add the tap.")
    return tuple(notes)
