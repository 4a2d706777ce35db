"""Review an NC program without server or database: a list for people, one JSON object with --json."""

from __future__ import annotations

import json
import math
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from shopflow.core import solid
from shopflow.core.errors import CoreError, Unreadable
from shopflow.core.review import Finding, Weight
from shopflow.core.review.setup_file import read_setup_file
from shopflow.core.review.whole import WholeReview, review_whole

MUST_FIX = 1
"""Exit status for a program that was reviewed and has must-fix findings; a word that is not read is one."""
UNREADABLE = 2
"""Exit status for a program, setup file or model that cannot be read."""


class Command(BaseCommand):
    help = "Review an NC program against its setup; exit status 0 nothing must be fixed, 1 something, 2 unreadable."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="NC program, plain text")
        parser.add_argument("--setup", type=Path, required=True, metavar="SETUP.toml", help="README.md has an example")
        parser.add_argument("--json", action="store_true", help="print one JSON object")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            done = review(options["file"], options["setup"])
        except (CoreError, OSError) as error:
            self.stderr.style_func = None
            text = f"{options['file']}: {error.strerror}" if isinstance(error, OSError) else str(error)
            self.stderr.write(" ".join(text.split()))
            sys.exit(UNREADABLE)
        finally:
            solid.kernel().close()
        self.stdout.write(json.dumps(summary(done), allow_nan=False) if options["json"] else "\n".join(lines(done)))
        if any(finding.weight is Weight.MUST_FIX for finding in done.findings):
            sys.exit(MUST_FIX)


def review(program: Path, setup: Path) -> WholeReview:
    """The review of a program file under a setup file. Raises CoreError and OSError."""
    data = program.read_bytes()
    said = read_setup_file(setup)
    reading = solid.read(setup.parent / said.model, solid_index=said.solid)
    blank = _blank(setup.parent, said.form.model) if said.form.model else None
    return review_whole(data, said, reading, name=str(program), blank=blank)


def _blank(folder: Path, name: str) -> solid.Reading:
    """The model of the blank; what is wrong with it is said with its name, since there are two models."""
    try:
        return solid.read(folder / name)
    except Unreadable as error:
        raise Unreadable(f"The model of the blank: {error.what}", where=name, mend=error.mend) from error


def summary(done: WholeReview) -> dict[str, Any]:
    """The review as JSON values; a number that is not known is null."""
    gouges = [one.gouge_mm for one in done.setups if one.gouge_mm is not None]
    left = [one.stock_left_mm for one in done.setups if one.stock_left_mm is not None]
    return {
        "findings": [_finding(one) for one in done.findings],
        "removed_mm3": sum(one.removed_mm3 for one in done.setups),
        "stock_left_mm": max(left, default=None),
        "gouge_mm": max(gouges, default=None),
        "air_cuts": [
            {"lines": list(air.lines), "seconds": air.seconds} for one in done.setups for air in one.air
        ],
        "cycle_time_s": done.cycle_time_s,
        "grid_mm": max((one.grid_mm for one in done.setups), default=None),
        "not_compared": [
            {"setup": one.number, "why": one.not_compared} for one in done.setups if one.not_compared
        ],
    }  # fmt: skip


def _finding(one: Finding) -> dict[str, Any]:
    return {
        "code": one.code,
        "weight": one.weight.value,
        "lines": list(one.lines),
        "tool": one.tool,
        "measured": _number(one.measured),
        "limit": _number(one.limit),
        "unit": one.unit,
        "message": one.message,
        "basis": one.basis,
    }


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else value


def lines(done: WholeReview) -> list[str]:
    """Findings one a line, then the sums."""
    said = summary(done)
    rows = [f"{one.weight.value:<9}line {_lines(one):<9}{one.message} ({one.basis})" for one in done.findings]
    rows += [f"setup {one['setup']}: not compared with the model. {one['why']}" for one in said["not_compared"]]
    found, minutes = len(done.findings), done.cycle_time_s / 60.0
    left, gouge, grid = (_mm(said[key]) for key in ("stock_left_mm", "gouge_mm", "grid_mm"))
    rows.append(
        f"{found} findings; {said['removed_mm3']:.0f} mm³ removed; gouge {gouge}, stock left {left}, "
        f"on a grid of {grid}; {minutes:.1f} min."
    )
    return [*rows, "These rules noticed no more than that; it does not say that the program is safe."]


def _lines(one: Finding) -> str:
    return str(one.lines[0]) if len(one.lines) == 1 else f"{min(one.lines)}-{max(one.lines)}"


def _mm(value: float | None) -> str:
    return "not known" if value is None else f"{value:.3f} mm"
