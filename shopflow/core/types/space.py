"""Points, boxes and where a part stands. Millimetres."""

from __future__ import annotations

from dataclasses import dataclass

Vector = tuple[float, float, float]
Box = tuple[Vector, Vector]
"""Lowest and highest corner, mm."""


@dataclass(frozen=True)
class Placement:
    """Where the part sits in a setup: setup point = rotation · part point + origin.

    rotation: row-major 3 × 3 as nine numbers, columns are the part's axes seen in the setup. origin_mm: place of the
    part's origin in the setup, whose own origin is the part zero of the program.
    """

    rotation: tuple[float, ...] = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)
    origin_mm: Vector = (0.0, 0.0, 0.0)
