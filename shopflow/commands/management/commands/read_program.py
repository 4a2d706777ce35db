"""Read an NC program without server or database: a table for people, one JSON object with --json."""

from __future__ import annotations

import json
import math
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from shopflow.core import nc, review
from shopflow.core.cutting import time
from shopflow.core.errors import CoreError, Unreadable
from shopflow.core.nc.tool_table import read_tool_table
from shopflow.core.types import ControlProfile, MotionKind, Tool

MUST_FIX = 1
"""Exit status for a program that was read and has must-fix findings."""

UNREADABLE = 2
"""Exit status for a file that cannot be read."""

KINDS = {kind: kind.name.lower() for kind in MotionKind}


class Command(BaseCommand):
    help = "Read an NC program and print what it does; exit status 0 clean, 1 with must-fix findings, 2 unreadable."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="NC program, plain text")
        parser.add_argument(
            "--control", default="plain", metavar="NAME|FILE",
            help=f"control profile: {', '.join(nc.CONTROLS)}, or a file that the page of a profile gave",
        )  # fmt: skip
        parser.add_argument("--tools", type=Path, metavar="CSV", help="tool table: number, name, shape, diameter_mm, …")
        parser.add_argument("--json", action="store_true", help="print one JSON object")
        parser.add_argument("--motions", action="store_true", help="print one JSON line a motion")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            tools = read_tool_table(options["tools"].read_bytes()) if options["tools"] else None
            program = _read(options["file"], _control(options["control"]), tools)
        except (CoreError, OSError) as error:
            self.stderr.style_func = None
            self.stderr.write(_one_line(options["file"], error))
            sys.exit(UNREADABLE)
        must_fix = _must_fix(program, tools)
        if options["motions"]:
            for line in motion_lines(program):
                self.stdout.write(line)
        elif options["json"]:
            self.stdout.write(json.dumps(summary(program), allow_nan=False))
        else:
            self.stdout.write("\n".join(table(program) + [_row("must fix", finding.message) for finding in must_fix]))
        if must_fix:
            sys.exit(MUST_FIX)


def _control(name: str) -> ControlProfile:
    """A profile by name, or out of a file; a name wins over a file that happens to be called the same."""
    if name in nc.CONTROLS:
        return nc.CONTROLS[name]
    path = Path(name)
    if not path.is_file():
        known = ", ".join(nc.CONTROLS)
        raise Unreadable(f"“{name}” is neither a control profile ({known}) nor a file of one.", where="--control")
    try:
        return nc.read_control(path.read_bytes()).profile
    except Unreadable as refusal:
        raise Unreadable(f"The control profile {path.name} cannot be read: {refusal}", where="--control") from refusal


def _read(path: Path, control: ControlProfile, tools: dict[int, Tool] | None) -> nc.Program:
    limits = nc.Limits()
    if path.stat().st_size > limits.max_bytes:
        raise Unreadable(
            f"The file has {path.stat().st_size:,} bytes; programs of up to {limits.max_bytes:,} bytes are read.",
            mend="Split it into several programs.",
        )
    return nc.read(path.read_bytes(), control=control, name=str(path), tools=tools, limits=limits)


def _one_line(path: Path, error: Exception) -> str:
    text = str(error.strerror) if isinstance(error, OSError) else str(error)
    return " ".join(f"{path}: {text}".split())


def _must_fix(program: nc.Program, tools: dict[int, Tool] | None) -> list[review.Finding]:
    """What is wrong with the program as a text; what it does on a machine is for `review_program` to judge."""
    findings = review.run(program, machine=None, tools=tools, rules=review.READING_RULES)
    return [finding for finding in findings if finding.weight is review.Weight.MUST_FIX]


def summary(program: nc.Program) -> dict[str, Any]:
    """The program as JSON values."""
    extent = program.extent
    return {
        "lines": program.lines,
        "units": program.units,
        "motions": {name: program.count(kind) for kind, name in KINDS.items()},
        "tools": list(program.tools),
        "work_offsets": list(program.work_offsets),
        "stops": [{"line": stop.line, "kind": stop.kind} for stop in program.stops],
        "extent_mm": {"min": _numbers(extent.low), "max": _numbers(extent.high)} if extent else None,
        "cut_length_mm": program.cut_length_mm,
        "rapid_length_mm": program.rapid_length_mm,
        "cycle_time_s": time.cycle_time(program.motions).total_s,
        "unread": [{"line": entry.line, "text": entry.text, "why": entry.why} for entry in program.unread],
        "assumptions": [{"line": entry.line, "text": entry.text, "why": entry.why} for entry in program.assumptions],
        "program_number": program.number,
        "program_ends": program.program_ends,
    }


def _numbers(values: Any) -> list[float | None]:
    """Floats for JSON, which knows no NaN: None stands for what is not known."""
    return [None if math.isnan(value) else float(value) for value in values]


def motion_lines(program: nc.Program) -> Iterator[str]:
    """One JSON text a motion, in the order in which they run."""
    motions = program.motions
    for row in range(len(motions)):
        kind = MotionKind(int(motions.kind[row]))
        fields: dict[str, Any] = {
            "line": int(motions.line[row]),
            "kind": KINDS[kind],
            "from": _numbers(motions.start[row]),
            "to": _numbers(motions.end[row]),
            "feed_mm_min": _numbers([motions.feed_mm_min[row]])[0],
            "spindle_rpm": float(motions.rpm[row] * motions.spindle[row]),
            "tool": int(motions.tool[row]),
        }
        if kind is MotionKind.ARC:
            fields["centre"] = _numbers(motions.centre[row])
            fields["plane"] = f"G{motions.plane[row]}"
            fields["turn"] = float(motions.turn_deg[row])
        yield json.dumps(fields, allow_nan=False)


def _cycle_time(program: nc.Program) -> str:
    """On the typical machine; a feed move without a feed takes no time that anybody knows."""
    motions = program.motions
    minutes, seconds = divmod(round(time.cycle_time(motions).total_s), 60)
    cuts = motions.feeds
    without = int((cuts & ~(motions.feed_mm_min > 0.0)).sum())
    left_out = f", without {without} moves that have no feed" if without else ""
    return f"{minutes} min {seconds:02d} s on a {time.TYPICAL_MACHINE.name}{left_out}"


def table(program: nc.Program) -> list[str]:
    """The program as lines of text, lengths in millimetres."""
    counts = ", ".join(f"{program.count(kind)} {name}" for kind, name in KINDS.items())
    rows = [
        _row("lines", str(program.lines)),
        _row("program", program.number or "no number"),
        _row("units", program.units),
        _row("motions", counts),
        _row("tools", ", ".join(f"T{number}" for number in program.tools) or "none called"),
        _row("work offsets", ", ".join(program.work_offsets) or "none"),
        *_extent_rows(program),
        _row("cut length", f"{program.cut_length_mm:.1f} mm"),
        _row("rapid length", f"{program.rapid_length_mm:.1f} mm"),
        _row("cycle time", _cycle_time(program)),
        _row("ends", f"line {program.program_ends}" if program.program_ends else "no M2 or M30"),
    ]
    rows += [_row("stop", f"line {stop.line}, {stop.kind} {stop.text}".rstrip()) for stop in program.stops]
    return rows + [_row("assumed", f"line {entry.line}: {entry.why}") for entry in program.assumptions]


def _extent_rows(program: nc.Program) -> list[str]:
    if program.extent is None:
        return []
    spans = zip("XYZ", program.extent.low, program.extent.high, strict=True)
    return [
        _row(f"extent {axis}", "not stated" if math.isnan(low) else f"{low:.3f} to {high:.3f} mm")
        for axis, low, high in spans
    ]


def _row(label: str, value: str) -> str:
    return f"{label:<14} {value}"
