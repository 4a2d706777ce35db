"""What each side sees of each face: faces that ask for a side, those that none sees, and an account of all of them.

A reading of an earlier version looked at none of this; then nothing is asked for and nothing is known.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from shopflow.core.planning.directions import AXES
from shopflow.core.solid.reading import FaceFacts, Reading
from shopflow.core.types import Vector

NAMES = tuple(AXES)
MINUS = "\u2212"


@dataclass(frozen=True)
class Glimpsed:
    """Faces that are, for the most part, in sight from these sides only, where no hole and no pocket asks for one."""

    sides: frozenset[str]
    looks: tuple[FaceFacts, ...]

    @property
    def axis(self) -> Vector:
        return self.looks[0].normal

    @property
    def faces(self) -> tuple[int, ...]:
        return tuple(face.index for face in self.looks)


def sides_of(place: int) -> frozenset[str]:
    """The names of the sides in one value of `FaceFacts.seen`."""
    return frozenset(name for bit, name in enumerate(NAMES) if place >> bit & 1)


def is_in_sight(face: FaceFacts, side: str) -> bool:
    """Whether any place of it is seen from this side."""
    return any(side in sides_of(place) for place in face.seen)


def most_of(face: FaceFacts) -> frozenset[str] | None:
    """The sides that see the largest part of a face, an empty set where none does; None where nobody looked.

    What else there is of it is a remnant, which decides no setup and is named.
    """
    counted = Counter(face.seen)
    if not counted:
        return None
    return sides_of(max(counted, key=lambda place: (counted[place], len(sides_of(place)), -place)))


def is_dark(face: FaceFacts) -> bool:
    """Whether the largest part of it is in sight from none of the six sides."""
    return most_of(face) == frozenset()


def asking(reading: Reading, elsewhere: Collection[int], met: Iterable[frozenset[str]]) -> list[Glimpsed]:
    """Faces grouped by the sides that see them, the narrowest choices only.

    elsewhere: faces that are cut with something else. met: choices of sides that the rest of the part asks for anyway.
    """
    groups: dict[frozenset[str], list[FaceFacts]] = {}
    for face in reading.faces:
        sides = most_of(face)
        if sides and face.index not in elsewhere:
            groups.setdefault(sides, []).append(face)
    known = [*filter(None, met)]
    narrow = [
        sides
        for sides in groups
        if not any(one <= sides for one in known) and not any(other < sides for other in groups)
    ]
    return [Glimpsed(sides, tuple(groups[sides])) for sides in sorted(narrow, key=sorted)]


@dataclass(frozen=True)
class Account:
    """Where the faces of a model are cut, by their numbers.

    setups: by face, numbers from 1 of the setups that see all or part of it. in_part: faces of which something is in
    sight from none of them, though it is not named; only_from: sides that would see some of that, in the order of AXES.
    unseen: faces in sight from none and not named.
    """

    setups: dict[int, tuple[int, ...]]
    in_part: tuple[int, ...]
    unseen: tuple[int, ...]
    only_from: tuple[str, ...] = ()


def account(reading: Reading, ups: Sequence[str], named: Collection[int]) -> Account:
    """ups: the sides of the setups in order. named: faces that the plan names as out of reach or cuts otherwise."""
    setups: dict[int, tuple[int, ...]] = {}
    in_part: list[int] = []
    unseen: list[int] = []
    sides: set[str] = set()
    for face in reading.faces:
        places = [[n for n, up in enumerate(ups, 1) if up in sides_of(place)] for place in face.seen]
        setups[face.index] = tuple(sorted({n for numbers in places for n in numbers}))
        if face.seen and face.index not in named and not all(places):
            (in_part if any(places) else unseen).append(face.index)
            sides.update(*(sides_of(place) for place, numbers in zip(face.seen, places, strict=True) if not numbers))
    return Account(setups, tuple(in_part), tuple(unseen), tuple(name for name in AXES if name in sides))


def hidden_note(counted: Account) -> str:
    """What the setups see only in part, or not at all though it is named nowhere, in sentences; "" where nothing is."""
    said = []
    if counted.in_part:
        count = len(counted.in_part)
        said.append(f"{count} {'faces are' if count > 1 else 'face is'} in sight of the setups only in part.")
    if counted.unseen:
        count = len(counted.unseen)
        said.append(f"{count} {'faces are' if count > 1 else 'face is'} in sight of no setup.")
    if said and counted.only_from:
        sides = " or ".join(name.replace("-", MINUS) for name in counted.only_from)
        said.append(f"What is hidden of them is in sight from {sides}: add that setup, or finish it by hand.")
    elif said:
        said.append("What is hidden of them is in sight from no side: look at it before you cut.")
    return " ".join(said)
