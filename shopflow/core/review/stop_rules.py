"""Findings about the places where a person is called."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from shopflow.core.nc import Stop, offset_number
from shopflow.core.review.finding import Finding, PersonTouch, Subject, Weight

_OPTIONAL = "M01"


def stop_without_retract(subject: Subject) -> Iterator[Finding]:
    """The tool still stands in or at what it cut, or nobody can tell."""
    for stop in subject.program.stops:
        if stop.retracted:
            continue
        where = "its height is not stated" if math.isnan(stop.height_mm) else f"{stop.height_mm:.1f} mm above the cut"
        message = f"{stop.kind} in line {stop.line} stops with the tool not retracted ({where})."
        measured = None if math.isnan(stop.height_mm) else stop.height_mm
        yield Finding(
            "stop-without-retract", Weight.MUST_FIX, (stop.line,), message, tool=stop.tool, measured=measured,
            limit=0.0, unit="mm", basis="common practice, no source: a person reaches in",
        )  # fmt: skip


def stop_too_low(subject: Subject) -> Iterator[Finding]:
    rules = subject.house_rules
    limit = rules.limit("stop_clearance")
    for stop in subject.program.stops:
        if stop.retracted and stop.height_mm < limit:
            message = (
                f"{stop.kind} in line {stop.line} stops {stop.height_mm:.1f} mm above everything cut so far; "
                f"the house rule is {limit:.1f} mm."
            )
            yield Finding(
                "stop-too-low", Weight.DECIDE, (stop.line,), message, tool=stop.tool, measured=stop.height_mm,
                limit=limit, unit="mm", basis=rules.basis("stop_clearance"),
            )  # fmt: skip


def stop_with_spindle_on(subject: Subject) -> Iterator[Finding]:
    for stop in subject.program.stops:
        if stop.spindle_on:
            message = f"{stop.kind} in line {stop.line} stops with the spindle left on; give M5 before it."
            basis = "NISTIR 6556, 3.6.1: M0 and M1 stop the program, not the spindle"
            yield Finding("stop-with-spindle-on", Weight.MUST_FIX, (stop.line,), message, tool=stop.tool, basis=basis)


def stop_with_coolant_on(subject: Subject) -> Iterator[Finding]:
    for stop in subject.program.stops:
        if stop.coolant_on:
            message = f"{stop.kind} in line {stop.line} stops with the coolant left on."
            basis = "common practice, no source"
            yield Finding("stop-with-coolant-on", Weight.DECIDE, (stop.line,), message, tool=stop.tool, basis=basis)


def no_stop_where_planned(subject: Subject) -> Iterator[Finding]:
    """Wherever the plan has a person touch the part inside the program, an M00 must stand there."""
    if subject.plan is None:
        return
    free = list(subject.program.stops)
    for touch in subject.plan.person_touches:
        fitting = [stop for stop in free if _stands_between(subject, stop, touch)]
        sure = [stop for stop in fitting if stop.kind != _OPTIONAL]
        taken = next(iter(sure or fitting), None)
        if taken is not None:
            free.remove(taken)
        if taken is None or taken.kind == _OPTIONAL:
            yield _missing(subject, touch, taken)


def _missing(subject: Subject, touch: PersonTouch, optional: Stop | None) -> Finding:
    place = f"after setup {touch.after_setup} ({touch.reason})"
    if optional is not None:
        message = f"A person must touch the part {place}; only an optional stop ({_OPTIONAL}) stands there."
        return Finding("stop-only-optional", Weight.MUST_FIX, (optional.line,), message, basis="the plan")
    message = f"A person must touch the part {place}; no program stop (M00) stands there."
    return Finding("no-stop", Weight.MUST_FIX, _where(subject, touch), message, basis="the plan")


def _span(subject: Subject, touch: PersonTouch) -> tuple[int, int]:
    """Index of the last motion before the touch and the first after it, by work offset; the whole program without."""
    offsets = subject.program.motions.work_offset
    first, last = -1, len(offsets)
    if touch.work_offset and touch.next_work_offset and touch.work_offset != touch.next_work_offset:
        after = np.flatnonzero(offsets == offset_number(touch.next_work_offset))
        if len(after):
            last = int(after[0])
            before = np.flatnonzero(offsets[:last] == offset_number(touch.work_offset))
            first = int(before[-1]) if len(before) else -1
    return first, last


def _stands_between(subject: Subject, stop: Stop, touch: PersonTouch) -> bool:
    first, last = _span(subject, touch)
    return first <= stop.after_motion < last


def _where(subject: Subject, touch: PersonTouch) -> tuple[int, ...]:
    first, last = _span(subject, touch)
    lines = subject.program.motions.line
    if first >= 0 and last < len(lines):
        return int(lines[first]), int(lines[last])
    return (subject.program.lines,)


def stop_says_nothing(subject: Subject) -> Iterator[Finding]:
    """A bare M00: whoever stands there at night does not know what to do."""
    for stop in subject.program.stops:
        if stop.kind != _OPTIONAL and not stop.text.strip():
            message = f"{stop.kind} in line {stop.line} says nothing about what is to be done; give it a message."
            basis = "common practice, no source"
            yield Finding("stop-says-nothing", Weight.NOTE, (stop.line,), message, tool=stop.tool, basis=basis)


def coolant_not_on_again(subject: Subject) -> Iterator[Finding]:
    """The same tool had coolant before the stop and cuts on without it."""
    motions = subject.program.motions
    feeds = motions.feeds
    for stop in subject.program.stops:
        row = stop.after_motion + 1
        before = np.flatnonzero(feeds[:row] & (motions.tool[:row] == stop.tool))
        after = np.flatnonzero(feeds[row:] & (motions.tool[row:] == stop.tool))
        if len(before) and len(after) and motions.coolant[before[-1]] and not motions.coolant[row + after[0]]:
            line = int(motions.line[row + after[0]])
            message = f"After {stop.kind} in line {stop.line} T{stop.tool} cuts on without the coolant it had before."
            basis = "common practice, no source"
            yield Finding("coolant-not-on-again", Weight.DECIDE, (line,), message, tool=stop.tool, basis=basis)


RULES = (
    stop_without_retract,
    stop_too_low,
    stop_with_spindle_on,
    stop_with_coolant_on,
    no_stop_where_planned,
    stop_says_nothing,
    coolant_not_on_again,
)
