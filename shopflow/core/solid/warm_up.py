"""A small part read once in the warm parent, so that children do not each pay for the library's first use of things."""

from __future__ import annotations

import json
import os
import tempfile
from dataclasses import asdict
from pathlib import Path
from typing import Any

from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer

from shopflow.core.solid.features import recognise
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.mesh import Mesh
from shopflow.core.solid.occ import graph, load, measure, mesh, pmi


def warm_up() -> None:
    """Go through everything that a read does, on a drilled block of our own."""
    with tempfile.TemporaryDirectory(prefix="shopflow-solid-") as folder:
        path = Path(folder, "block.step")
        _write(path)
        for annotations in (True, False):
            _go_through(load.load(str(path), annotations=annotations))


def _write(path: Path) -> None:
    bore = BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(15, 10, 0), gp_Dir(0, 0, 1)), 4.0, 10.0).Shape()
    block = BRepAlgoAPI_Cut(BRepPrimAPI_MakeBox(30.0, 20.0, 10.0).Shape(), bore).Shape()
    writer = STEPControl_Writer()
    writer.Transfer(block, STEPControl_AsIs)
    writer.Write(os.fspath(path))


def _go_through(loaded: Any) -> None:
    solid = loaded.solids[0]
    faces = graph.build(loaded.solids, 1e-3)
    made = mesh.tessellate(loaded.solids, graph.first_faces(loaded.solids), 0.1)
    sight = Sight(Mesh.from_bytes(made.to_bytes()))
    features = recognise.everything(faces, sight)
    json.dumps([asdict(features), asdict(recognise.hard_places(faces, sight))])
    measure.exact_box(solid), measure.volume_mm3(solid), measure.is_valid(solid)
    if loaded.document is not None:
        pmi.read(loaded.document, loaded.solids, signed_limits=True)
