"""Reads STEP models: units, solids, sizes, features, mesh. Importing this loads no geometry library."""

from shopflow.core.solid.compare import Changes, Comparison, compare
from shopflow.core.solid.drawing import STANDARD, Drawing, View
from shopflow.core.solid.features.threads import Thread, guess_by_major, left_by_tap_drill, thread_of
from shopflow.core.solid.kernel import Kernel, KernelFailed, kernel
from shopflow.core.solid.limits import Limits
from shopflow.core.solid.mesh import Mesh
from shopflow.core.solid.off_axis import off_axis, on_axis
from shopflow.core.solid.reader import draw, read
from shopflow.core.solid.reading import (
    Boss,
    Chamfer,
    FaceFacts,
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
    ThinPlace,
)
from shopflow.core.solid.sheet import height_over_width, sheet, view_at
from shopflow.core.solid.svg import Balloon, Pointed, hole_balloons, svg

__all__ = [
    "STANDARD",
    "Balloon",
    "Boss",
    "Chamfer",
    "Changes",
    "Comparison",
    "Drawing",
    "FaceFacts",
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
    "ThinPlace",
    "View",
    "compare",
    "draw",
    "Thread",
    "guess_by_major",
    "thread_of",
    "left_by_tap_drill",
    "hole_balloons",
    "kernel",
    "off_axis",
    "on_axis",
    "read",
    "sheet",
    "height_over_width",
    "view_at",
    "Pointed",
    "svg",
]
