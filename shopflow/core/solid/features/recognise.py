"""Runs every recogniser over one graph, each on what the ones before it left."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from shopflow.core.solid.features import (
    blends,
    bosses,
    holes,
    patterns,
    planes,
    pockets,
    sharp,
    thin,
    through,
    unreached,
)
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import Face, Graph
from shopflow.core.solid.values import (
    Boss,
    Chamfer,
    FaceFacts,
    Fillet,
    Hole,
    Pattern,
    PlaneGroup,
    Pocket,
    SharpEdges,
    ThinPlace,
)


@dataclass(frozen=True)
class Features:
    """What was recognised. surfaces: number of faces by kind."""

    holes: tuple[Hole, ...]
    patterns: tuple[Pattern, ...]
    planes: tuple[PlaneGroup, ...]
    pockets: tuple[Pocket, ...]
    fillets: tuple[Fillet, ...]
    chamfers: tuple[Chamfer, ...]
    sharp_edges: SharpEdges
    bosses: tuple[Boss, ...]
    faces: tuple[FaceFacts, ...]
    surfaces: dict[str, int]


@dataclass(frozen=True)
class HardPlaces:
    """Thin walls and floors, and faces that no direction of a plane face sees; those of holes among them.

    enclosed: of these, round inside walls that are not seen along their own axis either.
    """

    thin: tuple[ThinPlace, ...] = ()
    unreached: tuple[int, ...] = ()
    enclosed: tuple[int, ...] = ()


def hard_places(graph: Graph, sight: Sight) -> HardPlaces:
    """What makes a part hard; apart from `everything`, as the two can run at the same time."""
    ways = sharp.ways(planes.find(graph), ())
    hidden = unreached.find(graph, ways, sight)
    return HardPlaces(tuple(thin.find(graph, sight)), tuple(hidden), tuple(unreached.enclosed(graph, hidden, sight)))


def everything(graph: Graph, sight: Sight | None) -> Features:
    """All features of a model; without sight, what a cutter reaches stays unknown."""
    found = holes.find(graph, sight)
    taken = {face for hole in found for face in hole.faces}
    recesses: list[Pocket] = []
    for finder in (through.windows, pockets.find, through.open_slots):
        recesses += finder(graph, taken)
        taken |= {face for recess in recesses for face in recess.faces}
    groups = planes.find(graph)
    ways = sharp.ways(groups, found)
    chamfers = blends.find_chamfers(graph, taken)
    breaks = {face for hole in found for face in hole.faces if graph.faces[face].kind == "cone"}
    breaks |= {face for chamfer in chamfers for face in chamfer.faces}
    return Features(
        holes=tuple(found),
        patterns=tuple(patterns.find(found)),
        planes=tuple(groups),
        pockets=tuple(recesses),
        fillets=tuple(blends.find_fillets(graph, taken | breaks)),
        chamfers=tuple(chamfers),
        sharp_edges=sharp.find(graph, breaks, ways, sight),
        bosses=tuple(bosses.find(graph)),
        faces=tuple(map(_facts, graph.faces.values())),
        surfaces=dict(sorted(Counter(face.kind for face in graph.faces.values()).items())),
    )


def _facts(face: Face) -> FaceFacts:
    return FaceFacts(face.index, face.solid, face.kind, face.area, face.centre, face.normal, face.radius, face.concave)
