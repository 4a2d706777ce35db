"""The baseline of bench_solid: Open CASCADE's own read, transfer and mesh, nothing else, in the same kind of child."""

from __future__ import annotations

import json
import time
from pathlib import Path

from OCP.BRepMesh import BRepMesh_IncrementalMesh

from shopflow.core.errors import Unreadable
from shopflow.core.solid.occ import load, measure
from shopflow.core.solid.occ.mesh import ANGLE_RAD
from shopflow.core.solid.work import DEFLECTION_SHARE


def perform(request, step):
    """Refuses with the seconds it took as its text, since a refusal travels back as it is."""
    start = time.perf_counter()
    loaded = load.load(request.path, annotations=False)
    box = measure.rough_box(loaded.shape)
    for solid in loaded.solids:
        BRepMesh_IncrementalMesh(solid, box.diagonal * DEFLECTION_SHARE, False, ANGLE_RAD, False)
    taken = time.perf_counter() - start
    Path(request.out, "seconds.json").write_text(json.dumps(taken))
    raise Unreadable(repr(taken))
