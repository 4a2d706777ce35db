"""Blanks of several jobs laid into their bars afresh, where that opens less length of bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zlib import crc32

from shopflow.core.planning.blanks.cutting_stock import Layout, Stocked, Wanted, nest
from shopflow.jobs.models import BarPick, PlanApproval, Stage
from shopflow.jobs.queries.shared_bars import SawRules, cuts_of, lines_of, reserved
from shopflow.shop.fields import millimetres
from shopflow.shop.models import StockBar

MOST_PIECES = 400
"""Of one section and heat; more are not laid afresh while a page waits."""
LEAST_SAVED_MM = 1.0


@dataclass(frozen=True)
class Together:
    """What could be laid afresh. picks: that it replaces. layouts: each names a bar and picks by their ids; of picks of
    one job and length it is the first."""

    picks: tuple[BarPick, ...]
    layouts: tuple[Layout, ...]
    bars_now: int
    saved_mm: float

    @property
    def key(self) -> str:
        """Another one as soon as anything of it changes."""
        now = sorted((pick.pk, pick.bars, pick.pieces, pick.bar_id) for pick in self.picks)
        return f"{crc32(repr((now, self.layouts)).encode()):08x}"

    @property
    def bar(self) -> StockBar:
        return self.picks[0].bar

    @property
    def jobs(self) -> list[str]:
        return sorted({pick.job.number for pick in self.picks})

    @property
    def bars_then(self) -> int:
        return len(self.layouts)


def laid_together(rules: SawRules, lines: Sequence[Sequence[BarPick]] | None = None) -> list[Together]:
    """Where bars of one section and heat could stay whole. Only of jobs whose plan nobody approved yet: what the saw is
    told is part of an approved plan."""
    lines = lines_of(reserved()) if lines is None else lines
    jobs = {pick.job_id for line in lines for pick in line}
    approved = set(PlanApproval.objects.filter(job__in=jobs).values_list("job", flat=True))
    groups: dict[tuple[object, ...], list[Sequence[BarPick]]] = {}
    for line in lines:
        may_change = all(pick.job.stage in (Stage.INTAKE, Stage.PLAN) and pick.job_id not in approved for pick in line)
        if may_change and line[0].bar.shape != StockBar.Shape.PLATE:
            groups.setdefault(_alike(line[0].bar), []).append(line)
    found = (_together(group, rules) for group in groups.values() if len(group) > 1)
    return [one for one in found if one is not None]


def _alike(bar: StockBar) -> tuple[object, ...]:
    """What bars share that may take each other's pieces."""
    sizes = (bar.material_id, bar.shape, str(bar.thickness), str(bar.width), str(bar.minus), str(bar.kerf))
    return (*sizes, bar.heat_number, bar.owner, bar.for_job)


def _together(lines: Sequence[Sequence[BarPick]], rules: SawRules) -> Together | None:
    picks = [pick for line in lines for pick in line]
    if sum(pick.pieces for pick in picks) > MOST_PIECES:
        return None
    bar = picks[0].bar
    wanted: dict[tuple[object, ...], Wanted] = {}
    for pick in picks:
        alike = (pick.job_id, str(pick.blank_x), str(pick.blank_y), str(pick.blank_z), pick.along, pick.thick)
        had = wanted.get(alike)
        piece = cuts_of(pick, rules.kerf_of(bar)).piece_mm
        wanted[alike] = Wanted(had.key if had else str(pick.pk), piece, pick.pieces + (had.count if had else 0))
    stock: dict[int, Stocked] = {}
    for line in lines:
        row = line[0].bar
        count = line[0].bars + (stock[row.pk].count if row.pk in stock else 0)
        stock[row.pk] = Stocked(str(row.pk), millimetres(row.length), count, rules.stub_of(row))
    found = nest(list(wanted.values()), list(stock.values()), kerf_mm=rules.kerf_of(bar))
    saved = sum(one.length_mm * one.count for one in stock.values()) - found.opened_mm
    if found.missing or saved < LEAST_SAVED_MM:
        return None
    return Together(tuple(picks), found.layouts, sum(one.count for one in stock.values()), saved)
