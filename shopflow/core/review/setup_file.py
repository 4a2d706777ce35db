"""SETUP.toml: everything that a review looks at besides the program, as a text file beside the files that it names.

    schema = 1
    model = "plate.step"
    tools = "tools.csv"
    control = "calculator"

    [machine] …   [material] …   [blank] …   [house_rules] …   [plan] …   [[setup]] …

Paths are relative to the file's own folder. What it does not know it refuses, so that nothing is passed over.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from errno import ENOENT
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from shopflow.core.cutting.rows import DataRow, read_csv
from shopflow.core.errors import Unreadable
from shopflow.core.nc import CONTROLS, read_control
from shopflow.core.nc.tool_table import read_tool_table
from shopflow.core.review.house_rules import HouseRules
from shopflow.core.review.setup_blocks import setup_block, with_others
from shopflow.core.review.setup_tables import blanks, form_of, machine, material, on_hand, plan_facts
from shopflow.core.review.setup_typed import Wrong, need, only
from shopflow.core.review.setup_values import SCHEMA, SetupFile
from shopflow.core.types import ControlProfile

_TOP = frozenset(
    {"schema", "model", "solid", "tools", "control", "cutting_data", "machine", "material", "blank", "house_rules",
     "plan", "setup", "threads_at_major", "lot", "wear"}
)  # fmt: skip


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
    except Wrong as error:
        raise Unreadable(str(error), where=where, mend="README.md has a full example.") from error


@dataclass(frozen=True)
class _Reader:
    """opened: the bytes of a file by its relative name, or OSError. has_programs: whether earlier programs are read."""

    opened: Callable[[str], bytes]
    has_programs: bool

    def setup_file(self, said: dict[str, Any]) -> SetupFile:
        only(said, _TOP, "the file")
        if said.get("schema") != SCHEMA:
            raise Wrong(f"schema is {said.get('schema')!r}; this version reads schema {SCHEMA}.")
        given = need(said, "setup", list)
        blocks = tuple(with_others(given, [setup_block(one, number) for number, one in enumerate(given, start=1)]))
        numbers, offsets = [one.number for one in blocks], [(one.program, one.work_offset) for one in blocks]
        if not blocks or len(set(numbers)) != len(numbers) or len(set(offsets)) != len(offsets):
            raise Wrong("There is to be at least one [[setup]], each with a number and a work offset of its own.")
        names = list(dict.fromkeys(one.program for one in blocks))
        if names[-1] or [one.program for one in blocks] != sorted((one.program for one in blocks), key=names.index):
            raise Wrong("Setups of earlier programs (program = …) come first, those of the program under review last.")
        largest, smallest = blanks(need(said, "blank", dict))
        form = form_of(said["blank"])
        self._relative(form.model)
        rules = {key: Decimal(str(value)) for key, value in said.get("house_rules", {}).items()}
        try:
            HouseRules(rules)
        except ValueError as error:
            raise Wrong(f"house_rules: {error}.") from error
        control = self._control(said.get("control", "plain"))
        return SetupFile(
            model=self._relative(need(said, "model", str)),
            solid=said.get("solid"),
            machine=replace(machine(need(said, "machine", dict)), control=control),
            blank=largest,
            smallest=smallest,
            setups=blocks,
            tools=tuple(read_tool_table(self._bytes(need(said, "tools", str))).values()),
            material=material(said["material"]) if "material" in said else None,
            limits=rules,
            own_data=self._own_data(said.get("cutting_data", "")),
            plan=plan_facts(said.get("plan", {}), blocks),
            on_hand=on_hand(said),
            earlier=tuple((name, self._bytes(name) if self.has_programs else b"") for name in names[:-1]),
            threads_at_major=said.get("threads_at_major") is True,
            form=form,
        )

    def _relative(self, name: str) -> str:
        if PurePosixPath(name).is_absolute() or PureWindowsPath(name).drive or PureWindowsPath(name).root:
            raise Wrong(f"“{name}” is an absolute path; paths are relative to the setup file's folder.")
        return name

    def _bytes(self, name: str) -> bytes:
        try:
            return self.opened(self._relative(name))
        except OSError as error:
            raise Wrong(f"“{name}” cannot be read: {error.strerror}.") from error

    def _control(self, name: str) -> ControlProfile:
        return CONTROLS[name] if name in CONTROLS else read_control(self._bytes(name)).profile

    def _own_data(self, name: str) -> tuple[DataRow, ...]:
        return tuple(read_csv(self._bytes(name).decode("utf-8"), is_own=True)) if name else ()
