"""The kinds of changes that come back from a control."""

from __future__ import annotations

from enum import StrEnum


class EditKind(StrEnum):
    """What a change made at the control does."""

    SLOWER_FEED = "slower feed"
    SLOWER_SPEED = "slower speed"
    PECK = "peck added"
    STOP = "stop added"
    COOLANT = "coolant added"
    HIGHER_R = "higher R plane"
    SKIP = "block skip"
    GEOMETRY = "geometry"
    TOOL = "tools"
    OFFSET = "offsets"
    ORDER = "order"
    FASTER_FEED = "faster feed"
    FASTER_SPEED = "faster speed"
    PITCH = "feed against speed of a tap"
    LESS_COOLANT = "coolant taken away"
    STOP_OUT = "stop taken out"
    SKIP_OUT = "block skip taken out"
    OTHER = "other words"
    UNREAD = "not read"


AT_THE_MACHINE = frozenset(
    {
        EditKind.SLOWER_FEED,
        EditKind.SLOWER_SPEED,
        EditKind.PECK,
        EditKind.STOP,
        EditKind.COOLANT,
        EditKind.HIGHER_R,
        EditKind.SKIP,
    }
)
"""What whoever runs the machine may accept with a note; everything else is reviewed before the rest of the lot runs."""
