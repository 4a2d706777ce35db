"""The sheet of an inspection step, to be filled in by hand: which characteristic of which piece is asked for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from shopflow.core.quality.sampling import Sampling, asked_of
from shopflow.inspection.limits import limits_of
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Characteristic, Job, Step
from shopflow.papers.samples import ahead

PIECES_A_ROW = 10
MOST_PIECES_A_SHEET = 30
"""Pieces that the sheet has room for, ten a row; more are entered at the bench."""


@dataclass(frozen=True)
class SheetRow:
    """cells: for each piece of the block whether a value may be asked for; of a draw, every one may be."""

    characteristic: Characteristic
    limits: str
    cells: list[bool]


@dataclass(frozen=True)
class Block:
    """Ten pieces, with the characteristics that any of them is asked for."""

    pieces: list[int]
    rows: list[SheetRow]


@dataclass(frozen=True)
class InspectionSheet:
    """blocks: at least one, empty where nothing is measured. samples: what is asked of lots of each size."""

    blocks: list[Block]
    samples: list[tuple[int, list[dict[str, Any]]]]
    is_cut: bool
    most_pieces: int = MOST_PIECES_A_SHEET

    @property
    def has_dashes(self) -> bool:
        return any(not all(row.cells) for block in self.blocks for row in block.rows)


def sheet_of(job: Job, step: Step) -> InspectionSheet:
    """The sheet of one inspection step, for the largest number of pieces that it has room for."""
    rows = list(step.characteristics.select_related("gauge", "step").order_by("number"))
    planned = [one.pieces or 0 for one in jobs.heat_shares(job)]
    blocks = [_block(rows, pieces) for pieces in rows_of_pieces(job.quantity)]
    return InspectionSheet(
        [block for block in blocks if block.rows] or blocks[:1],
        ahead(job, rows, planned or [job.quantity]),
        job.quantity > MOST_PIECES_A_SHEET,
    )


def rows_of_pieces(quantity: int) -> list[list[int]]:
    """Piece numbers ten a row, as many as the sheet has room for; a second row is filled up, for spares."""
    pieces = min(quantity, MOST_PIECES_A_SHEET)
    whole = pieces if pieces <= PIECES_A_ROW else -(-pieces // PIECES_A_ROW) * PIECES_A_ROW
    numbers = list(range(1, whole + 1))
    return [numbers[start : start + PIECES_A_ROW] for start in range(0, whole, PIECES_A_ROW)]


def _block(rows: Iterable[Characteristic], pieces: list[int]) -> Block:
    found = [SheetRow(row, str(limits_of(row)), may_be_asked(row, pieces)) for row in rows]
    return Block(pieces, [row for row in found if any(row.cells)])


def may_be_asked(row: Characteristic, pieces: Sequence[int]) -> list[bool]:
    """One of the lot may be any of the first ten; a draw, which the bench makes, may fall on every piece."""
    rule = row.rule
    if rule.kind is Sampling.LOT:
        return [piece <= PIECES_A_ROW for piece in pieces]
    if rule.kind is Sampling.AQL:
        return [True for _piece in pieces]
    asked = asked_of(rule, max(pieces, default=0)).pieces
    return [piece in asked for piece in pieces]
