"""The reading under way: profile, state, rows and notes, and the one place where a motion becomes a row."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from shopflow.core.nc.blocks import Word
from shopflow.core.nc.codes import Codes
from shopflow.core.nc.compensation import Compensator
from shopflow.core.nc.corner_words import CornerWords
from shopflow.core.nc.program import Limits, Stop, Unread
from shopflow.core.nc.state import MM_PER_IN, NAN3, Rows, State
from shopflow.core.nc.transforms import to_place, to_point
from shopflow.core.nc.variables import Variables
from shopflow.core.types import ControlProfile, Coolant, DecimalRule, MotionKind, Tool

AXES = "XYZ"


@dataclass
class Notes:
    """What was not read, and what had to be assumed."""

    limits: Limits
    unread: list[Unread] = field(default_factory=list)
    assumed: dict[str, Unread] = field(default_factory=dict)
    unlisted: int = 0

    def refuse(self, line: int, text: str, why: str, code: str = "unread-word") -> None:
        if len(self.unread) < self.limits.max_unread:
            self.unread.append(Unread(line, text.strip()[:160], why, code))
        else:
            self.unlisted += 1

    def assume(self, key: str, line: int, text: str, why: str) -> None:
        """Note an assumption at the first line that needs it."""
        if key not in self.assumed:
            self.assumed[key] = Unread(line, text.strip()[:160], why, key)


@dataclass
class Reading:
    """One program being read. line: of the block being run, from 1."""

    control: ControlProfile
    limits: Limits
    state: State
    notes: Notes
    rows: Rows = field(default_factory=Rows)
    line: int = 0
    text: str = ""
    stops: list[Stop] = field(default_factory=list)
    stop_heights_stated: list[bool] = field(default_factory=list)
    tools: list[int] = field(default_factory=list)
    tools_known: Mapping[int, Tool] = field(default_factory=dict)
    last_comment: str = ""
    feed_refused: bool = False
    length_offsets_set: set[int] = field(default_factory=set)
    compensation: Compensator | None = None
    text_of: Callable[[int], str] = str

    def __post_init__(self) -> None:
        self.corners = CornerWords(give=self._put_compensated, refuse=self.refuse_at)
        self.variables = Variables(self.control, self.state)

    def assume(self, key: str, why: str) -> None:
        self.notes.assume(key, self.line, self.text, why)

    def variable(self, number: int) -> float:
        """The value of #number; raises Fault where only the control knows it."""
        value = self.variables.read(number)
        while self.variables.assumed_zero:
            unset = self.variables.assumed_zero.pop()
            self.assume(
                f"variable-{unset}", f"#{unset} was not set by the program: read as 0, its default in the report"
            )
        return value

    def length(self, word: Word) -> float:
        """A word's length in mm, by the units in force and the control's decimal rule."""
        state = self.state
        if state.unit_mm == 1.0 and "units" not in state.stated:
            self.assume("units-not-stated", "no G20 or G21 before the first length: read as millimetres")
        if word.pointed or self.control.decimal_rule is DecimalRule.CALCULATOR:
            return word.value * state.unit_mm
        if state.unit_mm == 1.0:
            return word.value * self.control.least_increment_mm
        return word.value * self.control.least_increment_in * MM_PER_IN

    def target(self, codes: Codes) -> list[float]:
        """Where the block's axis words lead, mm; takes the words, and marks what is known from here on."""
        state = self.state
        end = list(state.position)
        if "distance" not in state.stated:
            self.assume("distance-not-stated", "no G90 or G91 before the first move: read as absolute (G90)")
        if "offset" not in state.stated:
            self.assume("offset-not-stated", "no work offset before the first move: read as G54, the default")
        if state.transforms:
            return self._transformed_target(codes)
        for axis, letter in enumerate(AXES):
            word = codes.take(letter)
            if word is None:
                continue
            value = self.length(word)
            if state.absolute:
                end[axis] = value + (state.shift[axis] + state.local_shift[axis])
            else:
                self.assume_start_known(axis)
                end[axis] += value
        return end

    def _transformed_target(self, codes: Codes) -> list[float]:
        """The same under G68, G51, G51.1: the words say a program point, which is then mirrored, scaled, turned."""
        state = self.state
        point = to_point(state.transforms, list(state.position))
        for axis, letter in enumerate(AXES):
            word = codes.take(letter)
            if word is None:
                continue
            value = self.length(word)
            if not state.absolute:
                self.assume_start_known(axis)
            elif axis < 2 and "rotation" in state.transforms and not state.known[1 - axis]:
                self.assume_start_known(1 - axis)
            shift = state.shift[axis] + state.local_shift[axis]
            point[axis] = value + shift if state.absolute else point[axis] + value
        return to_place(state.transforms, point)

    def assume_start_known(self, axis: int) -> None:
        """An increment from a place that nobody stated: the program is read as if it stood where it is assumed."""
        if not self.state.known[axis]:
            self.state.known[axis] = True
            self.assume("start-assumed", f"{AXES[axis]} moves by an increment from a place the program does not state")

    def feed_for(self, length: float) -> float:
        """Feed in mm/min for a path of this length, mm; NaN, and an entry, when the program gives none."""
        state = self.state
        if state.feed_mode == 94:
            feed = state.feed_mm_min
        elif state.feed_mode == 95:
            feed = state.feed_word * state.rpm
        else:
            feed = state.feed_word * length
        if math.isnan(feed) or (feed <= 0.0 and (length > 0.0 or state.feed_mode != 93)):
            self._refuse_missing_feed()
            return math.nan
        self.feed_refused = False
        return feed

    def _refuse_missing_feed(self) -> None:
        if not self.feed_refused:
            why = "a feed move with no feed stated, here and until one is given"
            self.notes.refuse(self.line, self.text, why, "feed-not-stated")
        self.feed_refused = True

    def rapid(self, end: Sequence[float], *, commanded: Sequence[bool], cycle: int = 0) -> None:
        self._add(MotionKind.RAPID, end, commanded, feed=math.nan, cycle=cycle)

    def feed(self, end: Sequence[float], *, commanded: Sequence[bool], cycle: int = 0) -> None:
        feed = self.feed_for(math.dist(self.state.position, end))
        self._add(MotionKind.FEED, end, commanded, feed=feed, cycle=cycle)

    def arc(
        self, end: Sequence[float], *, commanded: Sequence[bool], centre: Sequence[float], turn: float, length: float
    ) -> None:
        feed = self.feed_for(length)
        self._add(MotionKind.ARC, end, commanded, feed=feed, centre=centre, turn=turn)

    def dwell(self, seconds: float, *, cycle: int = 0) -> None:
        self._add(
            MotionKind.DWELL, self.state.position, (False, False, False), feed=math.nan, dwell=seconds, cycle=cycle
        )

    def stop(self, kind: str, text: str) -> None:
        """Note a place where the program waits; how far the tool stands clear is measured when all is read."""
        state, silent = self.state, self.control.stop_stops_spindle
        self.stop_heights_stated.append(state.known[2])
        self.stops.append(
            Stop(
                line=self.line,
                kind=kind,
                text=text,
                spindle_on=state.spindle != 0 and not silent,
                coolant_on=bool(state.coolant) and not silent,
                position=(state.position[0], state.position[1], state.position[2]),
                retracted=state.tool_change_up,
                height_mm=math.inf if state.tool_change_up else math.nan,
                tool=state.tool,
                after_motion=self.motions_so_far - 1,
            )
        )
        if silent:
            state.spindle, state.coolant = 0, Coolant.OFF

    def _add(
        self,
        kind: MotionKind,
        end: Sequence[float],
        commanded: Sequence[bool],
        *,
        feed: float,
        centre: Sequence[float] = NAN3,
        turn: float = 0.0,
        dwell: float = 0.0,
        cycle: int = 0,
        machine: bool = False,
    ) -> None:
        state = self.state
        start, start_known = tuple(state.position), tuple(state.known)
        state.position, state.tool_change_up = list(end), False
        state.known = [known or said for known, said in zip(start_known, commanded, strict=True)]
        self._put(
            (
                kind, self.line, start, tuple(end), start_known, tuple(state.known), tuple(centre), state.plane, turn,
                feed, dwell, state.rpm, state.spindle, state.coolant, state.tool, state.length_offset,
                state.radius_offset, state.side, 0 if machine else state.work_offset, cycle,
            )
        )  # fmt: skip

    @property
    def motions_so_far(self) -> int:
        """Motions that have run; some are no rows yet, since the next one decides where they end."""
        return len(self.rows) + self.corners.held + (self.compensation.held if self.compensation else 0)

    def refuse_at(self, line: int, why: str) -> None:
        """An entry about a line other than the one being run."""
        self.notes.refuse(line, self.text_of(line), why)

    def refuse_compensation(self, line: int, why: str) -> None:
        """An entry about cutter compensation in an earlier line."""
        code = "overcut" if why.startswith("overcut") else "compensation"
        self.notes.refuse(line, self.text_of(line), why, code)

    def _put(self, row: tuple[Any, ...]) -> None:
        if self.corners.is_idle:
            self._put_compensated(row)
        else:
            self.corners.push(row)

    def _put_compensated(self, row: tuple[Any, ...]) -> None:
        if self.compensation is None:
            self.rows.add(row)
        elif not self.compensation.push(row):
            self.compensation = None

    def begin_compensation(self, compensation: Compensator) -> None:
        """From here on the rows go through it, until G40 and the move after it."""
        self.end_compensation()
        self.compensation = compensation

    def end_compensation(self) -> None:
        """Give out what corners and compensation still hold, where the program ends or begins compensation anew."""
        self.corners.close()
        if self.compensation is not None and not self.compensation.is_leaving:
            self.compensation.leave()
        self.compensation = None

    def machine_move(self, goals: dict[int, float], *, feeding: bool = False) -> None:
        """Move axes to places in machine coordinates, mm (axis number to place); a row with work_offset 0."""
        state = self.state
        before, known_before = list(state.position), list(state.known)
        end = [goals.get(axis, before[axis]) for axis in range(3)]
        state.known = [False, False, False]
        start = [state.machine[axis] if axis in goals else before[axis] for axis in range(3)]
        state.position = [before[axis] if math.isnan(start[axis]) else start[axis] for axis in range(3)]
        state.known = [axis in goals and not math.isnan(start[axis]) for axis in range(3)]
        kind = MotionKind.FEED if feeding else MotionKind.RAPID
        feed = self.feed_for(math.dist(state.position, end)) if feeding else math.nan
        self._add(kind, end, [axis in goals for axis in range(3)], feed=feed, machine=True)
        state.position, state.known = before, known_before
        self._stand_at_machine(goals)

    def _stand_at_machine(self, goals: dict[int, float]) -> None:
        """After a move in machine coordinates the place in the work offset is known only with its origin."""
        state = self.state
        origin = state.origins.get(state.work_offset, NAN3)
        for axis, place in goals.items():
            state.machine[axis] = place
            state.known[axis] = not math.isnan(origin[axis])
            if state.known[axis]:
                state.position[axis] = place - origin[axis]
