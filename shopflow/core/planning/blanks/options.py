"""What to saw the blanks from: every entry of the stock list that gives them, ranked, each with why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import ceil

from shopflow.core.planning.blanks.bars import Bar, Way, ways
from shopflow.core.planning.blanks.nesting import Length, bars_to_open, pieces_from
from shopflow.core.types import Vector


@dataclass(frozen=True)
class Sawing:
    """The shop's habits at the saw, mm. stub_mm: sawn off a fresh end. least_remnant_mm: shorter ones are scrap."""

    stub_mm: float = 5.0
    least_remnant_mm: float = 50.0


USUAL = Sawing()


@dataclass(frozen=True)
class Pick:
    """Bars of one entry that are cut alike. pieces: from each of them. left_mm: of each, 0 where nothing stays."""

    key: str
    bars: int
    pieces: int
    left_mm: float
    heat: str = ""


@dataclass(frozen=True)
class StockOption:
    """One answer. picks: from the rack. to_buy: further bars of the entry `buy`. missing: pieces nothing is there for.

    yield_share: part volume over the volume that is sawn off bars, what is kept as a remnant not counted. cost: of
    what is sawn, None where a price is unknown. why: short phrases, the weightiest first. behind: whose pieces come off
    first of the bars that it shares.
    """

    bar: Bar
    way: Way
    picks: tuple[Pick, ...]
    buy: str
    to_buy: int
    missing: int
    yield_share: float
    cost: float | None
    why: tuple[str, ...] = ()
    behind: tuple[str, ...] = ()

    @property
    def heats(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(pick.heat for pick in self.picks))

    @property
    def rank(self) -> tuple[object, ...]:
        """On the rack before to be bought, one heat before two, cheap before dear, then little to cut away."""
        money = self.cost is None, self.cost or 0.0
        shared = len(self.behind)
        return self.missing > 0, len(self.heats) > 1, *money, -self.yield_share, shared, self.bar.key


def stock_options(
    need_mm: Vector, part_mm3: float, pieces: int, bars: Sequence[Bar], sawing: Sawing = USUAL
) -> list[StockOption]:
    """Every section of the list that the blank comes out of, in its best way, best first. bars: with on_rack free.

    Where the best way of a section counts on the rest behind another job's pieces, its best way without is there too.
    """
    kinds: dict[tuple[object, ...], list[Bar]] = {}
    for bar in bars:
        kinds.setdefault((*bar.kind, bar.owner), []).append(bar)
    best = []
    for rows in kinds.values():
        found = _best_way(need_mm, part_mm3, pieces, rows, sawing)
        if found and found.behind:
            best.append(_best_way(need_mm, part_mm3, pieces, [bar for bar in rows if not bar.behind], sawing))
        best.append(found)
    options = [option for option in best if option]
    ranked = sorted(options, key=lambda option: option.rank)
    return [replace(option, why=_why(option, place, ranked)) for place, option in enumerate(ranked)]


def _best_way(need_mm: Vector, part_mm3: float, pieces: int, rows: Sequence[Bar], sawing: Sawing) -> StockOption | None:
    if not rows:
        return None
    longest = max(rows, key=lambda bar: bar.length_mm)
    options = [_option(way, part_mm3, pieces, rows, sawing) for way in ways(need_mm, longest)]
    return min(options, key=lambda option: option.rank, default=None)


def _option(way: Way, part_mm3: float, pieces: int, rows: Sequence[Bar], sawing: Sawing) -> StockOption:
    """One heat where one suffices, else whatever is there, and the rest bought in the length that the list has."""
    picks = _picked(way, pieces, rows, sawing)
    had = sum(pick.bars * pick.pieces for pick in picks)
    buy = max(rows, key=lambda bar: (not bar.is_clean, bar.length_mm))
    each = _capacity(way, buy, sawing)
    missing = pieces - had
    to_buy = ceil(missing / each) if missing and each else 0
    bought = Pick(buy.key, 1, min(each, missing), _left(way, buy, missing, sawing)) if to_buy else None
    by_key = {bar.key: bar for bar in rows}
    sawn = [*((by_key[pick.key], pick) for pick in picks), *([(buy, replace(bought, bars=to_buy))] if bought else [])]
    volume = sum(pick.bars * bar.area_mm2 * _used_mm(bar, pick) for bar, pick in sawn)
    return StockOption(
        bar=by_key[picks[0].key] if picks else buy,
        way=way,
        picks=tuple(picks),
        buy=buy.key if to_buy else "",
        to_buy=to_buy,
        missing=missing,
        yield_share=part_mm3 * pieces / volume if volume else 0.0,
        cost=_cost(sawn),
        behind=tuple(dict.fromkeys(bar.behind for bar, _pick in sawn if bar.behind)),
    )


def _picked(way: Way, pieces: int, rows: Sequence[Bar], sawing: Sawing) -> list[Pick]:
    heats = dict.fromkeys(bar.heat for bar in rows if bar.on_rack)
    alone = [_opened(way, pieces, [bar for bar in rows if bar.heat == heat], sawing) for heat in heats]
    enough = [picks for picks in alone if sum(pick.bars * pick.pieces for pick in picks) == pieces]
    if enough:
        return min(enough, key=lambda picks: sum(_length(rows, pick) for pick in picks))
    return _opened(way, pieces, rows, sawing)


def _length(rows: Sequence[Bar], pick: Pick) -> float:
    return pick.bars * next(bar.length_mm for bar in rows if bar.key == pick.key)


def _opened(way: Way, pieces: int, rows: Sequence[Bar], sawing: Sawing) -> list[Pick]:
    """Bars to open, those cut alike together; the last one opened gives only what is still wanted."""
    single = [bar for bar in rows for _ in range(min(bar.on_rack, pieces))]
    lengths = [Length(bar.key, bar.length_mm, _capacity(way, bar, sawing)) for bar in single]
    picks: list[Pick] = []
    wanted = pieces
    for index in bars_to_open(pieces, lengths):
        bar, count = single[index], min(wanted, lengths[index].capacity)
        wanted -= count
        pick = Pick(bar.key, 1, count, _left(way, bar, count, sawing), bar.heat)
        if picks and replace(picks[-1], bars=1) == pick:
            picks[-1] = replace(picks[-1], bars=picks[-1].bars + 1)
        elif count:
            picks.append(pick)
    return picks


def _capacity(way: Way, bar: Bar, sawing: Sawing) -> int:
    return way.across * pieces_from(bar.length_mm, way.piece_mm, kerf_mm=bar.kerf_mm, stub_mm=_stub(bar, sawing)).count


def _left(way: Way, bar: Bar, count: int, sawing: Sawing) -> float:
    """Behind the last row of pieces; 0 where it is too short to keep."""
    rows = ceil(count / way.across)
    fit = pieces_from(bar.length_mm, way.piece_mm, kerf_mm=bar.kerf_mm, stub_mm=_stub(bar, sawing), most=rows)
    return fit.left_mm if fit.left_mm >= sawing.least_remnant_mm else 0.0


def _stub(bar: Bar, sawing: Sawing) -> float:
    return 0.0 if bar.is_clean else sawing.stub_mm


def _used_mm(bar: Bar, pick: Pick) -> float:
    return bar.length_mm - pick.left_mm


def _cost(sawn: Iterable[tuple[Bar, Pick]]) -> float | None:
    total = 0.0
    for bar, pick in sawn:
        if bar.price is None:
            return None
        total += pick.bars * bar.price * _used_mm(bar, pick) / bar.length_mm
    return total


def _why(option: StockOption, place: int, ranked: Sequence[StockOption]) -> tuple[str, ...]:
    said = ["on the rack" if not option.missing else _to_buy(option)]
    if option.behind:
        said.append("shares a bar")
    if len(option.heats) > 1:
        said.append(f"needs {len(option.heats)} heats")
    costs = [one.cost for one in ranked if one.cost is not None]
    if option.cost is None:
        said.append("its price is not known")
    elif len(costs) > 1 and option.cost == min(costs):
        said.append("the cheapest")
    if len(ranked) > 1 and option.yield_share == max(one.yield_share for one in ranked):
        said.append("the least to cut away")
    return tuple(said)


def _to_buy(option: StockOption) -> str:
    if not option.to_buy:
        return "too short for a piece"
    return f"{option.to_buy} to buy" if option.to_buy > 1 else "one to buy"
