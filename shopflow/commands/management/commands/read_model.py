"""Read a STEP model without server or database: a table for people, one JSON object with --json."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from collections import Counter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from shopflow.core import solid
from shopflow.core.errors import CoreError

UNREADABLE = 2
"""Exit status for a file that cannot be read."""


class Command(BaseCommand):
    help = "Read a STEP model and print what it holds; exit status 0 read, 2 unreadable."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="STEP file (AP203, AP214 or AP242)")
        parser.add_argument("--json", action="store_true", help="print one JSON object")
        parser.add_argument("--solid", type=int, default=None, metavar="N", help="number of the solid, counted from 0")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            reading = solid.read(options["file"], solid_index=options["solid"])
        except CoreError as error:
            self.stderr.style_func = None
            self.stderr.write(" ".join(f"{options['file']}: {error}".split()))
            sys.exit(UNREADABLE)
        finally:
            solid.kernel().close()
        if options["json"]:
            self.stdout.write(json.dumps(reading.to_json(), allow_nan=False))
        else:
            self.stdout.write("\n".join(table(reading)))


def table(reading: solid.Reading) -> list[str]:
    """The reading as lines of text, lengths in millimetres."""
    lines = [
        _row("schema", reading.schema or "none declared"),
        _row("unit", reading.unit or "none named"),
        _row("size", " × ".join(f"{side:.3f}" for side in reading.bbox_mm) + " mm"),
        _row("volume", f"{reading.volume_mm3:.3f} mm³"),
        _row("area", f"{reading.area_mm2:.3f} mm²"),
        _row("sharp edges", f"{reading.sharp_edges.count}, {reading.sharp_edges.length_mm:.1f} mm"),
        _row("annotations", _annotations(reading.pmi)),
    ]
    lines += _solids(reading) + _holes(reading) + _recesses(reading) + _edges(reading) + _hard_places(reading)
    if reading.unit_doubtful:
        lines.append(_row("check the unit", reading.unit_reason))
    return lines + [_row("warning", warning) for warning in reading.warnings]


def _row(name: str, value: str) -> str:
    return f"{name:<16}{value}"


def _annotations(pmi: solid.Pmi) -> str:
    datums = " ".join(pmi.datums) or "none"
    return f"{pmi.dimensions} dimensions, {pmi.tolerances} tolerances, datums {datums}"


def _solids(reading: solid.Reading) -> list[str]:
    lines = [_row("solids", str(len(reading.solids)))]
    for fact in reading.solids:
        size = " × ".join(f"{side:.3f}" for side in fact.bbox_mm)
        mark = "" if fact.valid else "  (the library's check finds faults)"
        lines.append(f"  {fact.index:>3}  {fact.name}  {size} mm  {fact.volume_mm3:.3f} mm³{mark}")
    return lines


def _holes(reading: solid.Reading) -> list[str]:
    """Equal holes on one line, with their number."""
    counted = Counter(_hole(hole) for hole in reading.holes)
    return [_row("holes", str(len(reading.holes)))] + [f"  {count:>3} ×  {text}" for text, count in counted.items()]


def _recesses(reading: solid.Reading) -> list[str]:
    counted = Counter(_recess(pocket) for pocket in reading.pockets)
    return [_row("recesses", str(len(reading.pockets)))] + [
        f"  {count:>3} ×  {text}" for text, count in counted.items()
    ]


def _recess(pocket: solid.Pocket) -> str:
    parts = [f"{pocket.kind}, {pocket.depth_mm:.3f} deep", f"{pocket.length_mm:.3f} long"]
    if pocket.width_mm:
        parts.append(f"{pocket.width_mm:.3f} wide")
    if pocket.radius_mm:
        parts.append(f"inside radius {pocket.radius_mm:.3f}")
    if pocket.floor_radius_mm:
        parts.append(f"floor radius {pocket.floor_radius_mm:.3f}")
    if pocket.sharp_corners:
        parts.append(f"{pocket.sharp_corners} sharp corners")
    return ", ".join(parts)


def _edges(reading: solid.Reading) -> list[str]:
    chamfers = Counter(f"{c.size_mm:.3f} × {c.angle_deg:.0f}°" for c in reading.chamfers)
    fillets = Counter(f"R{f.radius_mm:.3f} {'inside' if f.inside else 'outside'}" for f in reading.fillets)
    return [
        _row("chamfers", ", ".join(f"{count} of {text}" for text, count in chamfers.items()) or "none"),
        _row("fillets", ", ".join(f"{count} of {text}" for text, count in fillets.items()) or "none"),
    ]


def _hard_places(reading: solid.Reading) -> list[str]:
    lines = []
    if reading.thin:
        lines.append(_row("thin places", f"{len(reading.thin)}, thinnest {reading.thin[0].thickness_mm:.3f} mm"))
    if reading.unreached:
        lines.append(_row("undercuts", f"{len(reading.unreached)} faces that no square setup sees"))
    return lines


def _hole(hole: solid.Hole) -> str:
    parts = [f"⌀{hole.diameter_mm:.3f}", "through" if hole.through else f"{hole.depth_mm:.3f} deep, {hole.bottom}"]
    if hole.point_angle_deg:
        parts.append(f"point {hole.point_angle_deg:.0f}°")
    for side, sink, angle in (
        ("", hole.countersink_mm, hole.countersink_angle_deg),
        ("far side ", hole.far_countersink_mm, hole.far_countersink_angle_deg),
    ):
        if sink and angle:
            parts.append(f"{side}countersink ⌀{sink:.3f} × {angle:.0f}°")
    for side, bore, depth in (
        ("", hole.counterbore_mm, hole.counterbore_depth_mm),
        ("far side ", hole.far_counterbore_mm, hole.far_counterbore_depth_mm),
    ):
        if bore and depth:
            parts.append(f"{side}counterbore ⌀{bore:.3f} × {depth:.3f} deep")
    return ", ".join(parts)
