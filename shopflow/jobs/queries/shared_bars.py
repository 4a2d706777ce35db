"""Bars that several jobs saw their blanks from: who comes first, and what is left behind them all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from shopflow.core.planning.blanks.bars import Bar, pieces_across
from shopflow.core.planning.blanks.nesting import pieces_from
from shopflow.core.planning.blanks.options import Sawing
from shopflow.core.planning.blanks.sharing import Cuts, Share, left_behind, shares
from shopflow.jobs.models import BarPick, Job, Stage
from shopflow.shop import queries as shop
from shopflow.shop.fields import millimetres
from shopflow.shop.models import StockBar

SIZES = ("blank_x", "blank_y", "blank_z")
REST = "rest of pick "
"""Begins the key of a rest; the id of the last pick that is sawn off its bar follows."""


@dataclass(frozen=True)
class SawRules:
    """The shop's habits at the saw, mm, as its house rules say them."""

    kerf_mm: float
    sawing: Sawing

    def kerf_of(self, bar: StockBar) -> float:
        return bar.kerf.mm if bar.kerf else self.kerf_mm

    def stub_of(self, bar: StockBar) -> float:
        return 0.0 if bar.remnant else self.sawing.stub_mm


def saw_rules() -> SawRules:
    rules = {key: float(value) for key, value in shop.house_rule_values().items()}
    return SawRules(rules["plan_saw_kerf"], Sawing(rules["plan_saw_stub"], rules["plan_least_remnant"]))


def reserved() -> QuerySet[BarPick]:
    """Picks of open jobs, of bars that stand on the rack and are not sawn yet."""
    rows = BarPick.objects.filter(sawn_at=None, to_buy=False).exclude(job__stage=Stage.CLOSED)
    return rows.select_related("bar__material", "job__revision__part__customer")


def lines_of(picks: Iterable[BarPick]) -> list[list[BarPick]]:
    """Picks that lie behind each other in the same bars, each line in the order in which it is sawn."""
    rows = list(picks)
    there = {pick.pk for pick in rows}
    behind: dict[int | None, BarPick] = {pick.after_id: pick for pick in rows if pick.after_id in there}
    return [_line(pick, behind) for pick in rows if pick.after_id not in there]


def _line(first: BarPick, behind: dict[int | None, BarPick]) -> list[BarPick]:
    line = [first]
    while line[-1].pk in behind:
        line.append(behind[line[-1].pk])
    return line


def line_of(pick: BarPick) -> list[BarPick]:
    """The line that a pick lies in, alone where it shares its bars with nobody."""
    if pick.is_sawn or pick.to_buy:
        return [pick]
    lines = lines_of(reserved().filter(bar=pick.bar_id))
    return next((line for line in lines if pick in line), [pick])


def without(job: Job, lines: Sequence[Sequence[BarPick]]) -> list[list[BarPick]]:
    """The lines as they are once the job gives back what it has."""
    left = [[pick for pick in line if pick.job_id != job.pk] for line in lines]
    return [line for line in left if line]


def cuts_of(pick: BarPick, kerf_mm: float) -> Cuts:
    """What is sawn off each of its bars; of a plate whole strips across it."""
    each = -(-pick.pieces // pick.bars)
    return Cuts(_piece_mm(pick), -(-each // _across(pick, kerf_mm)))


def most_of_one(pick: BarPick, rules: SawRules) -> int:
    """How many of its pieces one of its bars gives at most."""
    bar = pick.bar
    kerf, stub = rules.kerf_of(bar), rules.stub_of(bar)
    rows = pieces_from(millimetres(bar.length), _piece_mm(pick), kerf_mm=kerf, stub_mm=stub)
    return rows.count * _across(pick, kerf)


def _piece_mm(pick: BarPick) -> float:
    return millimetres(getattr(pick, SIZES[pick.along]))


def _across(pick: BarPick, kerf_mm: float) -> int:
    """Pieces side by side, which only a plate gives."""
    if pick.bar.shape != StockBar.Shape.PLATE:
        return 1
    wide = getattr(pick, SIZES[3 - pick.along - pick.thick])
    return pieces_across(millimetres(pick.bar.width), millimetres(wide), kerf_mm)


def left_of(line: Sequence[BarPick], rules: SawRules) -> float | None:
    """Behind the whole line, of each of its bars, mm; None where it does not come out of them."""
    bar = line[0].bar
    kerf = rules.kerf_of(bar)
    cuts = [cuts_of(pick, kerf) for pick in line]
    return left_behind(millimetres(bar.length), cuts, kerf_mm=kerf, stub_mm=rules.stub_of(bar))


def left_in(length_mm: float, line: Sequence[BarPick], rules: SawRules) -> float | None:
    """As left_of, of a remnant of this length."""
    kerf = rules.kerf_of(line[0].bar)
    return left_behind(length_mm, [cuts_of(pick, kerf) for pick in line], kerf_mm=kerf, stub_mm=0.0)


def shares_of(line: Sequence[BarPick], rules: SawRules) -> list[Share] | None:
    """What each pick of a line takes of one bar; None where they do not come out of it."""
    bar = line[0].bar
    kerf = rules.kerf_of(bar)
    return shares(
        millimetres(bar.length),
        [cuts_of(pick, kerf) for pick in line],
        kerf_mm=kerf,
        stub_mm=rules.stub_of(bar),
        least_mm=rules.sawing.least_remnant_mm,
    )


@dataclass(frozen=True)
class Rest:
    """What is free behind a line. bars: how many are alike. key: names it to the core and to the page."""

    line: tuple[BarPick, ...]
    left_mm: float

    @property
    def key(self) -> str:
        return f"{REST}{self.line[-1].pk}"

    @property
    def row(self) -> StockBar:
        return self.line[0].bar

    @property
    def bars(self) -> int:
        return self.line[0].bars

    @property
    def behind(self) -> str:
        return ", ".join(dict.fromkeys(pick.job.number for pick in self.line))

    def as_core(self, kerf_mm: float) -> Bar:
        """A bar of this length with a sawn end, at its share of the price."""
        whole = self.row.as_core(kerf_mm=kerf_mm, on_rack=self.bars)
        price = None if whole.price is None else whole.price * self.left_mm / whole.length_mm
        return replace(whole, key=self.key, length_mm=self.left_mm, price=price, is_clean=True, behind=self.behind)

    def __str__(self) -> str:
        said = {"bar": self.row.number, "jobs": self.behind}
        return _("the rest of bar %(bar)s, after job %(jobs)s’s pieces") % said


def rests_for(lines: Iterable[Sequence[BarPick]], rules: SawRules) -> list[Rest]:
    """Rests that the shop keeps, since they are no shorter than its house rule says."""
    found = ((line, left_of(line, rules)) for line in lines)
    least = rules.sawing.least_remnant_mm
    return [Rest(tuple(line), left) for line, left in found if left is not None and left >= least]
