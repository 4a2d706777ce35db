"""What rules about cutting look at: what each motion did to the material, and what is left against the model."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:  # the compiler that simulation needs is not loaded by those who only read findings
    from shopflow.core.stock.air import AirCut
    from shopflow.core.stock.compare import Comparison
    from shopflow.core.stock.loads import Loads
    from shopflow.core.stock.removal import Removal


@dataclass(frozen=True)
class Cut:
    """The simulation of one setup. Its rows are those of the program's motions.

    removal: of all motions, over the largest blank. comparison: with the model, its faults with their motions
    (`compare.with_motions`); None without a model. lacking: the same for the smallest blank of the plan, None where the
    setup begins with what another one left. air: runs that cut nothing; air_difference_mm: how far the part would
    differ without them, None where that was not tried. raw_top_mm, raw_bottom_mm: of the stock as it came, nan where
    not known. holding: names of the solids of workholding, by their number in `Removal.holding_box`. loads: what each
    motion asks of tool and spindle, None where the material is not known.
    """

    removal: Removal
    comparison: Comparison | None = None
    lacking: Comparison | None = None
    air: tuple[AirCut, ...] = ()
    air_difference_mm: float | None = None
    raw_top_mm: float = math.nan
    raw_bottom_mm: float = math.nan
    holding: tuple[str, ...] = ()
    loads: Loads | None = None


MOST_CAUSES = 12
"""Findings of one rule about one run of a tool: more are one that goes through the program (our choice)."""


def one_cause(rows: NDArray[np.intp], tool: NDArray[np.int32], apart: int = 3) -> Iterator[NDArray[np.intp]]:
    """Rows cut where they are more than `apart` motions from each other or the tool changes: one cause, one finding.

    Where a tool would have more than MOST_CAUSES, its rows may be farther apart, until it has no more.
    """
    if not len(rows):
        return
    for run in np.split(rows, np.flatnonzero(np.diff(tool[rows]) != 0) + 1):
        steps, most = np.diff(run), apart
        while np.count_nonzero(steps > most) >= MOST_CAUSES:
            most *= 2
        yield from np.split(run, np.flatnonzero(steps > most) + 1)
