"""Pieces of several lengths out of several bars: the least length of bars opened (one-dimensional cutting stock).

First-fit and best-fit decreasing, and one bar after the other filled as full as can be, give an answer; a search over
all layouts then looks for a better one and proves the best of small numbers. It stops after a number of steps, and the
answer says whether it is proven. The fullest bar: the minimal bin slack of Gupta and Ho (1999), from memory.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

SAME_MM = 1e-6
MOST_FILLINGS = 500
WELL_FILLED_MM = 1e-3
MOST_SEARCHED = 150
"""Pieces up to which a better layout is searched for."""
MOST_STEPS = 20_000
"""Of the search; beyond them the best answer found so far stands, unproven."""


@dataclass(frozen=True)
class Wanted:
    """Equal pieces. key: whatever names them."""

    key: str
    piece_mm: float
    count: int


@dataclass(frozen=True)
class Stocked:
    """Equal bars. stub_mm: sawn off before the first piece, 0 of a clean end."""

    key: str
    length_mm: float
    count: int
    stub_mm: float = 0.0


@dataclass(frozen=True)
class Layout:
    """One bar. cuts: keys with how many pieces, longest first. left_mm: behind the last piece and its kerf."""

    key: str
    cuts: tuple[tuple[str, int], ...]
    left_mm: float


@dataclass(frozen=True)
class Nesting:
    """missing: pieces by key that no bar was left for. is_proven: no other layout opens less length of bars."""

    layouts: tuple[Layout, ...]
    missing: dict[str, int]
    opened_mm: float
    is_proven: bool


@dataclass
class _Bar:
    """An opened bar while it is filled. room_mm: with the kerf that the last piece does not need."""

    kind: int
    room_mm: float
    pieces: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class _Problem:
    """sizes: of each piece with its kerf, longest first. owners: which wanted each is of."""

    stock: tuple[Stocked, ...]
    sizes: tuple[float, ...]
    owners: tuple[int, ...]
    kerf_mm: float

    def open(self, kind: int) -> _Bar:
        bar = self.stock[kind]
        return _Bar(kind, bar.length_mm - bar.stub_mm + self.kerf_mm + SAME_MM)

    def length(self, bars: Sequence[_Bar]) -> float:
        return sum(self.stock[bar.kind].length_mm for bar in bars)


def nest(wanted: Sequence[Wanted], stock: Sequence[Stocked], *, kerf_mm: float) -> Nesting:
    """Which pieces to saw off which bar. As many pieces as find room, then the least total length of bars, mm.

    Raises ValueError for a piece, a bar or a kerf that is no length.
    """
    if kerf_mm < 0 or any(one.piece_mm <= 0 for one in wanted) or any(bar.length_mm <= 0 for bar in stock):
        raise ValueError("pieces and bars are longer than 0, and a kerf is not negative")
    order = sorted(range(len(wanted)), key=lambda index: (-wanted[index].piece_mm, index))
    owners = tuple(index for index in order for _piece in range(wanted[index].count))
    problem = _Problem(tuple(stock), tuple(wanted[index].piece_mm + kerf_mm for index in owners), owners, kerf_mm)
    found = min(_filled(problem), key=lambda bars: (-sum(len(bar.pieces) for bar in bars), problem.length(bars)))
    search = _Search(problem, found)
    if len(problem.sizes) <= MOST_SEARCHED:
        search.run()
    return _nesting(wanted, problem, search.best, is_proven=search.is_proven)


def first_fit(wanted: Sequence[Wanted], stock: Sequence[Stocked], *, kerf_mm: float) -> float:
    """The length of bars that plain first-fit decreasing opens, bars in the order in which they are given, mm."""
    order = sorted(wanted, key=lambda one: -one.piece_mm)
    sizes = tuple(one.piece_mm + kerf_mm for one in order for _piece in range(one.count))
    problem = _Problem(tuple(stock), sizes, tuple(range(len(sizes))), kerf_mm)
    return problem.length(_fill(problem, range(len(stock)), _first))


def _filled(problem: _Problem) -> Iterator[list[_Bar]]:
    kinds = range(len(problem.stock))
    shortest = sorted(kinds, key=lambda kind: problem.stock[kind].length_mm)
    for order in (list(kinds), shortest, shortest[::-1]):
        yield _fill(problem, order, _first)
        yield _fill(problem, order, _tightest)
        yield _one_by_one(problem, order)


def _first(fitting: Sequence[_Bar]) -> _Bar:
    return fitting[0]


def _tightest(fitting: Sequence[_Bar]) -> _Bar:
    return min(fitting, key=lambda bar: bar.room_mm)


def _fill(problem: _Problem, order: Sequence[int], choose: Callable[[Sequence[_Bar]], _Bar]) -> list[_Bar]:
    """Longest piece first, each into an opened bar where one has room, else into the next of the order."""
    unopened = Counter({kind: bar.count for kind, bar in enumerate(problem.stock)})
    bars: list[_Bar] = []
    for piece, size in enumerate(problem.sizes):
        fitting = [bar for bar in bars if bar.room_mm >= size]
        if not fitting:
            kind = next((one for one in order if unopened[one] and problem.open(one).room_mm >= size), None)
            if kind is None:
                continue
            unopened[kind] -= 1
            bars.append(problem.open(kind))
            fitting = [bars[-1]]
        bar = choose(fitting)
        bar.room_mm -= size
        bar.pieces.append(piece)
    return bars


def _one_by_one(problem: _Problem, order: Sequence[int]) -> list[_Bar]:
    """Each bar with the longest piece that is left and whatever fills it best beside that."""
    unopened = [kind for kind in order for _bar in range(problem.stock[kind].count)]
    left, bars = list(range(len(problem.sizes))), []
    for kind in unopened:
        bar = problem.open(kind)
        first = next((piece for piece in left if problem.sizes[piece] <= bar.room_mm), None)
        if first is None:
            continue
        others = [piece for piece in left if piece != first]
        bar.pieces = [first, *_fullest(problem.sizes, others, bar.room_mm - problem.sizes[first])]
        bar.room_mm -= sum(problem.sizes[piece] for piece in bar.pieces)
        bars.append(bar)
        left = [piece for piece in left if piece not in bar.pieces]
    return bars


def _fullest(sizes: Sequence[float], pieces: Sequence[int], room_mm: float) -> list[int]:
    """Which of the pieces, longest first, leave the least of the room; as good as a number of steps finds."""
    best: list[int] = []
    least, steps = room_mm, 0
    waiting: list[tuple[int, float, tuple[int, ...]]] = [(0, room_mm, ())]
    while waiting and steps < MOST_FILLINGS and least > WELL_FILLED_MM:
        start, room, chosen = waiting.pop()
        steps += 1
        if room < least:
            best, least = list(chosen), room
        tried = set()
        for place in range(len(pieces) - 1, start - 1, -1):
            size = sizes[pieces[place]]
            if size <= room and size not in tried:
                tried.add(size)
                first = next(one for one in range(start, len(pieces)) if sizes[pieces[one]] == size)
                waiting.append((first + 1, room - size, (*chosen, pieces[first])))
    return best


class _Search:
    """Depth first, the longest piece that is left into every bar that differs, cut off where no less can come of it."""

    def __init__(self, problem: _Problem, found: list[_Bar]) -> None:
        self.problem, self.best, self.steps, self.is_proven = problem, found, 0, False
        self.is_whole = sum(len(bar.pieces) for bar in found) == len(problem.sizes)
        self.best_mm = problem.length(found) if self.is_whole else float("inf")
        self.behind = [0.0]
        for size in reversed(problem.sizes):
            self.behind.append(self.behind[-1] + size)
        self.behind.reverse()

    def run(self) -> None:
        unopened = [bar.count for bar in self.problem.stock]
        self._place(0, [], unopened, 0.0)
        self.is_proven = self.steps < MOST_STEPS and self.best_mm < float("inf")

    def _place(self, piece: int, bars: list[_Bar], unopened: list[int], opened_mm: float) -> None:
        self.steps += 1
        if self.steps >= MOST_STEPS or not self._can_be_better(piece, bars, opened_mm):
            return
        if piece == len(self.problem.sizes):
            self.best = [_Bar(bar.kind, bar.room_mm, list(bar.pieces)) for bar in bars]
            self.best_mm = opened_mm
            return
        size = self.problem.sizes[piece]
        for bar in self._that_differ(bars, size, piece):
            bar.room_mm -= size
            bar.pieces.append(piece)
            self._place(piece + 1, bars, unopened, opened_mm)
            bar.pieces.pop()
            bar.room_mm += size
        self._open_one(piece, bars, unopened, opened_mm)

    def _open_one(self, piece: int, bars: list[_Bar], unopened: list[int], opened_mm: float) -> None:
        size, seen = self.problem.sizes[piece], set()
        for kind, bar in enumerate(self.problem.stock):
            shape = bar.length_mm, bar.stub_mm
            fresh = self.problem.open(kind)
            if not unopened[kind] or shape in seen or fresh.room_mm < size:
                continue
            seen.add(shape)
            fresh.room_mm -= size
            fresh.pieces.append(piece)
            unopened[kind] -= 1
            self._place(piece + 1, [*bars, fresh], unopened, opened_mm + bar.length_mm)
            unopened[kind] += 1

    def _that_differ(self, bars: list[_Bar], size: float, piece: int) -> list[_Bar]:
        """Bars with room for it, one of those that are as full; where the piece before was as long, none that stands
        before the bar that took it, since the two could change places."""
        start = 0
        if piece and self.problem.sizes[piece - 1] == size:
            start = next((place for place, bar in enumerate(bars) if bar.pieces and bar.pieces[-1] == piece - 1), 0)
        rooms: dict[float, _Bar] = {}
        for bar in bars[start:]:
            if bar.room_mm >= size:
                rooms.setdefault(round(bar.room_mm, 6), bar)
        return sorted(rooms.values(), key=lambda bar: bar.room_mm)

    def _can_be_better(self, piece: int, bars: list[_Bar], opened_mm: float) -> bool:
        """What is still to be cut, less all the room in opened bars, has to come out of bars not opened yet."""
        room = sum(bar.room_mm for bar in bars)
        still = max(0.0, self.behind[piece] - room)
        if still:
            shortest = min((bar.length_mm for bar in self.problem.stock), default=0.0)
            most_bars = still // shortest + 1
            still = max(still - most_bars * (self.problem.kerf_mm + SAME_MM), 0.0)
        return opened_mm + still < self.best_mm - SAME_MM


def _nesting(wanted: Sequence[Wanted], problem: _Problem, bars: Sequence[_Bar], *, is_proven: bool) -> Nesting:
    layouts, placed = [], Counter[str]()
    for bar in bars:
        cuts = Counter(wanted[problem.owners[piece]].key for piece in bar.pieces)
        placed.update(cuts)
        left = max(0.0, bar.room_mm - SAME_MM - problem.kerf_mm)
        layouts.append(Layout(problem.stock[bar.kind].key, tuple(cuts.items()), left))
    asked = Counter[str]()
    for one in wanted:
        asked[one.key] += one.count
    missing = {key: count - placed[key] for key, count in asked.items() if count > placed[key]}
    return Nesting(tuple(layouts), missing, problem.length(bars), is_proven)
