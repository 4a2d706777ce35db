"""Box, volume and the library's own check of each solid, in a helper beside the recognition."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import asdict, dataclass, replace
from typing import Any

from shopflow.core.solid import aside
from shopflow.core.solid.aside import Aside, AsideFailed
from shopflow.core.solid.graph import Graph
from shopflow.core.solid.occ import graph as occ_graph
from shopflow.core.solid.occ import measure
from shopflow.core.solid.values import SolidFacts


@dataclass(frozen=True)
class Measuring:
    """Solids with their names. close: numbers of those whose faces are looked at as well: their areas come from there,
    so that the slow integral over all faces is done once."""

    solids: list[Any]
    names: list[str]
    close: Collection[int]

    def start(self) -> Aside:
        return aside.start(lambda: json.dumps([asdict(fact) for fact in self.facts()]).encode())

    def facts(self) -> list[SolidFacts]:
        """One for each solid; the area of those in close is 0 until `with_areas`."""
        return [self._fact(number) for number in range(len(self.solids))]

    def finished(self, helper: Aside, *, deadline: float, limit_bytes: int) -> list[SolidFacts]:
        """The helper's facts; measured here when it failed, so that a crash there is met again where it is told."""
        try:
            data = helper.result(deadline=deadline, limit_bytes=limit_bytes)
        except AsideFailed:
            return self.facts()
        return [SolidFacts(**{**fact, "bbox_mm": tuple(fact["bbox_mm"])}) for fact in json.loads(data)]

    def _fact(self, number: int) -> SolidFacts:
        solid = self.solids[number]
        box = measure.exact_box(solid)
        if box is None:
            raise ValueError(f"solid {number} has no box")
        return SolidFacts(
            index=number,
            name=self.names[number] or f"Solid {number + 1}",
            bbox_mm=box.size,
            box_min_mm=box.low,
            volume_mm3=measure.volume_mm3(solid),
            area_mm2=0.0 if number in self.close else measure.area_and_centre(solid)[0],
            valid=measure.is_valid(solid),
            faces=occ_graph.face_count(solid),
        )


def with_areas(facts: list[SolidFacts], graph: Graph) -> list[SolidFacts]:
    """The facts with the areas of the solids in the graph: the sums of their faces'."""
    areas: dict[int, float] = {}
    for face in graph.faces.values():
        areas[face.solid] = areas.get(face.solid, 0.0) + face.area
    return [replace(fact, area_mm2=areas.get(fact.index, fact.area_mm2)) for fact in facts]
