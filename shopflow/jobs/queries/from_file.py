"""What a setup file (SETUP.toml) says beside what the plan of a job says: before anything of it is taken."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from itertools import chain
from pathlib import PurePosixPath
from typing import Any

from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.measure import Measure, parse
from shopflow.core.planning.directions import height_axis
from shopflow.core.review.setup_values import SetupBlock, SetupFile
from shopflow.core.stock.holding import Solid
from shopflow.core.types import Box, Vector
from shopflow.jobs.models import WORK_OFFSETS, Job, JobFile, Setup, Touch
from shopflow.jobs.queries.holding import blank_form, blank_range_of, holding_of, stock_box
from shopflow.jobs.queries.model import reading_of
from shopflow.jobs.queries.zero import part_box, zero_mm
from shopflow.records.canonical import digest
from shopflow.shop.models import Machine, Tool

CLOSE_MM = 1e-5
"""Lengths that differ by less are the same: a file's numbers are written to the millionth of a millimetre."""
ANGLES = ("tilt_x", "tilt_y", "turn_z")
TABLE = "table"
_AFTER = re.compile(r"(.*), after T(\d+)", re.DOTALL)


@dataclass(frozen=True)
class Change:
    """One thing that the file says in another way than the plan. was: "" where the plan says nothing yet."""

    words: str
    was: str
    becomes: str


@dataclass(frozen=True)
class Block:
    """A [[setup]] of the file beside the setup of that number; setup: None where the job has none yet.

    typed: fields as `actions.change_setup` takes them, only those that differ. tools: of the crib, to be added.
    touches: (reason, tool or None) of stops to be added. told: what of the block is not taken, and why.
    """

    said: SetupBlock
    number: int
    setup: Setup | None
    typed: dict[str, Any]
    changes: list[Change]
    tools: list[Tool]
    touches: list[tuple[str, Tool | None]]
    told: list[str]

    @property
    def is_same(self) -> bool:
        return self.setup is not None and not (self.changes or self.tools or self.touches)

    @property
    def overwrites(self) -> bool:
        """Whether something that the plan says now would be replaced."""
        return any(change.was for change in self.changes)


class FromFile:
    """A read setup file beside a job. Raises NotPossible while the model is not read: a blank lies on the part."""

    def __init__(self, job: Job, said: SetupFile) -> None:
        reading = reading_of(job)
        if reading is None:
            raise NotPossible(_("The model of the job is not read yet: where blank and zero lie cannot be told."))
        self.job, self.said, self.reading = job, said, reading

    @cached_property
    def blocks(self) -> list[Block]:
        setups = {setup.number: setup for setup in self.job.setups.select_related("machine").prefetch_related("tools")}
        rows, following = [], len(setups) + 1
        for index, block in enumerate(self.said.setups):
            setup = setups.get(block.number)
            number, following = (block.number, following) if setup else (following, following + 1)
            rows.append(self._block(block, number, setup, is_first=index == 0))
        return rows

    @cached_property
    def machine(self) -> Machine | None:
        return Machine.objects.filter(name=self.said.machine.name).first()

    @cached_property
    def state(self) -> str:
        """Changes with anything that would be taken, so that nobody takes another thing than was shown."""
        return digest(
            [
                [one.number, [[c.words, c.was, c.becomes] for c in one.changes], [t.number for t in one.tools],
                 [reason for reason, _tool in one.touches]]
                for one in self.blocks
            ]
        )  # fmt: skip

    @property
    def is_same(self) -> bool:
        return all(block.is_same for block in self.blocks)

    def told(self) -> Iterator[str]:
        """What the file says of things that belong to the whole shop or order, and that are not taken from it."""
        model = self.job.files.filter(kind=JobFile.Kind.MODEL).first()
        if model and model.name != self.said.model:
            yield _("The model of this job is %s: see that it is the same part in the same place.") % model.name
        if self.machine is None:
            yield _("The shop has no machine “%s”: no machine is set.") % self.said.machine.name
        material = self.said.material
        here = self.job.material
        if material and (here is None or here.name != material.name):
            said = {"file": material.name, "job": here or _("none yet")}
            yield _("The file is for %(file)s; the material of the job stays: %(job)s.") % said
        if self.said.limits:
            limits = ", ".join(f"{key} {value}" for key, value in sorted(self.said.limits.items()))
            yield _("House rules that the file sets (%s) are not taken: they hold for the whole shop.") % limits
        yield from self._told_tools()
        if self.said.plan.minutes or self.said.plan.order:
            yield _("Minutes and order of tools come from the plan's operations, which such a file does not hold.")

    def _told_tools(self) -> Iterator[str]:
        crib = {tool.number: tool for tool in Tool.objects.filter(number__in=[one.number for one in self.said.tools])}
        for said in self.said.tools:
            here = crib.get(said.number)
            if here is None:
                yield _("T%(n)d (%(tool)s) is not in the crib.") % {"n": said.number, "tool": said.name}
                continue
            core = here.as_core()
            if core.shape != said.shape or abs(core.diameter_mm - said.diameter_mm) > CLOSE_MM:
                words = {"n": said.number, "file": f"{said.diameter_mm:g} mm {said.shape.value}", "here": here.name}
                yield _("T%(n)d is a %(file)s in the file; in the crib it is “%(here)s”.") % words

    def _block(self, said: SetupBlock, number: int, setup: Setup | None, *, is_first: bool) -> Block:
        at = setup or Setup(job=self.job, number=number)
        told: list[str] = []
        wanted: dict[str, Any] = {"up": said.up, "along_x": said.along_x}
        angles = {name: Decimal(f"{at:.4f}") for name, at in zip(ANGLES, said.angles_deg, strict=True)}
        wanted |= {name: angle for name, angle in angles.items() if setup or angle}
        if self.machine:
            wanted["machine"] = self.machine
        offset = {code: key for key, code in WORK_OFFSETS}.get(said.work_offset)
        if offset is None:
            told.append(_("%s is no work offset that a plan here can name.") % said.work_offset)
        else:
            wanted["work_offset"] = offset
        if not _same(zero_mm(at) if setup else None, said.zero_mm):
            wanted |= {f"zero_{axis}": length(value) for axis, value in zip("xyz", said.zero_mm, strict=True)}
        wanted |= self._blank(at, said, told, is_first=is_first)
        typed = {name: value for name, value in wanted.items() if setup is None or not _is(setup, name, value)}
        typed |= self._holding(at, said, typed, told)
        tools = list(Tool.objects.filter(number__in=set(said.tools) - _numbers(setup)).order_by("number"))
        stays = sorted(_numbers(setup) - set(said.tools))
        if stays and said.tools:
            names = ", ".join(f"T{one}" for one in stays)
            told.append(_("%s: in the plan and not in the file; what the plan has stays.") % names)
        changes = [Change(_words(name), _shown(at, name) if setup else "", _text(at, name, value))
                   for name, value in typed.items()]  # fmt: skip
        touches = list(self._touches(said, setup))
        return Block(said, number, setup, typed, changes, tools, touches, told)

    def _blank(self, at: Setup, said: SetupBlock, told: list[str], *, is_first: bool) -> dict[str, Any]:
        """Sizes of the blank as a plan has them: centred on the part sideways, so much over it on top."""
        if self.said.form.model:
            return self._blank_model(at, told) if is_first else {}
        has_own = at.pk and at.blank_x and not is_first
        if has_own or (at.pk and at.up == said.up and self._is_same_blank(at)):
            return {}
        fields = as_typed_blank(self.said.blank, self.said.smallest, part_box(self.reading), said.up)
        if fields is None:
            if is_first:
                told.append(_("The blank of the file does not lie centred on the part: type its sizes yourself."))
            return {}
        form = self.said.form
        if is_first and (form.round_along >= 0 or form.holes):
            fields["blank_round"] = "XYZ"[form.round_along] if form.round_along >= 0 else ""
            fields["blank_holes"] = "\n".join(
                " ".join(["XYZ"[hole.axis], *(_plain(one) for one in (*hole.at, hole.diameter_mm))])
                for hole in form.holes
            )
        return fields

    def _blank_model(self, at: Setup, told: list[str]) -> dict[str, Any]:
        """The file of the job that is called as the file says; told where the job has none."""
        name = PurePosixPath(self.said.form.model).name
        names = [name, name.removeprefix("blank ")]
        found = self.job.files.filter(kind=JobFile.Kind.BLANK, name__in=names).first()
        if found is None:
            told.append(_("The blank of the file is a model, %s: send it to the job as the model of its blank.") % name)
            return {}
        return {"blank_file": found}

    def _is_same_blank(self, at: Setup) -> bool:
        ranges = blank_range_of(at, self.reading)
        boxes = ranges and [*ranges[0], *ranges[1]]
        return bool(
            boxes and blank_form(at) == self.said.form and _all_same(boxes, [*self.said.blank, *self.said.smallest])
        )

    def _holding(self, at: Setup, said: SetupBlock, typed: dict[str, Any], told: list[str]) -> dict[str, Any]:
        """Workholding as boxes, the table as the height under the blank; nothing where the plan's own is the same."""
        taken = _as_if(at, typed)
        if not said.solids or (at.pk and _same_solids(holding_of(taken, self.reading), said.solids)):
            return {}
        own = [solid for solid in said.solids if solid.name != TABLE]
        fields: dict[str, Any] = {"held_by": Setup.HeldBy.CLAMPS, "solids": "\n".join(map(_line, own))}
        table, stock = next((one for one in said.solids if one.name == TABLE), None), stock_box(taken, self.reading)
        if table and stock:
            fields["parallel_height"] = length(max(stock[0][2] - table.box[1][2], 0.0))
        elif table:
            told.append(_("How high the blank stands over the table is not taken: its own place is not known."))
        return {name: value for name, value in fields.items() if not (at.pk and _is(at, name, value))}

    def _touches(self, said: SetupBlock, setup: Setup | None) -> Iterator[tuple[str, Tool | None]]:
        """Stops of the plan; turning the part over between setups in one offset follows from the setups themselves."""
        have = {(touch.reason, _number_of(touch)) for touch in setup.touches.all()} if setup else set()
        for touch in self.said.plan.person_touches:
            if touch.after_setup != said.number or (touch.work_offset and touch.work_offset == touch.next_work_offset):
                continue
            found = _AFTER.fullmatch(touch.reason)
            reason, number = (found[1], int(found[2])) if found else (touch.reason, 0)
            if (reason, number) not in have:
                yield reason, Tool.objects.filter(number=number).first() if number else None


def as_typed_blank(largest: Box, smallest: Box, part: Box, up: str) -> dict[str, Any] | None:
    """Sizes, height over the part and differences of a blank as a plan types them; None where it lies elsewhere."""
    height, plus = height_axis(up), up[0] == "+"
    sizes = [[box[1][axis] - box[0][axis] for axis in range(3)] for box in (largest, smallest)]
    vary = [(big - small) / 2.0 for big, small in zip(*sizes, strict=True)]
    for box in (largest, smallest):
        off = [abs(box[0][a] + box[1][a] - part[0][a] - part[1][a]) for a in range(3) if a != height]
        if max(off) > CLOSE_MM:
            return None
    under = 0 if plus else 1
    if abs(largest[under][height] - smallest[under][height]) > CLOSE_MM:
        return None
    over = largest[1][height] - part[1][height] if plus else part[0][height] - largest[0][height]
    fields: dict[str, Any] = {"blank_over": length(over - vary[height])}
    for axis, name in enumerate("xyz"):
        fields[f"blank_{name}"] = length(sizes[1][axis] + vary[axis])
        fields[f"vary_{name}"] = length(vary[axis]) if vary[axis] > CLOSE_MM else None
    return fields


def length(value_mm: float) -> Measure:
    """A length of the file as somebody would type it, to the millionth of a millimetre."""
    number = f"{value_mm:.6f}".rstrip("0").rstrip(".")
    return parse(f"{'0' if number == '-0' else number} mm", default_unit="mm")


def _plain(value_mm: float) -> str:
    return str(length(value_mm)).removesuffix(" mm")


def _line(solid: Solid) -> str:
    """A box as a plan has it typed (queries.holding.own_solids)."""
    low, high = (" ".join(map(_plain, corner)) for corner in solid.box)
    name = " ".join(solid.name.replace(":", " ").split()) or _("clamp")
    return f"{name}: {low}, {high}"


def _as_if(at: Setup, typed: dict[str, Any]) -> Setup:
    """The setup as it would be; not saved."""
    taken = copy(at)
    for name, value in typed.items():
        setattr(taken, name, value)
    return taken


def _numbers(setup: Setup | None) -> set[int]:
    return {tool.number for tool in setup.tools.all()} if setup else set()


def _number_of(touch: Touch) -> int:
    return touch.after_tool.number if touch.after_tool else 0


def _is(setup: Setup, name: str, value: Any) -> bool:
    """Whether the plan says the same already."""
    now = getattr(setup, name)
    if isinstance(value, Measure) and isinstance(now, Measure):
        return abs(now.mm - value.mm) <= CLOSE_MM
    return bool(now == value)


def _same(a: Vector | None, b: Vector) -> bool:
    return a is not None and _all_same([a], [b])


def _all_same(a: Sequence[Vector], b: Sequence[Vector]) -> bool:
    pairs = zip(chain.from_iterable(a), chain.from_iterable(b), strict=True)
    return all(abs(one - other) <= CLOSE_MM for one, other in pairs)


def _same_solids(a: Sequence[Solid], b: Sequence[Solid]) -> bool:
    """The same boxes by the same names, in any order."""
    first, second = (sorted(solids, key=lambda one: (one.name, one.box)) for solids in (a, b))
    return [one.name for one in first] == [one.name for one in second] and all(
        _all_same(one.box, other.box) for one, other in zip(first, second, strict=True)
    )


def _words(name: str) -> str:
    return str(Setup._meta.get_field(name).verbose_name)  # type: ignore[union-attr]


def _shown(setup: Setup, name: str) -> str:
    """A field as the plan's pages say it."""
    value = getattr(setup, name)
    if isinstance(value, Decimal):
        return f"{value.normalize():f}" if value else ""
    shown = getattr(setup, f"get_{name}_display", None)
    return str(shown() if shown else value) if value not in (None, "") else ""


def _text(at: Setup, name: str, value: Any) -> str:
    return _shown(_as_if(at, {name: value}), name) or _("nothing")
