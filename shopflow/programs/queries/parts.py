"""The parts of a program between its stops, and where a person ended some of them."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.programs import reviewing
from shopflow.programs.models import PartCuts, ProgramRevision
from shopflow.programs.queries.programs import content
from shopflow.programs.queries.reviewed import Reviewed
from shopflow.programs.summary import part_rows


def cuts_of(revision: ProgramRevision) -> PartCuts | None:
    """Where a person ends parts of this revision; None where nobody does, or took it back."""
    newest = revision.cuts.select_related("cut_by").first()
    return newest if newest and newest.lines else None


def parts_of(seen: Reviewed, also_after: Collection[int] | None = None) -> list[dict[str, Any]]:
    """Rows of summary.part_rows. also_after: lines behind which a part ends besides; those that are kept where None.

    As kept with the review or with the cuts; read again only where somebody asks for others.
    """
    kept = cuts_of(seen.revision) if also_after is None else None
    if kept and kept.inputs_hash == seen.inputs.hash:
        return list(kept.parts)
    lines = kept.lines if kept else also_after
    return read_parts(seen, lines) if lines else list((seen.reading or {}).get("parts", ()))


def read_parts(seen: Reviewed, also_after: Collection[int]) -> list[dict[str, Any]]:
    program = reviewing.read(seen.inputs, content(seen.revision))
    seconds = cycle_time(program.motions, seen.inputs.machine or TYPICAL_MACHINE).row_s
    return part_rows(program, seconds, frozenset(also_after))
