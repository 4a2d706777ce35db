"""A routing proposed from what a model says: saw, one op a setup, deburr, inspect, ship."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType

from shopflow.core.cutting.data import DataRow
from shopflow.core.orientation import SQUARE, Angles
from shopflow.core.planning.actuals import Correction
from shopflow.core.planning.blank import BlankProposal, StockIn, propose_blank, stock_in
from shopflow.core.planning.cast import Cast, cast_of, still_needed
from shopflow.core.planning.cast_work import cast_blank, cast_notes, cast_stock, cast_work, held_as_cast
from shopflow.core.planning.directions import height_axis
from shopflow.core.planning.gripping import Stand
from shopflow.core.planning.holding import Holding, holding
from shopflow.core.planning.hole_operations import HoleFacts, SizeLimits, ThreadsShown
from shopflow.core.planning.locating import Locating, grip_note, locating, standing_note
from shopflow.core.planning.minutes import cutting_minutes, deburr_minutes, inspect_minutes, saw_minutes
from shopflow.core.planning.needs import Need, hidden, needs_of, why_out
from shopflow.core.planning.operations import Operation, OperationKind, Speeds
from shopflow.core.planning.orientations import Orientation, orientations
from shopflow.core.planning.outline import outline_note, shared_outline, stock_of_second
from shopflow.core.planning.reach_limits import holder_notes, parallels_note, travel_note, weight_note
from shopflow.core.planning.related import Apart, faces_of, relations, together
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.setting_up import Held, load_minutes, setup_minutes
from shopflow.core.planning.side_work import side_works
from shopflow.core.planning.sights import Account, account, hidden_note
from shopflow.core.planning.tilted import TiltedPlan, tilted_plan, tilted_sides
from shopflow.core.planning.tilts import Tilt, tilts
from shopflow.core.planning.tooling import PickedTool, Wanted, operations_of, picked, wanted
from shopflow.core.planning.undercuts import side_slots
from shopflow.core.solid.reading import Reading
from shopflow.core.types import Machine, Material, Tool, Vector

DEFAULT_RULES = PlanRules()
MINUS = "\u2212"
NO_CORRECTION = Correction()
NOTHING_TYPED: Mapping[str, float] = MappingProxyType({})
NOTHING_SETTLED: Mapping[str, Sequence[Tool]] = MappingProxyType({})


class StepKind(StrEnum):
    SAW = "saw"
    MILL = "mill"
    DEBURR = "deburr"
    INSPECT = "inspect"
    SHIP = "ship"


@dataclass(frozen=True)
class SetupProposal:
    """One clamping. machine: None where the shop's machines are all too small or there is none.

    stock: what is clamped; None without a model. operations: in the order of the work. tilted: how the part stands
    otherwise than by right angles, None where it does not. cautions: what to think about its tools, each as what the
    setup does.
    """

    number: int
    up: str
    title: str
    machine: Machine | None
    holding: Holding
    stock: StockIn | None
    operations: tuple[Operation, ...]
    needs: tuple[Need, ...]
    locating: Locating = Locating()
    tilted: TiltedPlan | None = None
    cautions: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Names the clamping when the plan is proposed again: the side that is up, or the slanted direction."""
        return self.tilted.key if self.tilted else self.up

    @property
    def angles(self) -> Angles:
        return self.tilted.stand.angles if self.tilted else SQUARE

    @property
    def tools(self) -> tuple[PickedTool, ...]:
        """In the order they are first needed."""
        return picked(self.operations)

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """Tools that the crib does not have."""
        return wanted(self.operations)


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
class SetupNote:
    """What to think about in one setup. setup: its number in the proposal. text: what follows the setup's name.

    about: fields of the setup that it speaks of; once a person typed one, it says nothing of what is done.
    """

    setup: int
    text: str
    about: tuple[str, ...] = ()


@dataclass(frozen=True)
class Proposal:
    """A plan to start from. blank: None where there is no model to take it from.

    unreached: what none of the setups reaches. notes: plain sentences, setup_notes: those about one setup. part_mm3:
    volume of the part. tilts: clampings with the part tilted that would reach some of it, where the house rule plans
    none; out_of_reach: what even they do not. apart: what is
    toleranced to one another and cut in several clampings. account: where each face is cut; None without a model.
    """

    blank: BlankProposal | None
    setups: tuple[SetupProposal, ...]
    steps: tuple[StepProposal, ...]
    unreached: tuple[Need, ...]
    notes: tuple[str, ...]
    part_mm3: float = 0.0
    tilts: tuple[Tilt, ...] = ()
    out_of_reach: tuple[Need, ...] = ()
    apart: tuple[Apart, ...] = ()
    setup_notes: tuple[SetupNote, ...] = ()
    account: Account | None = None

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """Tools that the crib does not have, each once."""
        return tuple(dict.fromkeys(want for setup in self.setups for want in setup.wanted))

    @property
    def unreached_words(self) -> list[str]:
        """What none of the setups reaches, equal ones counted."""
        return _counted(need.what for need in self.unreached)

    @property
    def out_of_reach_words(self) -> list[str]:
        """What no setup could reach, with why, equal ones counted."""
        return _counted(why_out(need) for need in self.out_of_reach)


def _counted(words: Iterable[str]) -> list[str]:
    return [f"{count} × {what}" if count > 1 else what for what, count in Counter(words).items()]


def propose(
    reading: Reading,
    *,
    crib: Sequence[Tool],
    machines: Sequence[Machine],
    material: Material | None = None,
    measurements: float = 0.0,
    rules: PlanRules = DEFAULT_RULES,
    sawn_mm: Vector | None = None,
    own: Sequence[DataRow] = (),
    threads: ThreadsShown = ThreadsShown.NOT_SAID,
    correction: Correction = NO_CORRECTION,
    settled: Mapping[str, Sequence[Tool]] = NOTHING_SETTLED,
    over_mm: Mapping[str, float] = NOTHING_TYPED,
    sizes: Sequence[SizeLimits] = (),
    grips_mm: Mapping[str, float] = NOTHING_TYPED,
    cast: Reading | None = None,
) -> Proposal:
    """Plan the part that was read. crib: the tools on hand. machines: in the order the shop prefers them.

    measurements: of a piece, on the average of the lot. sawn_mm: the blank along the model's axes as it comes off the
    stock that was picked, where some was. own: the shop's speeds and feeds. threads: how the model shows them, where
    somebody said so. correction: what the shop took against what was planned. settled: by side, the tools
    that a person picked for its setup, which are then all that it has. over_mm: by side, how far the stock stands over
    the part as a person typed it. sizes: diameters with limits, as typed from the drawing. grips_mm: by side, how
    much is gripped as a person typed it. cast: what the blank's own model says, where it is a solid and
    not sawn, in the coordinates of the part's.
    """
    near = cast_of(reading, cast) if cast is not None else None
    needs, there = still_needed(needs_of(reading, rules), near)
    sides, unreached = orientations(needs, turns_over=near is None)
    unseen = hidden(reading)
    unreached = [*unreached, *unseen]
    found, out_of_reach = tilts(unreached)
    tilted = found if rules.tilted else []
    sides, apart = together(tilted_sides(sides, tilted), relations(reading, [*needs, *unseen]))
    sides, tilted_ones = sides[: len(sides) - len(tilted)], sides[len(sides) - len(tilted) :]
    blank = (
        cast_blank(reading, near)
        if near
        else propose_blank(reading.bbox_mm, reading.volume_mm3, sides[0].up, rules, sawn_mm)
    )
    facts = hole_facts(reading, threads=threads, sizes=sizes, cast=near)
    cutting = (material, own)
    cribs = [settled.get(side.up, crib) for side in sides]
    setups = (
        *_setups(reading, sides, blank, cribs, machines, rules, cutting, facts, over_mm, near),
        *(
            _tilted_setup(tilted_plan(number, side, reading, settled, crib, machines, rules, cutting, facts), number)
            for number, side in enumerate(tilted_ones, len(sides))
        ),
    )
    planned = {id(need) for side in tilted_ones for need in side.needs}
    unreached = [need for need in unreached if id(need) not in planned]
    milling = [_mill_step(setup, material, rules, correction) for setup in setups]
    last = _last_steps(reading, setups, measurements, rules)
    sawn = () if near else (_saw(blank, sides[0].up, rules),)
    steps = (*sawn, *milling, *last)
    otherwise = [*unreached, *there, *(need for side in tilted_ones for need in side.needs)]
    counted = account(reading, [side.up for side in sides], _named(reading, otherwise))
    return Proposal(
        blank,
        setups,
        steps,
        tuple(unreached),
        (
            *cast_notes(needs, there, near, rules.say),
            *_notes(reading, setups, machines, counted, threads=threads),
            *filter(None, [weight_note(near.blank.volume_mm3 if near else blank.volume_mm3, material)]),
        ),
        reading.volume_mm3,
        () if rules.tilted else tuple(found),
        tuple(out_of_reach),
        tuple(apart),
        _setup_notes(setups, rules, grips_mm),
        counted,
    )


def _named(reading: Reading, unreached: Sequence[Need]) -> set[int]:
    """Faces that the plan names, and those that no straight look tells of: of holes, down whose axis a tool goes
    whatever crosses them, and of undercuts that have a cutter of their own.
    """
    of_holes = {face for hole in reading.holes for face in hole.faces}
    of_slots = {face for slot in side_slots(reading) for face in slot.faces}
    return (of_holes | of_slots).union(*(faces_of(need) for need in unreached))


def hole_facts(
    reading: Reading, *, threads: ThreadsShown, sizes: Sequence[SizeLimits] = (), cast: Cast | None = None
) -> HoleFacts:
    """What the file says of its holes' diameters, what a person typed of them, and which of them the blank has."""
    widths: dict[int, float] = {}
    for item in reading.pmi.items:
        is_size = item.kind == "dimension" and item.name == "diameter" and item.unit == "mm"
        if is_size and item.lower is not None and item.upper is not None:
            widths |= {face: min(item.upper - item.lower, widths.get(face, float("inf"))) for face in item.faces}
    cored = {hole.faces: wide for hole in reading.holes if cast and (wide := cast.cored_mm(hole))}
    return HoleFacts(threads=threads, tolerance_mm=widths, typed=tuple(sizes), cored=cored)


def _setups(
    reading: Reading,
    sides: Sequence[Orientation],
    blank: BlankProposal,
    cribs: Sequence[Sequence[Tool]],
    machines: Sequence[Machine],
    rules: PlanRules,
    cutting: tuple[Material | None, Sequence[DataRow]],
    facts: HoleFacts,
    over_mm: Mapping[str, float],
    cast: Cast | None,
) -> tuple[SetupProposal, ...]:
    material, own = cutting
    ups = [side.up for side in sides]
    stocks = [_stock(ups[: n + 1], reading, blank, rules, over_mm, cast) for n in range(len(sides))]
    works = side_works(reading, sides, blank, stocks)
    if cast:
        works = cast_work(works, reading, cast, stocks)
    else:
        works = shared_outline(works, cribs, blank)
        stocks = [
            stock_of_second(stock, work, blank) if n else stock
            for n, (stock, work) in enumerate(zip(stocks, works, strict=True))
        ]
    made = []
    for index, (side, work, stock) in enumerate(zip(sides, works, stocks, strict=True)):
        machine = _machine_for(blank, side.up, machines)
        operations = operations_of(work, cribs[index], rules, Speeds(material, machine, own, rules.hss_plunge), facts)
        stand = Stand(side.up, tuple(one.up for one in sides[:index]), reading)
        one = _setup(index, side, operations, machine, stock, stand, blank, rules, cast)
        shared = outline_note(works, rules) if index == 0 else ""
        said = [shared, travel_note(operations, machine, rules), *holder_notes(stand, side.holes, operations, rules)]
        stands = filter(None, [parallels_note(stand, side.holes, one.holding, rules)])
        held = replace(one.holding, cautions=(*one.holding.cautions, *stands))
        made.append(replace(one, holding=held, cautions=tuple(filter(None, said))))
    return tuple(made)


def _stock(
    ups: Sequence[str],
    reading: Reading,
    blank: BlankProposal,
    rules: PlanRules,
    over_mm: Mapping[str, float],
    cast: Cast | None,
) -> StockIn:
    """Of the last of these setups."""
    if cast:
        return cast_stock(ups, reading, cast)
    index, up = len(ups) - 1, ups[-1]
    stock = stock_in(index, up, reading.bbox_mm, blank.size_mm, rules)
    return replace(stock, over_mm=over_mm[up]) if up in over_mm else stock


def _setup(
    index: int,
    side: Orientation,
    operations: tuple[Operation, ...],
    machine: Machine | None,
    stock: StockIn,
    stand: Stand,
    blank: BlankProposal,
    rules: PlanRules,
    cast: Cast | None,
) -> SetupProposal:
    reading = stand.reading
    held = holding(index, side.up, (reading.box_min_mm, reading.box_max_mm), blank.size_mm, rules, stand)
    if cast and index == 0:
        held = held_as_cast(held, side.up, cast)
    return SetupProposal(
        number=index + 1,
        up=side.up,
        title=f"mill with {side.up.replace('-', MINUS)} up",
        machine=machine,
        holding=held,
        locating=locating(index, side.up, held, reading, stand),
        stock=stock,
        operations=operations,
        needs=side.needs,
    )


def _tilted_setup(plan: TiltedPlan, index: int) -> SetupProposal:
    return SetupProposal(
        number=index + 1,
        up=plan.stand.up,
        title=plan.title,
        machine=plan.machine,
        holding=plan.holding,
        stock=plan.stock,
        operations=plan.operations,
        needs=plan.tilt.needs,
        locating=plan.locating,
        tilted=plan,
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


def _saw(blank: BlankProposal, up: str, rules: PlanRules) -> StepProposal:
    """Sawn across its longest side, since bars are bought by section."""
    sizes = sorted(blank.size_mm)
    return StepProposal(StepKind.SAW, "saw the blanks", None, saw_minutes(sizes[0] * sizes[1], rules), 5.0)


def _mill_step(
    setup: SetupProposal, material: Material | None, rules: PlanRules, correction: Correction
) -> StepProposal:
    """Loading and cutting a piece; without a machine nobody knows how long that takes."""
    cutting = cutting_minutes(setup.operations, setup.machine)
    held = Held.VISE if setup.holding.grip_mm is not None else Held.CLAMPS
    minutes = None
    if cutting is not None and setup.machine is not None:
        group = material.group if material else ""
        plain = load_minutes(rules, held=held) + cutting
        minutes = plain * correction.of(setup.machine.name, group).ratio
    is_aslant, tools = setup.tilted is not None, len(setup.tools)
    to_set_up = setup_minutes(tools, rules, is_vise=held is Held.VISE, is_aslant=is_aslant)
    to_set_up *= correction.of_setting_up(held).ratio
    return StepProposal(StepKind.MILL, setup.title, setup.number, minutes, to_set_up, first_piece=True)


def _last_steps(
    reading: Reading, setups: Sequence[SetupProposal], measurements: float, rules: PlanRules
) -> tuple[StepProposal, ...]:
    """Hands break the edges that no setup breaks on the machine."""
    broken = sum(one.length_mm for setup in setups for one in setup.operations if one.kind is OperationKind.EDGES)
    by_hand = max(reading.sharp_edges.length_mm - broken, 0.0)
    return (
        StepProposal(StepKind.DEBURR, "deburr", None, deburr_minutes(by_hand, rules), 0.0),
        StepProposal(StepKind.INSPECT, "inspect", None, inspect_minutes(measurements, rules), 5.0),
        StepProposal(StepKind.SHIP, "pack and ship", None, 0.5, 0.0),
    )


def _setup_notes(
    setups: Sequence[SetupProposal], rules: PlanRules, grips_mm: Mapping[str, float]
) -> tuple[SetupNote, ...]:
    made = [SetupNote(one.number, text, ("workholding",)) for one in setups for text in one.holding.cautions]
    made += [SetupNote(one.number, text, ("tools",)) for one in setups for text in one.cautions]
    for one in setups:
        grip_mm = grips_mm.get(one.key, one.holding.grip_mm)
        if one.tilted:
            text = standing_note(grip_mm, one.tilted.height_mm, rules)
        else:
            text = grip_note(one.up, grip_mm, one.stock.size_mm, rules) if one.stock else ""
        made += [SetupNote(one.number, text)] if text else []
    return tuple(made)


def _notes(
    reading: Reading,
    setups: Sequence[SetupProposal],
    machines: Sequence[Machine],
    counted: Account,
    *,
    threads: ThreadsShown,
) -> tuple[str, ...]:
    notes = list(filter(None, [hidden_note(counted)]))
    if not machines:
        notes.append("No machine is in the shop's list yet, so minutes are missing.")
    elif any(setup.machine is None and not setup.tilted for setup in setups):
        notes.append("The blank is larger than the travel of every machine in the shop's list.")
    sharp = sum(pocket.sharp_corners for pocket in reading.pockets if pocket.closed and pocket.kind == "pocket")
    if sharp:
        said = "inside corners of closed pockets are sharp, and no end mill leaves a sharp one"
        notes.append(f"{sharp} {said}: ask for a radius.")
    guesses = sorted({hole.thread_guess for hole in reading.holes if hole.thread_guess})
    if guesses and not threads:
        sizes = ", ".join(guesses)
        asked = "if they are threads, say so at the intake, and taps are planned."
        notes.append(f"Some holes have the size of a tap drill ({sizes}): {asked}")
    return tuple(notes)
