"""What a change of the model means for a plan: what differs, one thing at a time, and from which sides it is cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shopflow.core.planning.directions import AXES, along, is_same_way, names_of
from shopflow.core.solid.compare import Changes, Comparison
from shopflow.core.solid.graph import norm, sub
from shopflow.core.solid.reading import FaceFacts, Hole, Reading
from shopflow.core.solid.values import Vector

SIZE_MM = 0.005
"""Boxes and edge lengths that differ by less are the same; far below what a shop saws or files to."""
LEVEL_COSINE = 0.01
"""A face whose normal is nearer than this to square to the spindle is a side face."""


@dataclass(frozen=True)
class Difference:
    """A hole, or a face outside those holes, that differs. how: "moved", "changed", "added" or "gone".

    before, after: None where there is none. old_faces, new_faces: numbers in the first and the second reading.
    moved_mm: how far its middle travelled, less the shift of the whole model; None where one side is missing.
    """

    how: str
    before: Hole | FaceFacts | None
    after: Hole | FaceFacts | None
    old_faces: tuple[int, ...] = ()
    new_faces: tuple[int, ...] = ()
    moved_mm: float | None = None

    @property
    def is_hole(self) -> bool:
        return isinstance(self.after or self.before, Hole)


def differences(found: Comparison, before: Reading, after: Reading) -> list[Difference]:
    """Everything that differs: holes first, each with its faces, then the faces that belong to none of them."""
    holes = list(_of(found.holes, before.holes, after.holes, found.shift_mm))
    old = {face for item in holes for face in item.old_faces}
    new = {face for item in holes for face in item.new_faces}
    faces = _of(found.faces, before.faces, after.faces, found.shift_mm)
    return holes + [item for item in faces if not (set(item.old_faces) <= old and set(item.new_faces) <= new)]


def _of(
    changes: Changes, before: tuple[Hole, ...] | tuple[FaceFacts, ...], after: tuple[Hole, ...] | tuple[FaceFacts, ...],
    shift: Vector,
) -> Iterator[Difference]:  # fmt: skip
    for how, pairs in (("moved", changes.moved), ("changed", changes.changed)):
        for one, other in pairs:
            a, b = before[one], after[other]
            gap = norm(sub(sub(_middle(b), _middle(a)), shift))
            yield Difference(how, a, b, _faces(a), _faces(b), gap)
    for other in changes.added:
        yield Difference("added", None, after[other], (), _faces(after[other]))
    for one in changes.gone:
        yield Difference("gone", before[one], None, _faces(before[one]), ())


def _middle(item: Hole | FaceFacts) -> Vector:
    return item.position_mm if isinstance(item, Hole) else item.centre_mm


def _faces(item: Hole | FaceFacts) -> tuple[int, ...]:
    return item.faces if isinstance(item, Hole) else (item.index,)


def cut_from(item: Difference, before: Reading, after: Reading) -> frozenset[str]:
    """The axes of the model, up, from which a cutter gets at what differs; a thing that is gone was cut from there.

    A hole or pocket from where it is open; any other face from the sides that it looks at, or along it.
    """
    if item.after is None:
        return _sides(item.before, before)
    return _sides(item.after, after)


def _sides(item: Hole | FaceFacts | None, reading: Reading) -> frozenset[str]:
    if item is None:
        return frozenset()
    if open_to := _open_to(item, reading):
        return names_of(open_to)
    return frozenset(name for name, axis in AXES.items() if _is_seen(item, axis))


def is_cut_from(item: Difference, before: Reading, after: Reading, way: Vector) -> bool:
    """The same for a part that stands otherwise than by right angles. way: of the model, towards the spindle."""
    seen, reading = (item.before, before) if item.after is None else (item.after, after)
    if seen is None:
        return False
    if open_to := _open_to(seen, reading):
        return any(is_same_way(one, way) for one in open_to)
    return _is_seen(seen, way)


def _open_to(item: Hole | FaceFacts, reading: Reading) -> list[Vector]:
    """From where a hole, or the hole or pocket that a face belongs to, is open; none for any other face."""
    if isinstance(item, Hole):
        return list(item.reach or (item.axis,))
    open_to = [way for hole in reading.holes if item.index in hole.faces for way in hole.reach]
    return open_to + [way for pocket in reading.pockets if item.index in pocket.faces for way in pocket.reach]


def _is_seen(item: Hole | FaceFacts, way: Vector) -> bool:
    """Whether a face looks this way, or along it where a cutter's side cuts it."""
    if isinstance(item, Hole):
        return False
    cosine = along(item.normal, way)
    return cosine > LEVEL_COSINE or (item.kind in ("plane", "cylinder") and abs(cosine) <= LEVEL_COSINE)


def is_other_box(before: Reading, after: Reading) -> bool:
    """Whether the part's size changed, and with it the stock that it comes out of."""
    return any(abs(a - b) > SIZE_MM for a, b in zip(before.bbox_mm, after.bbox_mm, strict=True))


def are_other_edges(before: Reading, after: Reading) -> bool:
    """Whether there are other sharp edges to break."""
    a, b = before.sharp_edges, after.sharp_edges
    return a.count != b.count or abs(a.length_mm - b.length_mm) > SIZE_MM
