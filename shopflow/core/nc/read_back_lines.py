"""Which lines were changed at the control, and what each change does by its words alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shopflow.core.nc.differences import SKIP, ChangeKind, Meaning, aligned, kind_of, meanings
from shopflow.core.nc.program import Program
from shopflow.core.nc.read_back_kinds import AT_THE_MACHINE, EditKind

Words = Counter[tuple[str, float | str]]
Spoken = tuple[int, Meaning]
"""A line, counted from 1, and what it says."""
Pair = tuple[Spoken | None, Spoken | None]

MOST_PAIRED = 40_000
"""Lines of before times lines of after in one place, beyond which they are paired in order."""

_OFF = ("M", 9.0)
_COOLANT = {("M", 7.0), ("M", 8.0), _OFF}
_STOPS = {("M", 0.0): 2, ("M", 1.0): 1}
_RESTATED = {
    *_COOLANT, *_STOPS, ("M", 3.0), ("M", 4.0), ("M", 5.0),
    *(("G", code) for code in (17.0, 18.0, 19.0, 20.0, 21.0, 54.0, 55.0, 56.0, 57.0, 58.0, 59.0, 90.0, 91.0, 93.0, 94.0,
                               95.0)),
}  # fmt: skip
"""What stands around a stop: off before it and on again behind it, and the modes once more."""
_REPEATED = {("G", code) for code in (0.0, 1.0, 2.0, 3.0, 17.0, 18.0, 19.0, 20.0, 21.0, 90.0, 94.0)}
"""Modal codes that a control may put into each block or leave out of it where they are in force already."""
_PECKS = {81.0: 0, 82.0: 0, 73.0: 1, 83.0: 2}
"""Drilling cycles by how far they clear the chips."""


@dataclass(frozen=True)
class LineChange:
    """Lines (from 1) of the floor copy that became lines of what came back; either may be empty."""

    kind: EditKind
    before: tuple[int, ...]
    after: tuple[int, ...]


def line_changes(copy: Program, returned: Program, said: Sequence[list[Meaning]]) -> tuple[list[LineChange], int]:
    """All lines that say something else, were put in or were taken out, each with every kind of change in it.

    said: what each line of both says. Behind them: how many lines say the same and are written otherwise.
    """
    pairs = list(_pairs(_spoken(copy, said[0]), _spoken(returned, said[1])))
    moved = _moved(pairs)
    changes: list[LineChange] = []
    for run in _runs(pairs):
        around_a_stop = _is_around_a_stop(run)
        for pair in run:
            changes += _classed(pair, copy, returned, moved=moved, around_a_stop=around_a_stop)
    same = [(was[0], now[0]) for was, now in pairs if was and now and was[1] == now[1]]
    return changes, sum(copy.text(old).strip() != returned.text(new).strip() for old, new in same)


def unchanged(copy: Program, returned: Program) -> dict[int, int]:
    """Lines of the copy that stand in what came back and say the same, each with its line there."""
    pairs = _pairs(_spoken(copy, meanings(copy)), _spoken(returned, meanings(returned)))
    return {was[0]: now[0] for was, now in pairs if was and now and was[1] == now[1]}


def reads_alike(change: LineChange, before: list[Meaning], after: list[Meaning]) -> bool:
    """Whether a change only repeats or leaves out what is in force; asked where both do exactly the same work.

    before, after: what each line of both says. What is left out has to be stated before that place all the same: what a
    control has in force when it is switched on is not known.
    """
    was = tuple(word for line in change.before for word in before[line - 1])
    now = tuple(word for line in change.after for word in after[line - 1])
    modal = all(word in _REPEATED or word[0] in "XYZIJKRFS" for word in _difference(was, now))
    if not modal or not all(word in _REPEATED or word[0] in "XYZIJKRFSMTHD" for word in (*was, *now)):
        return False
    gone = {word for word in Counter(was) - Counter(now) if word in _REPEATED}
    stated = {word for words in before[: min(change.before, default=1) - 1] for word in words} if gone else set()
    return gone <= stated


def _spoken(program: Program, said: list[Meaning]) -> list[Spoken]:
    """The lines that say something, without the tape marks and without the program's own number."""
    found = [(line, words) for line, words in enumerate(said, 1) if words and words != (("text", "%"),)]
    if found and program.number and {letter for letter, _ in found[0][1]} == {"O"}:
        return found[1:]
    return found


def _pairs(old: list[Spoken], new: list[Spoken]) -> Iterator[Pair]:
    """Each line of both once, in order, beside what it became."""
    for a, b, c, d, same in aligned([said for _, said in old], [said for _, said in new]):
        if same:
            yield from zip(old[a:b], new[c:d], strict=True)
        elif (b - a) * (d - c) > MOST_PAIRED:
            yield from _in_order(old[a:b], new[c:d])
        else:
            yield from _closest(old[a:b], new[c:d])


def _in_order(old: list[Spoken], new: list[Spoken]) -> Iterator[Pair]:
    for step in range(max(len(old), len(new))):
        yield old[step] if step < len(old) else None, new[step] if step < len(new) else None


def _closest(old: list[Spoken], new: list[Spoken]) -> list[Pair]:
    """The pairing in order under which the fewest words change."""
    cost = [[0] * (len(new) + 1) for _ in range(len(old) + 1)]
    for i in range(len(old), -1, -1):
        for j in range(len(new), -1, -1):
            ways = _ways(old, new, i, j, cost)
            cost[i][j] = min(price for price, _ in ways) if ways else 0
    pairs: list[Pair] = []
    i = j = 0
    while i < len(old) or j < len(new):
        _price, (di, dj) = min(_ways(old, new, i, j, cost), key=lambda way: way[0])
        pairs.append((old[i] if di else None, new[j] if dj else None))
        i, j = i + di, j + dj
    return pairs


def _ways(
    old: list[Spoken], new: list[Spoken], i: int, j: int, cost: list[list[int]]
) -> list[tuple[int, tuple[int, int]]]:
    ways = []
    if i < len(old) and j < len(new):
        ways.append((len(_difference(old[i][1], new[j][1])) + cost[i + 1][j + 1], (1, 1)))
    if i < len(old):
        ways.append((len(old[i][1]) + cost[i + 1][j], (1, 0)))
    if j < len(new):
        ways.append((len(new[j][1]) + cost[i][j + 1], (0, 1)))
    return ways


def _difference(was: Meaning, now: Meaning) -> list[tuple[str, float | str]]:
    """The words that only one of the two has, as often as they are in excess."""
    before, after = Counter(was), Counter(now)
    return [*(before - after).elements(), *(after - before).elements()]


def _moved(pairs: list[Pair]) -> set[Meaning]:
    """What was taken out in one place and put in at another."""
    out = {was[1] for was, now in pairs if was and not now}
    return out & {now[1] for was, now in pairs if now and not was}


def _runs(pairs: list[Pair]) -> Iterator[list[Pair]]:
    """Changed pairs that follow on each other."""
    run: list[Pair] = []
    for was, now in pairs:
        if was and now and was[1] == now[1]:
            if run:
                yield run
            run = []
        else:
            run.append((was, now))
    if run:
        yield run


def _is_around_a_stop(run: list[Pair]) -> bool:
    """Whether lines were only put in here, and they make one stop with what belongs around it."""
    words = [word for was, now in run if now and not was for word in now[1]]
    only_added = all(was is None for was, _ in run)
    fits = all(word in _RESTATED or word[0] == "S" for word in words)
    return only_added and fits and any(word in _STOPS for word in words)


def _classed(
    pair: Pair, copy: Program, returned: Program, *, moved: set[Meaning], around_a_stop: bool
) -> Iterator[LineChange]:
    was, now = pair
    before, after = ((was[0],) if was else ()), ((now[0],) if now else ())
    if around_a_stop:
        yield LineChange(EditKind.STOP, before, after)
        return
    kinds = set(_kinds(pair, copy, returned))
    only = was or now
    if (not was or not now) and only and only[1] in moved and not kinds <= AT_THE_MACHINE:
        kinds = {EditKind.ORDER}
    for kind in sorted(kinds):
        yield LineChange(kind, before, after)


def _kinds(pair: Pair, copy: Program, returned: Program) -> Iterator[EditKind]:
    """What the words do, one theme after the other; what is left over at the end is of a kind that needs a review."""
    was, now = pair
    before, after = Counter(was[1] if was else ()), Counter(now[1] if now else ())
    out, put = before - after, after - before
    if (SKIP, 1.0) in out + put:
        yield EditKind.SKIP if (SKIP, 1.0) in put else EditKind.SKIP_OUT
    yield from _rate("F", out, put, EditKind.SLOWER_FEED, EditKind.FASTER_FEED)
    yield from _rate("S", out, put, EditKind.SLOWER_SPEED, EditKind.FASTER_SPEED)
    yield from _stops(out, put)
    coolant = {*_COOLANT, *((code[0], float(code[1:])) for code, _ in copy.control.coolant_codes)}
    if any(word in coolant for word in out + put):
        less = _OFF in put or any(word in coolant and word != _OFF for word in out)
        yield EditKind.LESS_COOLANT if less else EditKind.COOLANT
    for word in [word for word in out + put if word in coolant or word[0] in (SKIP, "F", "S")]:
        out.pop(word, None)
        put.pop(word, None)
    if was and now and _drills(copy, was[0]) and _drills(returned, now[0]):
        yield from _drilling(before, after, out, put)
    if out or put:
        yield _KINDS[kind_of(tuple(out), tuple(put))]


def _rate(letter: str, out: Words, put: Words, slower: EditKind, faster: EditKind) -> Iterator[EditKind]:
    """A feed or a speed. Where it was only put in or only taken out, what it does is read off the motions."""
    old = [float(value) for name, value in out if name == letter]
    new = [float(value) for name, value in put if name == letter]
    if old and new:
        yield slower if new[0] < old[0] else faster
    elif old or new:
        yield slower


def _stops(out: Words, put: Words) -> Iterator[EditKind]:
    """Stops leave `out` and `put`. M01 that becomes M00 is a stop more, the other way round one less."""
    gone = max((weight for word, weight in _STOPS.items() if word in out), default=0)
    come = max((weight for word, weight in _STOPS.items() if word in put), default=0)
    for word in _STOPS:
        out.pop(word, None)
        put.pop(word, None)
    if gone or come:
        yield EditKind.STOP if come > gone else EditKind.STOP_OUT


def _drills(program: Program, line: int) -> bool:
    return program.modes_at(line).motion in ("G73", "G74", *(f"G{code}" for code in range(81, 90)))


def _drilling(before: Words, after: Words, out: Words, put: Words) -> Iterator[EditKind]:
    """Pecks and R planes of a drilling cycle; what is understood leaves `out` and `put`."""
    codes = [[value for letter, value in words if letter == "G" and value in _PECKS] for words in (before, after)]
    depths = [_value("Q", words) for words in (before, after)]
    if all(len(found) == 1 for found in codes) or not any(codes):
        clears = [_PECKS[float(found[0])] if found else -1 for found in codes]
        more = clears[1] > clears[0] or (clears[0] == clears[1] != 0 and None not in depths)
        shallower = depths[1] is not None and 0.0 < depths[1] <= (depths[0] or depths[1])
        if more and shallower and (clears[0] != clears[1] or depths[0] != depths[1]):
            _take_out("GQ" if clears[0] else "GQP", out, put, keep_g=lambda value: value not in _PECKS)
            yield EditKind.PECK
    planes = [_value("R", words) for words in (before, after)]
    if planes[0] is not None and planes[1] is not None and planes[1] > planes[0]:
        _take_out("R", out, put)
        yield EditKind.HIGHER_R


def _value(letter: str, words: Words) -> float | None:
    return next((float(value) for name, value in words if name == letter), None)


def _take_out(letters: str, out: Words, put: Words, *, keep_g: object = None) -> None:
    for words in (out, put):
        for letter, value in list(words):
            if letter in letters and not (letter == "G" and callable(keep_g) and keep_g(value)):
                del words[letter, value]


_KINDS = {
    ChangeKind.MOTION: EditKind.GEOMETRY,
    ChangeKind.TOOL: EditKind.TOOL,
    ChangeKind.OFFSET: EditKind.OFFSET,
    ChangeKind.SPEED: EditKind.OTHER,
    ChangeKind.FEED: EditKind.OTHER,
    ChangeKind.OTHER: EditKind.OTHER,
    ChangeKind.LOOKS: EditKind.OTHER,
}
