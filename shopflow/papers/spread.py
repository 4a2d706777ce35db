"""How the values of a lot lie between their limits, for the inspection report. It follows from what the report says."""

from __future__ import annotations

from typing import Any

from shopflow.core.measure import DEGREE
from shopflow.core.quality.capability import Performance, performance
from shopflow.core.quality.kinds import Kind
from shopflow.floor.models import Paper
from shopflow.inspection import queries as inspection
from shopflow.inspection.queries import Row

DIGITS = {"mm": 4, "in": 5, DEGREE: 3}


def beside(paper: Paper) -> dict[str, Any]:
    """spread: a line for each size and angle with values enough. Form and place are left out: they begin at nothing,
    so that their values lie in no normal distribution."""
    rows = inspection.results(paper.lot) if paper.lot else []
    told = ((row, _of(row)) for row in rows if row.characteristic.as_kind in (Kind.SIZE, Kind.ANGLE))
    return {"spread": [_line(row, found) for row, found in told if found]}


def _of(row: Row) -> Performance | None:
    unit, ends = row.limits.unit, (row.limits.lower, row.limits.upper)
    values = [cell.measurement.value for cell in row.cells if cell.measurement and cell.measurement.value]
    lower, upper = (None if end is None else float(end) for end in ends)
    return performance([float(value.in_unit(unit)) for value in values], lower, upper)


def _line(row: Row, found: Performance) -> dict[str, Any]:
    unit = row.limits.unit
    digits = DIGITS.get(unit, 4)
    return {
        "number": row.characteristic.number,
        "name": row.characteristic.name,
        "n": found.n,
        "mean": f"{found.mean:.{digits}f} {unit}",
        "deviation": f"{found.deviation:.{digits + 1}f}",
        "pp": "" if found.pp is None else f"{found.pp:.2f}",
        "ppk": f"{found.ppk:.2f}",
        "least": f"{found.least:.2f}",
    }
