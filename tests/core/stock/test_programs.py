"""Real programs of others (../shared/programs, each with its origin in ORIGIN.md there) run over a block."""

from pathlib import Path

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.nc.extent import arc_extent
from shopflow.core.stock import shapes
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.moves import Unswept, moves_of
from shopflow.core.stock.removal import Conditions, remove
from shopflow.core.types import MotionKind, Tool, ToolShape

PROGRAMS = Path(__file__).resolve().parents[3].parent / "shared" / "programs"


def read(path):
    """The program under the first control that reads most of it."""
    programs = [nc.read(path.read_bytes(), control=control, name=path.name) for control in nc.CONTROLS.values()]
    return min(programs, key=lambda program: (len(program.unread), -len(program.motions)))


def known(motions):
    """Motions at feed whose way is known, in G54."""
    feeds = (motions.kind == MotionKind.FEED) | (motions.kind == MotionKind.ARC)
    return feeds & motions.start_known.all(axis=1) & (motions.work_offset == 1)


def block_under(motions, rows):
    """A block around the feeds, no higher than their middle, on a grid of some hundred cells."""
    both = np.concatenate((motions.start[rows], motions.end[rows]))
    low, high = both.min(axis=0) - 5.0, both.max(axis=0) + 5.0
    high[2] = max(both[:, 2].mean(), low[2] + 6.0)
    solid = (tuple(low.tolist()), tuple(high.tolist()))
    return shapes.box(grid_over(solid, max(float((high - low).max()) / 150.0, 0.1)), solid)


def test_every_program_runs_over_a_block_with_its_extent_and_takes_only_away():
    if not PROGRAMS.is_dir():
        pytest.skip("the folder ../shared/programs with real programs is not here")
    ran = 0
    for path in sorted(PROGRAMS.glob("*.*")):
        if path.suffix == ".md":
            continue
        motions = read(path).motions
        rows = np.flatnonzero(known(motions))
        if not len(rows):
            continue
        block = block_under(motions, rows)
        tools = {int(number): Tool(int(number), "3 mm", ToolShape.FLAT, 3.0) for number in np.unique(motions.tool)}
        cut = remove(block, motions, tools, Conditions(TYPICAL_MACHINE, threads=1))
        moved = rows[cut.unswept[rows] == Unswept.SWEPT]
        made = moves_of(motions, moved, TYPICAL_MACHINE, cut.chord_mm)
        low, high = swept_extent(motions, moved)
        assert made.points.reshape(-1, 3).min(axis=0) == pytest.approx(low, abs=cut.chord_mm), path.name
        assert made.points.reshape(-1, 3).max(axis=0) == pytest.approx(high, abs=cut.chord_mm), path.name
        assert cut.volume_mm3.sum() > 0.0 and cut.columns.volume < block.volume, path.name
        assert cut.columns.bytes_held < 20_000_000, path.name
        ran += 1
    assert ran >= 8


def swept_extent(motions, rows):
    """Lowest and highest place of these motions, as the reader's own extent of arcs has them."""
    picked = type(motions)(**{name: value[rows] for name, value in vars(motions).items()})
    extent = arc_extent(picked, np.ones((len(rows), 3), bool))
    return extent.low, extent.high
