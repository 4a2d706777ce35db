"""Runs every recogniser over one graph, each on what the ones before it left."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from shopflow.core.solid.features import holes, planes, sharp
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import Graph
from shopflow.core.solid.reading import Hole, PlaneGroup, SharpEdges


@dataclass(frozen=True)
class Features:
    """What was recognised. surfaces: number of faces by kind."""

    holes: tuple[Hole, ...]
    planes: tuple[PlaneGroup, ...]
    sharp_edges: SharpEdges
    surfaces: dict[str, int]


def everything(graph: Graph, sight: Sight | None) -> Features:
    """All features of a model; without sight, what a cutter reaches stays unknown."""
    found = holes.find(graph, sight)
    breaks = {face for hole in found for face in hole.faces if graph.faces[face].kind == "cone"}
    return Features(
        holes=tuple(found),
        planes=tuple(planes.find(graph)),
        sharp_edges=sharp.find(graph, breaks),
        surfaces=dict(sorted(Counter(face.kind for face in graph.faces.values()).items())),
    )
