"""SETUP.toml: everything that a review looks at besides the program, as a text file beside the files that it names.

    schema = 1
    model = "plate.step"
    tools = "tools.csv"
    control = "calculator"

    [machine] …   [material] …   [blank] …   [house_rules] …   [plan] …   [[setup]] …

Paths are relative to the file's own folder. What it does not know it refuses, so that nothing is passed over.
"""

from __future__ import annotations

import math
import operator
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from decimal import Decimal
from errno import ENOENT
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any, TypeVar

from shopflow.core.cutting.power import read_curve
from shopflow.core.cutting.rows import DataRow, read_csv
from shopflow.core.errors import CoreError, Unreadable
from shopflow.core.nc import CONTROLS, read_control
from shopflow.core.nc.tool_table import read_tool_table
from shopflow.core.orientation import AXES, rotation
from shopflow.core.review.finding import PersonTouch, PlanFacts
from shopflow.core.review.house_rules import HouseRules
from shopflow.core.review.life import Edge, LifeUnit, OnHand, Wear
from shopflow.core.stock.blanks import PLAIN, BlankForm
from shopflow.core.stock.compare_plan import OtherSetups
from shopflow.core.stock.holding import Solid
from shopflow.core.stock.shapes import Hole
from shopflow.core.types import Box, ControlProfile, Machine, Material, Placement, Tool, Vector

SCHEMA = 1

Side = str | Vector
"""A direction of the model: the name of one of AXES, or a vector where it lies along none."""

LETTERS = ("X", "Y", "Z")

AS_MODEL: Box = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
"""In place of the box of a blank that a model gives: the file does not say it, and the model is not read here."""

_TOP = frozenset(
    {"schema", "model", "solid", "tools", "control", "cutting_data", "machine", "material", "blank", "house_rules",
     "plan", "setup", "threads_at_major", "lot", "wear"}
)  # fmt: skip


@dataclass(frozen=True)
class SetupBlock:
    """One [[setup]]: what is up, which axis of the model lies along the machine's X+, and where on the model X0 Y0 Z0
    lies, mm. solids: workholding in the setup's coordinates. later, known, unknown: which sides the job's other setups
    work on, of which what is known, as `OtherSetups` says. program: file of an
    earlier program that cuts this setup, "" where it is the one under review. tools: numbers that the plan has for this
    setup; the review asks for those of the whole program ([plan] tools). angles_deg: about the machine's X, Y and Z, in
    this order, by which it stands otherwise than by right angles."""

    number: int
    work_offset: str
    up: str
    along_x: str
    zero_mm: Vector
    solids: tuple[Solid, ...] = ()
    later: tuple[Side, ...] = ()
    known: tuple[Side, ...] = ()
    unknown: tuple[Side, ...] = ()
    program: str = ""
    tools: tuple[int, ...] = ()
    angles_deg: Vector = (0.0, 0.0, 0.0)

    @property
    def placement(self) -> Placement:
        """setup point = rotation · part point + origin; the rotation's rows are the machine's axes in the model's."""
        rows = rotation(self.up, self.along_x, self.angles_deg)
        x, y, z = (0.0 - sum(map(operator.mul, rows[at : at + 3], self.zero_mm)) for at in (0, 3, 6))
        return Placement(rows, (x, y, z))

    @property
    def looks_up(self) -> Side:
        """What looks at the spindle: the name of an axis, or a direction of the model."""
        if not any(self.angles_deg):
            return self.up
        x, y, z = self.placement.rotation[6:9]
        return x, y, z

    @property
    def others(self) -> OtherSetups:
        return OtherSetups(*(tuple(map(_way, sides)) for sides in (self.later, self.known, self.unknown)))


@dataclass(frozen=True)
class SetupFile:
    """What the file says, with what it names read. model: path as written. blank, smallest: the largest and the
    smallest one, boxes in the model's coordinates, mm; AS_MODEL where `form` names the model of the blank. limits: what
    the shop set of the house rules. threads_at_major: whether the model has its threads at the major diameter. form: of
    the blank. earlier: (name, bytes) of the programs that run before, in their order."""

    model: str
    machine: Machine
    blank: Box
    smallest: Box
    setups: tuple[SetupBlock, ...]
    tools: tuple[Tool, ...]
    solid: int | None = None
    material: Material | None = None
    limits: Mapping[str, Decimal] = field(default_factory=dict)
    own_data: tuple[DataRow, ...] = ()
    plan: PlanFacts = PlanFacts()
    threads_at_major: bool = False
    form: BlankForm = PLAIN
    earlier: tuple[tuple[str, bytes], ...] = ()
    on_hand: OnHand = OnHand()

    def blocks_of(self, program: str = "") -> tuple[SetupBlock, ...]:
        """The setups that a program cuts, "" for the one under review."""
        return tuple(block for block in self.setups if block.program == program)


def read_setup_file(path: Path) -> SetupFile:
    """The setup with the files that it names, except the model. Raises Unreadable with the place and what is wrong."""
    try:
        text = path.read_bytes()
    except OSError as error:
        raise Unreadable(f"The setup file cannot be read: {error}", where=path.name) from error
    return _read(text, path.name, lambda name: (path.parent / name).read_bytes())


def read_setup_bytes(files: Mapping[str, bytes], name: str = "SETUP.toml") -> SetupFile:
    """The same from bytes by file name, without what earlier programs hold. Raises Unreadable."""

    def opened(wanted: str) -> bytes:
        if wanted not in files:
            raise FileNotFoundError(ENOENT, "it is not among the files sent")
        return files[wanted]

    return _read(files[name], name, opened, has_programs=False)


def _read(text: bytes, where: str, opened: Callable[[str], bytes], *, has_programs: bool = True) -> SetupFile:
    try:
        said = tomllib.loads(text.decode("utf-8"), parse_float=Decimal)
    except UnicodeDecodeError as error:
        raise Unreadable(f"The setup file cannot be read: {error}", where=where) from error
    except tomllib.TOMLDecodeError as error:
        raise Unreadable(f"The setup file is no TOML: {error}", where=where) from error
    try:
        return _Reader(opened, has_programs).setup_file(said)
    except _Wrong as error:
        raise Unreadable(str(error), where=where, mend="README.md has a full example.") from error


class _Wrong(CoreError):
    """A value of the file is not what it should be."""


@dataclass(frozen=True)
class _Reader:
    """opened: the bytes of a file by its relative name, or OSError. has_programs: whether earlier programs are read."""

    opened: Callable[[str], bytes]
    has_programs: bool

    def setup_file(self, said: dict[str, Any]) -> SetupFile:
        _only(said, _TOP, "the file")
        if said.get("schema") != SCHEMA:
            raise _Wrong(f"schema is {said.get('schema')!r}; this version reads schema {SCHEMA}.")
        given = _need(said, "setup", list)
        blocks = tuple(_with_others(given, [_setup(one, number) for number, one in enumerate(given, start=1)]))
        numbers, offsets = [one.number for one in blocks], [(one.program, one.work_offset) for one in blocks]
        if not blocks or len(set(numbers)) != len(numbers) or len(set(offsets)) != len(offsets):
            raise _Wrong("There is to be at least one [[setup]], each with a number and a work offset of its own.")
        names = list(dict.fromkeys(one.program for one in blocks))
        if names[-1] or [one.program for one in blocks] != sorted((one.program for one in blocks), key=names.index):
            raise _Wrong("Setups of earlier programs (program = …) come first, those of the program under review last.")
        largest, smallest = _blank(_need(said, "blank", dict))
        form = _form(said["blank"])
        self._relative(form.model)
        rules = {key: Decimal(str(value)) for key, value in said.get("house_rules", {}).items()}
        try:
            HouseRules(rules)
        except ValueError as error:
            raise _Wrong(f"house_rules: {error}.") from error
        control = self._control(said.get("control", "plain"))
        return SetupFile(
            model=self._relative(_need(said, "model", str)),
            solid=said.get("solid"),
            machine=replace(_machine(_need(said, "machine", dict)), control=control),
            blank=largest,
            smallest=smallest,
            setups=blocks,
            tools=tuple(read_tool_table(self._bytes(_need(said, "tools", str))).values()),
            material=_material(said["material"]) if "material" in said else None,
            limits=rules,
            own_data=self._own_data(said.get("cutting_data", "")),
            plan=_plan(said.get("plan", {}), blocks),
            on_hand=_on_hand(said),
            earlier=tuple((name, self._bytes(name) if self.has_programs else b"") for name in names[:-1]),
            threads_at_major=said.get("threads_at_major") is True,
            form=form,
        )

    def _relative(self, name: str) -> str:
        if PurePosixPath(name).is_absolute() or PureWindowsPath(name).drive or PureWindowsPath(name).root:
            raise _Wrong(f"“{name}” is an absolute path; paths are relative to the setup file's folder.")
        return name

    def _bytes(self, name: str) -> bytes:
        try:
            return self.opened(self._relative(name))
        except OSError as error:
            raise _Wrong(f"“{name}” cannot be read: {error.strerror}.") from error

    def _control(self, name: str) -> ControlProfile:
        return CONTROLS[name] if name in CONTROLS else read_control(self._bytes(name)).profile

    def _own_data(self, name: str) -> tuple[DataRow, ...]:
        return tuple(read_csv(self._bytes(name).decode("utf-8"), is_own=True)) if name else ()


def _need(said: Mapping[str, Any], key: str, kind: type, where: str = "") -> Any:
    if not isinstance(said.get(key), kind):
        raise _Wrong(f"{where or 'the file'}: “{key}” is missing or of the wrong kind.")
    return said[key]


def _only(said: Mapping[str, Any], known: frozenset[str], where: str) -> None:
    unknown = sorted(set(said) - known)
    if unknown:
        raise _Wrong(f"{where}: “{unknown[0]}” is not known here; known are {', '.join(sorted(known))}.")


def _numbers(value: Any, count: int, where: str) -> tuple[float, ...]:
    is_list = isinstance(value, list) and len(value) == count
    if not is_list or not all(isinstance(one, (int, Decimal)) and not isinstance(one, bool) for one in value):
        raise _Wrong(f"{where} is to be {count} numbers.")
    return tuple(float(one) for one in value)


def _whole(value: Any, where: str) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise _Wrong(f"{where} is to be a list of whole numbers.")
    return value


def _vector(value: Any, where: str) -> Vector:
    x, y, z = _numbers(value, 3, where)
    return x, y, z


def _box(value: Any, where: str) -> Box:
    if not isinstance(value, list) or len(value) != 2:
        raise _Wrong(f"{where} is to be the lowest corner and the highest: [[x, y, z], [x, y, z]].")
    low, high = _vector(value[0], where), _vector(value[1], where)
    if any(a >= b for a, b in zip(low, high, strict=True)):
        raise _Wrong(f"{where}: its second corner must lie above the first in X, Y and Z.")
    return low, high


def _blank(said: dict[str, Any]) -> tuple[Box, Box]:
    _only(said, frozenset({"largest_mm", "smallest_mm", "round_along", "hole", "model"}), "[blank]")
    if "model" in said:
        beside = sorted(set(said) - {"model"})
        if beside:
            raise _Wrong(f"[blank] model gives size and shape, one for all blanks: leave out {beside[0]}.")
        return AS_MODEL, AS_MODEL
    largest = _box(said.get("largest_mm"), "[blank] largest_mm")
    return largest, _box(said["smallest_mm"], "[blank] smallest_mm") if "smallest_mm" in said else largest


def _form(said: dict[str, Any]) -> BlankForm:
    if "model" in said:
        if not _need(said, "model", str, "[blank]"):
            raise _Wrong("[blank] model is the name of a STEP file.")
        return BlankForm(model=said["model"])
    along = said.get("round_along", "")
    if along not in ("", *LETTERS):
        raise _Wrong("[blank] round_along is X, Y or Z, the model's axis that the round lies along.")
    return BlankForm(LETTERS.index(along) if along else -1, tuple(_hole(one) for one in said.get("hole", ())))


def _hole(said: dict[str, Any]) -> Hole:
    where = "[[blank.hole]]"
    _only(said, frozenset({"axis", "at_mm", "diameter_mm"}), where)
    if said.get("axis") not in LETTERS:
        raise _Wrong(f"{where} axis is X, Y or Z.")
    (diameter,) = _numbers([said.get("diameter_mm")], 1, f"{where} diameter_mm")
    if not diameter > 0.0:
        raise _Wrong(f"{where} diameter_mm is to be above 0.")
    first, second = _numbers(said.get("at_mm"), 2, f"{where} at_mm")
    return Hole(LETTERS.index(said["axis"]), (first, second), diameter)


_VECTORS = frozenset({"travel_mm", "rapid_mm_min", "acceleration_mm_s2"})
MACHINE_KEYS = tuple(one.name for one in fields(Machine) if one.name != "control")
MATERIAL_KEYS = tuple(one.name for one in fields(Material))


def _machine(said: dict[str, Any]) -> Machine:
    _only(said, frozenset(MACHINE_KEYS), "[machine]")
    given = {
        key: _vector(value, f"[machine] {key}") if key in _VECTORS else _plain(value)
        for key, value in said.items()
        if key != "power_curve"
    }
    if "power_curve" in said:
        given["power_curve"] = _curve(said["power_curve"])
    return _made(Machine, given, "[machine]")


def _curve(value: Any) -> tuple[tuple[float, float], ...]:
    where = "[machine] power_curve"
    if not isinstance(value, list):
        raise _Wrong(f"{where} is to be pairs of rpm and kW: [[1500, 7.5], [8000, 7.5]].")
    pairs = [_numbers(pair, 2, f"{where}: each pair") for pair in value]
    try:
        return read_curve(", ".join(f"{rpm!r} {kw!r}" for rpm, kw in pairs))
    except ValueError as error:
        raise _Wrong(f"{where}: {error}.") from error


def _material(said: dict[str, Any]) -> Material:
    _only(said, frozenset(MATERIAL_KEYS), "[material]")
    return _made(Material, {key: _plain(value) for key, value in said.items()}, "[material]")


def _plain(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value


Made = TypeVar("Made", Machine, Material)


def _made(kind: type[Made], given: dict[str, Any], where: str) -> Made:
    try:
        return kind(**given)
    except TypeError as error:
        raise _Wrong(f"{where}: {str(error).partition(' ')[2]}.") from error


_OFFSET = re.compile(r"G5[4-9]|G59\.[1-3]|G54\.1 ?P\d{1,3}", re.ASCII)
_SETUP = frozenset(
    {"program", "number", "work_offset", "up", "along_x", "angles_deg", "zero_mm", "workholding", "later", "known",
     "unknown", "tools"}
)  # fmt: skip


def _setup(said: dict[str, Any], number: int) -> SetupBlock:
    where = f"[[setup]] {number}"
    _only(said, _SETUP, where)
    up, along = said.get("up", "+Z"), said.get("along_x", "+X")
    if up not in AXES or along not in AXES or up[1] == along[1]:
        raise _Wrong(f"{where}: up and along_x are two of {', '.join(AXES)} that are square to each other.")
    offset = said.get("work_offset", "G54")
    if not _OFFSET.fullmatch(str(offset)):
        raise _Wrong(f"{where}: “{offset}” is no work offset (G54 to G59, G59.1 to G59.3, G54.1 P1 …).")
    sides = {key: tuple(_side(one, where) for one in said.get(key, ())) for key in ("later", "known", "unknown")}
    return SetupBlock(
        number=int(said.get("number", number)),
        work_offset=offset,
        up=up,
        along_x=along,
        zero_mm=_vector(said.get("zero_mm"), f"{where} zero_mm"),
        program=str(said.get("program", "")),
        tools=tuple(_whole(one, f"{where} tools") for one in said.get("tools", ())),
        angles_deg=_vector(said["angles_deg"], f"{where} angles_deg") if "angles_deg" in said else (0.0, 0.0, 0.0),
        solids=tuple(_solid(one, where) for one in said.get("workholding", ())),
        **sides,
    )


def _side(said: Any, where: str) -> Side:
    if isinstance(said, str) and said in AXES:
        return said
    if not isinstance(said, list) or not any(said):
        raise _Wrong(f"{where}: later, known and unknown are lists of {', '.join(AXES)}, or of directions [x, y, z].")
    return _way(_vector(said, f"{where}: a direction"))


def _way(side: Side) -> Vector:
    """Of length 1."""
    if isinstance(side, str):
        return AXES[side]
    length = math.hypot(*side)
    return side[0] / length, side[1] / length, side[2] / length


def _with_others(said: list[dict[str, Any]], blocks: list[SetupBlock]) -> Iterator[SetupBlock]:
    """What a block does not say of others follows from the file: those above are known, those below come later."""
    for index, (given, block) in enumerate(zip(said, blocks, strict=True)):
        above, below = ([one.looks_up for one in part] for part in (blocks[:index], blocks[index + 1 :]))
        yield replace(
            block,
            known=block.known if "known" in given else tuple(dict.fromkeys(above)),
            later=block.later if "later" in given else tuple(dict.fromkeys(below)),
        )


def _solid(said: dict[str, Any], where: str) -> Solid:
    _only(said, frozenset({"name", "box_mm"}), f"{where} workholding")
    return Solid(str(said.get("name", "workholding")), _box(said.get("box_mm"), f"{where} workholding box_mm"))


def _on_hand(said: dict[str, Any]) -> OnHand:
    lot, wear = said.get("lot", {}), []
    _only(lot, frozenset({"pieces"}), "[lot]")
    for one in said.get("wear", ()):
        _only(one, frozenset({"tool", "edge", "left", "unit", "finishes"}), "[[wear]]")
        number = int(_need(one, "tool", int, "[[wear]]"))
        try:
            edge, unit = Edge(one.get("edge", Edge.SHARP)), LifeUnit(one.get("unit", LifeUnit.MINUTES))
        except ValueError as error:
            raise _Wrong(f"[[wear]] of tool {number}: {error}.") from error
        left = float(one["left"]) if "left" in one else None
        wear.append(Wear(number, edge, left, unit, one.get("finishes") is True))
    return OnHand(int(lot.get("pieces", 0)), tuple(wear))


def _plan(said: dict[str, Any], blocks: tuple[SetupBlock, ...]) -> PlanFacts:
    _only(said, frozenset({"minutes", "tools", "order", "touch"}), "[plan]")
    by_number = {one.number: one.work_offset for one in blocks}
    touches = []
    for one in said.get("touch", ()):
        _only(one, frozenset({"after_setup", "reason", "work_offset", "next_work_offset"}), "[[plan.touch]]")
        after = int(_need(one, "after_setup", int, "[[plan.touch]]"))
        here, later = by_number.get(after, ""), by_number.get(after + 1, "")
        offsets = one.get("work_offset", here), one.get("next_work_offset", later)
        touches.append(PersonTouch(after, str(one.get("reason", "")), *offsets))
    order = said.get("order", ())
    by_offset = order if isinstance(order, dict) else {}
    return PlanFacts(
        person_touches=tuple(touches),
        work_offsets=tuple(dict.fromkeys(one.work_offset for one in blocks if not one.program)),
        tools=tuple(int(number) for number in said.get("tools", ())),
        minutes=float(said.get("minutes", 0)),
        order=() if by_offset else tuple(int(number) for number in order),
        orders=tuple((offset, tuple(int(number) for number in tools)) for offset, tools in by_offset.items()),
    )
