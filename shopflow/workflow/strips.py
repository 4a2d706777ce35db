"""A job drawn as one line: what a strip holds, and where each of its marks goes.

Places along the line are shares of its width in percent, so that the picture stretches with the page; heights and the
sizes of beads are in pixels. Nothing here reads the database.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

BEAD_HEIGHT = 20
BEAD_STEP = 23
"""From one bead to the next above it at the same op, px."""
DIGIT_WIDTH = 7.5
LINE_DROP = 12
"""From the line to the lower edge of the picture, px."""
HEAD_ROOM = 6


class OpState(StrEnum):
    DONE = "done"
    NOW = "now"
    TODO = "todo"
    HELD = "held"
    SKIPPED = "skipped"


class BeadState(StrEnum):
    RUNNING = "running"
    WAITING = "waiting"
    HELD = "held"
    SCRAP = "scrap"
    YOU = "you"
    """Waiting for the person who looks at the page."""


OP_WORDS: dict[OpState, str | Promise] = {
    OpState.DONE: gettext_lazy("done"),
    OpState.NOW: gettext_lazy("in work"),
    OpState.TODO: gettext_lazy("to do"),
    OpState.HELD: gettext_lazy("held"),
    OpState.SKIPPED: gettext_lazy("skipped"),
}
BEAD_WORDS: dict[BeadState, str | Promise] = {
    BeadState.RUNNING: gettext_lazy("running"),
    BeadState.WAITING: gettext_lazy("waiting"),
    BeadState.HELD: gettext_lazy("held"),
    BeadState.SCRAP: gettext_lazy("scrapped"),
    BeadState.YOU: gettext_lazy("waiting for you"),
}


@dataclass(frozen=True)
class StripOp:
    """One op of the routing. kind: "mill" is drawn square, everything else round."""

    number: int | str
    title: str
    kind: str = ""
    state: OpState = OpState.TODO
    url: str = ""

    @property
    def state_words(self) -> str:
        return str(OP_WORDS[OpState(self.state)])


@dataclass(frozen=True)
class Bead:
    """Pieces of one lot at one op. op_index counts from 0 in Strip.ops. label: the lot's name, may be empty."""

    op_index: int
    label: str
    count: int
    state: BeadState = BeadState.WAITING

    @property
    def words(self) -> str:
        pieces = ngettext("%(count)d piece %(state)s", "%(count)d pieces %(state)s", self.count)
        said = pieces % {"count": self.count, "state": BEAD_WORDS[BeadState(self.state)]}
        return f"{self.label}: {said}" if self.label else said


@dataclass(frozen=True)
class Strip:
    """What one job's strip shows.

    late_days: days past due, 0 or less when it is not late. stops: indexes i where a person stops the program between
    ops i and i + 1. held: the reason, empty when the job is not held. headline: where it is, in words.
    """

    pk: int
    job_number: str
    title: str
    customer: str = ""
    due: str = ""
    late_days: int = 0
    url: str = ""
    ops: Sequence[StripOp] = ()
    beads: Sequence[Bead] = ()
    stops: Sequence[int] = ()
    held: str = ""
    needs_you: bool = False
    headline: str = ""
    quantity: int | None = None

    @property
    def element_id(self) -> str:
        return f"strip-{self.pk}"

    @property
    def late_words(self) -> str:
        if self.late_days <= 0:
            return ""
        return ngettext("%(days)d day late", "%(days)d days late", self.late_days) % {"days": self.late_days}


@dataclass(frozen=True)
class OpMark:
    at: float
    is_square: bool
    state: OpState


@dataclass(frozen=True)
class BeadMark:
    """Placed around a point at `at` percent; x, y, width and height in px from that point."""

    at: float
    state: BeadState
    text: str
    width: float
    x: float
    y: float
    height: int = BEAD_HEIGHT

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def middle(self) -> float:
        return self.y + self.height / 2


@dataclass(frozen=True)
class Stretch:
    """A piece of the line between two places in percent."""

    start: float
    end: float
    is_done: bool


@dataclass(frozen=True)
class Drawing:
    height: int
    line_y: int
    ops: list[OpMark] = field(default_factory=list)
    beads: list[BeadMark] = field(default_factory=list)
    stretches: list[Stretch] = field(default_factory=list)
    stops: list[float] = field(default_factory=list)


def percent(share: float) -> float:
    """A share of the line as percent, rounded so that equal pictures are equal bytes."""
    return round(100 * share, 3)


def op_place(index: int, count: int) -> float:
    """Middle of the op's column, percent."""
    return percent((index + 0.5) / count)


def stop_place(index: int, count: int) -> float:
    """The border between op `index` and the next, percent."""
    return percent((index + 1) / count)


def bead_width(text: str) -> float:
    """Wide enough for the count, and never narrower than it is high."""
    return max(BEAD_HEIGHT + 4, 14 + DIGIT_WIDTH * len(text))


def stretches(ops: Sequence[StripOp]) -> list[Stretch]:
    """The line cut at the ops; a stretch is done when the op at its start is."""
    places = [0.0, *(op_place(index, len(ops)) for index in range(len(ops))), 100.0]
    done = [bool(ops) and ops[0].state != OpState.TODO, *(op.state in (OpState.DONE, OpState.SKIPPED) for op in ops)]
    return [Stretch(start, end, flag) for start, end, flag in zip(places, places[1:], done, strict=False)]


def place_beads(beads: Sequence[Bead], count: int, line_y: int) -> list[BeadMark]:
    """Beads sit above their op, later ones on top of earlier ones. Raises IndexError for an op that is not there."""
    stacked: Counter[int] = Counter()
    marks = []
    for bead in beads:
        if not 0 <= bead.op_index < count:
            raise IndexError(f"bead at op {bead.op_index} of a strip with {count} ops")
        text = str(bead.count)
        width = bead_width(text)
        top = line_y - BEAD_HEIGHT - 11 - BEAD_STEP * stacked[bead.op_index]
        marks.append(BeadMark(op_place(bead.op_index, count), BeadState(bead.state), text, width, -width / 2, top))
        stacked[bead.op_index] += 1
    return marks


def draw(strip: Strip) -> Drawing:
    """Place every mark of a strip; its picture is as high as its highest stack of beads."""
    count = len(strip.ops)
    highest = max(Counter(bead.op_index for bead in strip.beads).values(), default=1)
    line_y = HEAD_ROOM + BEAD_STEP * highest + 8
    return Drawing(
        height=line_y + LINE_DROP,
        line_y=line_y,
        ops=[OpMark(op_place(i, count), op.kind == "mill", OpState(op.state)) for i, op in enumerate(strip.ops)],
        beads=place_beads(strip.beads, count, line_y),
        stretches=stretches(strip.ops),
        stops=[stop_place(index, count) for index in sorted(set(strip.stops)) if 0 <= index < count - 1],
    )


def beads_at(strip: Strip, index: int) -> list[Bead]:
    return [bead for bead in strip.beads if bead.op_index == index]


def in_words(strip: Strip) -> list[str]:
    """What the picture shows at each op, in words, for those who do not see it."""
    said = []
    for index, op in enumerate(strip.ops):
        words = [op.state_words, *(bead.words for bead in beads_at(strip, index))]
        if index in strip.stops:
            words.append(_("the program stops after it"))
        said.append(", ".join(words))
    return said
