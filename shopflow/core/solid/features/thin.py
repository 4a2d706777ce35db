"""Finds thin walls and floors: the thickness behind the middle of each plane face."""

from __future__ import annotations

from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import Graph, dot, minus
from shopflow.core.solid.values import ThinPlace

THIN_MM = 2.0
"""Below this a wall sings and bends under the cutter (common practice, no source)."""
_LEAST_SPREAD = 4.0
"""A face narrower than this many thicknesses is an edge and not a wall."""


def find(graph: Graph, sight: Sight) -> list[ThinPlace]:
    """Thin places, the thinnest first, each pair of faces once. Tried at one place a face, so it may miss some."""
    places: dict[tuple[int, int], ThinPlace] = {}
    for face in graph.of_kind("plane"):
        spot = sight.middle_of(face.index)
        behind = sight.first_hit(spot, minus(face.normal)) if spot else None
        if spot is None or behind is None or behind[0] > THIN_MM or behind[0] < 1e-6:
            continue
        thickness, other = behind
        back = graph.faces[other]
        is_wall = dot(back.normal, face.normal) < -0.5 and min(face.area, back.area) > (_LEAST_SPREAD * thickness) ** 2
        pair = (min(face.index, other), max(face.index, other))
        if is_wall and (pair not in places or places[pair].thickness_mm > thickness):
            places[pair] = ThinPlace(thickness, spot, (face.index, other))
    return sorted(places.values(), key=lambda place: place.thickness_mm)
