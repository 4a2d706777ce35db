"""The parts of a program between its stops."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.programs import reviewing
from shopflow.programs.queries.programs import content
from shopflow.programs.queries.reviewed import Reviewed
from shopflow.programs.summary import part_rows


def parts_of(seen: Reviewed, also_after: Collection[int] = ()) -> list[dict[str, Any]]:
    """As kept with the review (summary.part_rows); read again where a person names further lines to cut behind."""
    if not also_after:
        return list((seen.reading or {}).get("parts", ()))
    program = reviewing.read(seen.inputs, content(seen.revision))
    seconds = cycle_time(program.motions, seen.inputs.machine or TYPICAL_MACHINE).row_s
    return part_rows(program, seconds, frozenset(also_after))
