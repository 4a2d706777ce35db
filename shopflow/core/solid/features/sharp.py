"""Finds sharp outside edges: what has to be deburred because nothing breaks it."""

from __future__ import annotations

from collections.abc import Collection

from shopflow.core.solid.graph import Edge, Graph
from shopflow.core.solid.reading import SharpEdge, SharpEdges

SHARP_TURN_DEG = 30.0
"""An outside edge that turns more than this is sharp to a hand; shop's own choice, a burr forms on flatter ones too."""
BROKEN_TURN_DEG = 75.0
"""Beside a chamfer or a countersink the edge counts as broken up to this turn; a 45 degree chamfer leaves 45."""


def find(graph: Graph, breaks: Collection[int]) -> SharpEdges:
    """Sharp outside edges with lengths. breaks: faces that are there to break an edge (chamfers, countersinks)."""
    edges = [edge for edge in graph.edges if _is_sharp(edge, breaks)]
    items = tuple(SharpEdge(e.index, e.length, e.turn_deg, e.middle, e.faces) for e in edges)
    return SharpEdges(len(items), sum(edge.length for edge in edges), items)


def _is_sharp(edge: Edge, breaks: Collection[int]) -> bool:
    beside_a_break = any(face in breaks for face in edge.faces)
    return edge.turn_deg > (BROKEN_TURN_DEG if beside_a_break else SHARP_TURN_DEG)
