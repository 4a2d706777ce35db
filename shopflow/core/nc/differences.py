"""What changed between two revisions of a program, by meaning: not how a number is written, but what it says."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from difflib import SequenceMatcher
from enum import StrEnum
from itertools import groupby

from shopflow.core.nc.blocks import read_block, split_comments
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.extent import Extent
from shopflow.core.nc.program import Program
from shopflow.core.types import ControlProfile

Meaning = tuple[tuple[str, float | str], ...]
Span = tuple[int, int]
Stretch = tuple[int, int, int, int, bool]
Said = dict[str, Meaning] | None

SKIP = "/"
"""Stands in a meaning, with 1, where a block is left out while the block skip is on."""

_NUMBERED = re.compile(r"/?\d?N\d+", re.ASCII)

MOST_COMPARED = 20_000
"""Lines from the first change to the last, beyond which only lines that stand once are looked for elsewhere."""


class ChangeKind(StrEnum):
    """What a changed line changes; the first that applies."""

    MOTION = "motions"
    TOOL = "tools"
    OFFSET = "offsets"
    SPEED = "speeds"
    FEED = "feeds"
    OTHER = "other words"
    LOOKS = "comments, number format or sequence numbers only"


@dataclass(frozen=True)
class Change:
    """Lines (from 1) of the old text that became lines of the new; either may be empty."""

    kind: ChangeKind
    before: tuple[int, ...]
    after: tuple[int, ...]


@dataclass(frozen=True)
class Difference:
    """All changes in order. removed_feeds, added_feeds: mm/min, that only one of the two uses."""

    changes: tuple[Change, ...]
    same_motions: bool
    extent_before: Extent | None
    extent_after: Extent | None
    cut_length_change_mm: float
    removed_feeds: tuple[float, ...]
    added_feeds: tuple[float, ...]

    @property
    def meaningful(self) -> tuple[Change, ...]:
        """The changes that change more than looks."""
        return tuple(change for change in self.changes if change.kind is not ChangeKind.LOOKS)


def difference(before: Program, after: Program) -> Difference:
    """Compare two readings, line by line and as a whole."""
    # Most lines of two revisions are the same to the letter: each text is taken apart once.
    said: Said = {} if before.control == after.control else None
    old, new = meanings(before, said), meanings(after, said)
    changes: list[Change] = []
    for begin_old, end_old, begin_new, end_new, same in aligned(old, new):
        if same:
            changes += _looks(before, after, begin_old, begin_new, end_old - begin_old)
        else:
            changes += _changed(old, new, (begin_old, end_old), (begin_new, end_new))
    feeds_before, feeds_after = _feeds(before), _feeds(after)
    return Difference(
        changes=tuple(changes),
        same_motions=_same_motions(before, after),
        extent_before=before.extent,
        extent_after=after.extent,
        cut_length_change_mm=after.cut_length_mm - before.cut_length_mm,
        removed_feeds=tuple(sorted(feeds_before - feeds_after)),
        added_feeds=tuple(sorted(feeds_after - feeds_before)),
    )


def meanings(program: Program, said: Said = None) -> list[Meaning]:
    """What each line says, in order; () for one that says nothing: blank, a comment, a sequence number alone.

    said: texts of this control that were taken apart before; the program's own are added.
    """
    known = {} if said is None else said
    texts = [program.text(line) for line in range(1, program.lines + 1)]
    for text in texts:
        if text not in known:
            known[text] = _meaning(text, program.control)
    return [known[text] for text in texts]


def _meaning(text: str, control: ControlProfile) -> Meaning:
    """What a line says: its words and values in the order of the alphabet; its text where it is not read."""
    try:
        block = read_block(text, control, lambda number: float(number))
    except Fault:
        return (("text", " ".join(text.split())),)
    words: list[tuple[str, float | str]] = [(word.letter, word.value) for word in block.words]
    if block.deletable:
        words.append((SKIP, 1.0))
    if "#" in text or "[" in text or block.flow:
        code, _comment = split_comments(text, control)
        words.append(("text", _NUMBERED.sub("", code, count=1) if _NUMBERED.match(code) else code))
    return tuple(sorted(words, key=str))


def aligned(old: list[Meaning], new: list[Meaning]) -> list[Stretch]:
    """Matching and differing stretches: (old begin, old end, new begin, new end, same)."""
    head = 0
    while head < min(len(old), len(new)) and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < min(len(old), len(new)) - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    middle_old, middle_new = old[head : len(old) - tail], new[head : len(new) - tail]
    stretches = [(0, head, 0, head, True)]
    for a, b, c, d, same in _middle(middle_old, middle_new):
        stretches.append((head + a, head + b, head + c, head + d, same))
    stretches.append((len(old) - tail, len(old), len(new) - tail, len(new), True))
    return stretches


def _middle(old: list[Meaning], new: list[Meaning]) -> list[Stretch]:
    """As `aligned`, from the first line that differs to the last."""
    if max(len(old), len(new)) <= MOST_COMPARED:
        return _matched(old, new)
    if len(old) == len(new):
        return _line_by_line(old, new)
    once = {meaning for meaning, count in Counter(old).items() & Counter(new).items() if count == 1}
    stretches: list[Stretch] = []
    at_old = at_new = 0
    places = {meaning: place for place, meaning in enumerate(new) if meaning in once}
    for place, meaning in enumerate(old):
        if meaning in places and place >= at_old and places[meaning] >= at_new:
            stretches += _between(old, new, (at_old, place), (at_new, places[meaning]))
            at_old, at_new = place + 1, places[meaning] + 1
            stretches.append((place, at_old, places[meaning], at_new, True))
    return stretches + _between(old, new, (at_old, len(old)), (at_new, len(new)))


def _between(old: list[Meaning], new: list[Meaning], span_old: Span, span_new: Span) -> list[Stretch]:
    """Between two lines that stand once in both: matched where that is quick."""
    here_old, here_new = old[slice(*span_old)], new[slice(*span_new)]
    if not here_old and not here_new:
        return []
    quick = max(len(here_old), len(here_new)) <= MOST_COMPARED // 10
    found = _matched(here_old, here_new) if quick else [(0, len(here_old), 0, len(here_new), False)]
    first_old, first_new = span_old[0], span_new[0]
    return [(first_old + a, first_old + b, first_new + c, first_new + d, same) for a, b, c, d, same in found]


def _matched(old: list[Meaning], new: list[Meaning]) -> list[Stretch]:
    matcher = SequenceMatcher(None, old, new, autojunk=False)
    return [(a, b, c, d, tag == "equal") for tag, a, b, c, d in matcher.get_opcodes()]


def _line_by_line(old: list[Meaning], new: list[Meaning]) -> list[Stretch]:
    """Of two texts of as many lines: each line with the one of its number."""
    runs = groupby(range(len(old)), key=lambda line: old[line] == new[line])
    stretches = [(same, list(lines)) for same, lines in runs]
    return [(lines[0], lines[-1] + 1, lines[0], lines[-1] + 1, same) for same, lines in stretches]


def _looks(before: Program, after: Program, old: int, new: int, count: int) -> list[Change]:
    """Lines that mean the same and are written otherwise."""
    return [
        Change(ChangeKind.LOOKS, (old + step + 1,), (new + step + 1,))
        for step in range(count)
        if before.text(old + step + 1) != after.text(new + step + 1)
    ]


def _changed(old: list[Meaning], new: list[Meaning], span_old: Span, span_new: Span) -> list[Change]:
    """Pair changed lines one to one as far as they go; what is left over was removed or added."""
    changes = []
    for step in range(max(span_old[1] - span_old[0], span_new[1] - span_new[0])):
        line_old, line_new = span_old[0] + step, span_new[0] + step
        was = old[line_old] if line_old < span_old[1] else ()
        now = new[line_new] if line_new < span_new[1] else ()
        before = (line_old + 1,) if line_old < span_old[1] else ()
        after = (line_new + 1,) if line_new < span_new[1] else ()
        changes.append(Change(kind_of(was, now), before, after))
    return changes


_OFFSET_CODES = frozenset((43.0, 44.0, 49.0, 54.0, 55.0, 56.0, 57.0, 58.0, 59.0, 59.1, 59.2, 59.3, 10.0, 92.0))


def kind_of(was: Meaning, now: Meaning) -> ChangeKind:
    """What the words change that only one of the two has."""
    words = set(was) ^ set(now)
    letters = {letter for letter, _ in words}
    codes = {value for letter, value in words if letter == "G"}
    if not words:
        return ChangeKind.LOOKS
    if "T" in letters or ("M", 6.0) in words:
        return ChangeKind.TOOL
    if letters & {"H", "D"} or codes & _OFFSET_CODES:
        return ChangeKind.OFFSET
    if letters & set("XYZABCUVWIJKRPQL") or codes or "text" in letters:
        return ChangeKind.MOTION
    if "S" in letters:
        return ChangeKind.SPEED
    return ChangeKind.FEED if "F" in letters else ChangeKind.OTHER


def _feeds(program: Program) -> set[float]:
    feeds = program.motions.feed_mm_min
    return {round(feed, 3) for feed in set(feeds[feeds == feeds].tolist())}


def _same_motions(before: Program, after: Program) -> bool:
    """Whether both move the same way, from whichever lines."""
    one, two = before.motions, after.motions
    if len(one) != len(two):
        return False
    for name in one.__dataclass_fields__:
        old, new = getattr(one, name), getattr(two, name)
        if name != "line" and not ((old == new) | ((old != old) & (new != new))).all():
            return False
    return True
