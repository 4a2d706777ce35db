"""Findings about what was read and what was not."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.core.review.finding import Finding, Subject, Weight

_OUR_RULE = "nothing unread passes: what a reader did not interpret, a person must look at"
_DECIDE_WHEN_ASSUMED = frozenset(
    {
        "units-not-stated",
        "distance-not-stated",
        "start-assumed",
        "motion-not-stated",
        "offset-not-stated",
        "repeats-forever",
    }
)


def not_read(subject: Subject) -> Iterator[Finding]:
    """One finding for each word or block that was not interpreted."""
    for entry in subject.program.unread:
        message = f"Line {entry.line}, “{entry.text}”: {entry.why}."
        yield Finding(entry.code, Weight.MUST_FIX, (entry.line,), message, basis=_OUR_RULE)


def assumed(subject: Subject) -> Iterator[Finding]:
    """What the reader had to take for granted."""
    for entry in subject.program.assumptions:
        weight = Weight.DECIDE if entry.code in _DECIDE_WHEN_ASSUMED else Weight.NOTE
        message = f"Line {entry.line}, “{entry.text}”: {entry.why}."
        yield Finding(entry.code, weight, (entry.line,), message, basis="the program does not state it")


def no_program_end(subject: Subject) -> Iterator[Finding]:
    program = subject.program
    if program.program_ends is None and program.complete:
        message = "The program has no end (M2 or M30): what the control does after its last line is not certain."
        basis = "NISTIR 6556, 3.6.1: M2 or M30 ends a program"
        yield Finding("no-program-end", Weight.MUST_FIX, (program.lines,), message, basis=basis)


def moves_nothing(subject: Subject) -> Iterator[Finding]:
    if not len(subject.program.motions):
        message = "The program moves nothing: no motion was read in it."
        yield Finding("no-motion", Weight.MUST_FIX, (1,), message, basis="a program is there to move the machine")


RULES = (not_read, assumed, no_program_end, moves_nothing)
