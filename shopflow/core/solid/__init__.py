"""Reads STEP models: units, solids, sizes, features, mesh. Importing this loads no geometry library."""

from shopflow.core.solid.kernel import Kernel, KernelFailed, kernel
from shopflow.core.solid.limits import Limits
from shopflow.core.solid.mesh import Mesh
from shopflow.core.solid.reader import read
from shopflow.core.solid.reading import (
    Chamfer,
    Fillet,
    Hole,
    HoleStep,
    Pattern,
    PlaneGroup,
    Pmi,
    PmiItem,
    Pocket,
    Reading,
    SharpEdge,
    SharpEdges,
    SolidFacts,
)

__all__ = [
    "Chamfer",
    "Fillet",
    "Hole",
    "HoleStep",
    "Kernel",
    "KernelFailed",
    "Limits",
    "Mesh",
    "Pattern",
    "PlaneGroup",
    "Pmi",
    "PmiItem",
    "Pocket",
    "Reading",
    "SharpEdge",
    "SharpEdges",
    "SolidFacts",
    "kernel",
    "read",
]
