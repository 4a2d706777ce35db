"""What is known of a tool that a plan wants, before it lies on the table: the beginning of its row in the crib."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shopflow.core.planning.operations import OperationKind
from shopflow.core.solid import thread_of
from shopflow.core.types import ToolShape

SHAPE_OF = {
    OperationKind.FACE: ToolShape.FACE,
    OperationKind.ROUGH: ToolShape.FLAT,
    OperationKind.FLOORS: ToolShape.FLAT,
    OperationKind.WALLS: ToolShape.FLAT,
    OperationKind.SURFACE: ToolShape.BALL,
    OperationKind.SPOT: ToolShape.SPOT,
    OperationKind.DRILL: ToolShape.DRILL,
    OperationKind.BORE: ToolShape.FLAT,
    OperationKind.COUNTERBORE: ToolShape.COUNTERBORE,
    OperationKind.COUNTERSINK: ToolShape.COUNTERSINK,
    OperationKind.REAM: ToolShape.REAMER,
    OperationKind.TAP: ToolShape.TAP,
    OperationKind.CHAMFER: ToolShape.CHAMFER,
    OperationKind.EDGES: ToolShape.CHAMFER,
    OperationKind.GROOVE: ToolShape.SLOT,
    OperationKind.UNDERCUT: ToolShape.SLOT,
}
NAMED = (
    ("spot drill", ToolShape.SPOT), ("ball end mill", ToolShape.BALL), ("face mill", ToolShape.FACE),
    ("chamfer mill", ToolShape.CHAMFER), ("end mill", ToolShape.FLAT), ("drill", ToolShape.DRILL),
)  # fmt: skip
"""What the words of a want begin with says more than the operation: a hole is bored with an end mill or a drill."""
_WIDE = re.compile("\u2300\\s*(\\d+(?:\\.\\d+)?) (mm|in)")
_DEEP = re.compile(r"reaches (\d+(?:\.\d+)?) (mm|in)")
_ANGLE = re.compile("(\\d+(?:\\.\\d+)?)°")


@dataclass(frozen=True)
class CribRow:
    """Texts for the fields of the crib's form; "" where the plan does not know. Who has the tool in hand corrects."""

    name: str
    shape: str
    diameter: str = ""
    flute_length: str = ""
    point_angle: str = ""
    pitch: str = ""


def crib_row(what: str, kind: OperationKind | None = None) -> CribRow:
    """what: as the plan wants it, such as "a drill of ⌀6.6 mm that reaches 12 mm deep". kind: what it is wanted for."""
    name = re.sub(r"^an? ", "", what)
    named = next((shape for word, shape in NAMED if name.startswith(word)), None)
    shape = named or (SHAPE_OF[kind] if kind else None)
    thread = thread_of(name.removeprefix("tap ")) if shape is ToolShape.TAP else None
    return CribRow(
        name=name,
        shape=str(shape or ""),
        diameter=f"{thread.major_mm:g} mm" if thread else _length(_WIDE, name),
        flute_length=_length(_DEEP, name),
        point_angle=angle[1] if (angle := _ANGLE.search(name)) else "",
        pitch=f"{thread.pitch_mm:g} mm" if thread else "",
    )


def _length(pattern: re.Pattern[str], text: str) -> str:
    found = pattern.search(text)
    return f"{found[1]} {found[2]}" if found else ""
