"""One program reviewed from beginning to end, in memory: text, every setup of its plan, and what both found."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from shopflow.core import nc
from shopflow.core.cutting.time import cycle_time
from shopflow.core.errors import Unreadable
from shopflow.core.nc import offset_number
from shopflow.core.review import CUT_RULES, TEXT_RULES, Finding, heaviest_first, run
from shopflow.core.review.house_rules import HouseRules
from shopflow.core.review.setup_values import SetupFile
from shopflow.core.review.simulation import MEMORY, Bench, Place, SetupCut
from shopflow.core.solid import Reading
from shopflow.core.stock.air import AirCut
from shopflow.core.stock.blanks import BlankMesh
from shopflow.core.stock.columns import Columns


@dataclass(frozen=True)
class SetupResult:
    """Of one setup. gouge_mm, stock_left_mm: against the model, None where `not_compared` says why not."""

    number: int
    removed_mm3: float
    grid_mm: float
    gouge_mm: float | None
    stock_left_mm: float | None
    air: tuple[AirCut, ...]
    not_compared: str = ""


@dataclass(frozen=True)
class WholeReview:
    """findings: of text and setups, heaviest first. cycle_time_s: of the whole program on the setup's machine."""

    program: nc.Program
    findings: tuple[Finding, ...]
    setups: tuple[SetupResult, ...]
    cycle_time_s: float


def review_whole(
    data: bytes,
    said: SetupFile,
    reading: Reading,
    *,
    name: str = "",
    memory: int = MEMORY,
    blank: Reading | None = None,
) -> WholeReview:
    """Everything that is found in a program. reading: of the model, with its mesh. memory: bytes of columns. blank: of
    the model that the blank is, where the setup file names one.

    Raises Unreadable for what is no program text, and LimitReached where stock or program are too large.
    """
    solid = blank_mesh(blank)
    if solid is not None and said.form.model:
        said = replace(said, blank=solid.box, smallest=solid.box)
    tools = {tool.number: tool for tool in said.tools}
    program = nc.read(data, control=said.machine.control, name=name, tools=tools)
    seconds = cycle_time(program.motions, said.machine).row_s
    rules = HouseRules(said.limits)

    judged = partial(
        run, program, machine=said.machine, tools=tools, house_rules=rules, material=said.material,
        own_data=said.own_data, seconds=seconds, simulated=True, on_hand=said.on_hand,
    )  # fmt: skip
    found, results = list(judged(plan=said.plan, rules=TEXT_RULES)), []
    bench = Bench(
        program,
        tools,
        said.machine,
        seconds,
        said.limits,
        said.material,
        said.threads_at_major,
        memory=memory,
        blank=solid,
    )
    if len(program.motions):
        for done in bench.setups(places_of(said), reading, reading.mesh, _left_before(said, reading, memory, solid)):
            found += judged(cut=done.cut, rules=CUT_RULES)
            results.append(_result(done))
    return WholeReview(program, heaviest_first(found), tuple(results), float(seconds.sum()))


def blank_mesh(blank: Reading | None) -> BlankMesh | None:
    """The solid of a blank's model as a simulation takes it; None where there is none. Raises Unreadable for several
    solids: which of them is the blank nobody said."""
    if blank is None or blank.mesh is None:
        return None
    if blank.needs_choice:
        raise Unreadable(
            f"The model of the blank holds {len(blank.solids)} solids.", mend="Export the blank alone as one solid."
        )
    return BlankMesh(blank.mesh.points, blank.mesh.triangles)


def _left_before(said: SetupFile, reading: Reading, memory: int, blank: BlankMesh | None) -> tuple[Columns, ...]:
    """What the earlier programs leave, in the part's coordinates; none where there is no earlier one."""
    left: tuple[Columns, ...] = ()
    tools = {tool.number: tool for tool in said.tools}
    for name, data in said.earlier:
        program = nc.read(data, control=said.machine.control, name=name, tools=tools)
        seconds = cycle_time(program.motions, said.machine).row_s
        bench = Bench(program, tools, said.machine, seconds, said.limits, memory=memory, blank=blank)
        for done in bench.setups(places_of(said, name), reading, None, left):
            left = done.left_of_part
    return left


def places_of(said: SetupFile, program: str = "") -> list[Place]:
    """The setups of a program as a simulation takes them, "" for the one under review."""
    return [
        Place(
            block.number, offset_number(block.work_offset), block.placement, said.blank, said.smallest, block.others,
            block.solids, said.form,
        )
        for block in said.blocks_of(program)
    ]  # fmt: skip


def _result(done: SetupCut) -> SetupResult:
    compared, removal = done.cut.comparison, done.cut.removal
    return SetupResult(
        number=done.place.number,
        removed_mm3=float(removal.volume_mm3.sum()),
        grid_mm=float(removal.grid.pitch),
        gouge_mm=compared.gouge_mm if compared else None,
        stock_left_mm=compared.stock_left_mm if compared else None,
        air=done.cut.air,
        not_compared=done.part if isinstance(done.part, str) else "",
    )
