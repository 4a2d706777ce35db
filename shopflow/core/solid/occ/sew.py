"""Makes solids of loose surfaces that close when they are sewn, as some exporters write a part as its skin."""

from __future__ import annotations

from typing import Any

from OCP.BRep import BRep_Tool
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid, BRepBuilderAPI_Sewing
from OCP.BRepLib import BRepLib
from OCP.TopAbs import TopAbs_FACE
from OCP.TopoDS import TopoDS

from shopflow.core.solid.occ.load import children, shells
from shopflow.core.solid.occ.measure import volume_mm3

TOLERANCES_MM = (0.001, 0.01, 0.05)
"""Tried in this order; a gap wider than the last is more than a shop's tolerance lets pass unseen."""
_LEAST_VOLUME_MM3 = 1e-3


def sewn_solids(shape: Any) -> tuple[list[Any], float]:
    """Solids that the loose faces of a shape make, and the tolerance that it took; an empty list when none closes."""
    faces = children(shape, TopAbs_FACE)
    for tolerance in TOLERANCES_MM:
        sewing = BRepBuilderAPI_Sewing(tolerance)
        for face in faces:
            sewing.Add(face)
        sewing.Perform()
        skins = [skin for skin in shells(sewing.SewedShape()) if BRep_Tool.IsClosed_s(skin)]
        solids = [solid for solid in map(_solid, skins) if abs(volume_mm3(solid)) > _LEAST_VOLUME_MM3]
        if solids:
            return solids, tolerance
    return [], TOLERANCES_MM[-1]


def _solid(skin: Any) -> Any:
    solid = BRepBuilderAPI_MakeSolid(TopoDS.Shell(skin)).Solid()
    BRepLib.OrientClosedSolid_s(solid)
    return solid
