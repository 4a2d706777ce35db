"""How far faces of a reading reach, along the model's axes and upwards; mm."""

from __future__ import annotations

from shopflow.core.planning.directions import height_axis
from shopflow.core.solid.reading import FaceFacts

Span = tuple[float, float]


def heights(face: FaceFacts, up: str) -> Span:
    """The same along the direction that is up, which counts upwards."""
    low, high = span(face, height_axis(up))
    return (low, high) if up[0] == "+" else (-high, -low)


def span(face: FaceFacts, axis: int) -> Span:
    """From where to where it reaches along an axis of the model; of a face whose box is known."""
    assert face.low_mm is not None and face.high_mm is not None
    return face.low_mm[axis], face.high_mm[axis]


def length_of(one: Span) -> float:
    return one[1] - one[0]
