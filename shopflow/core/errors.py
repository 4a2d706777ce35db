"""Errors that all parts of the core share. Each message says what is wrong and what to do about it."""

from __future__ import annotations


class CoreError(Exception):
    """Base of everything the core refuses with; its text is a plain sentence that may be shown to a person."""


class Unreadable(CoreError):
    """The input as a whole cannot be read: not the kind of file it claims to be, damaged, empty or too large.

    what: a plain sentence, what is wrong. where: a place in the input, such as "line 12" or "byte 400"; may be empty.
    mend: a plain sentence, what the person can do.
    """

    def __init__(self, what: str, *, where: str = "", mend: str = "") -> None:
        self.what = what
        self.where = where
        self.mend = mend
        super().__init__(" ".join(part for part in (what, f"({where})" if where else "", mend) if part))


class LimitReached(CoreError):
    """A bound on steps, time, memory or size ended the work before it was complete."""


class NotPossible(CoreError):
    """The input was understood, and what was asked of it cannot be done; the text says why."""
