"""What is cut with what, in one setup: the kinds of operations, and one operation with tool, cut, speed and minutes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from shopflow.core.cutting.data import Cut, DataRow, Suggestion, suggest
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.types import Machine, Material, Tool, ToolShape, ToolUse

NO_MACHINE = "a usual small mill, since no machine is chosen yet"


class OperationKind(StrEnum):
    """The trade's words, in the usual order of the work."""

    FACE = "face"
    ROUGH = "rough"
    FLOORS = "finish floors"
    WALLS = "finish walls"
    SURFACE = "surface"
    SPOT = "spot"
    DRILL = "drill"
    BORE = "bore with an end mill"
    COUNTERBORE = "counterbore"
    COUNTERSINK = "countersink"
    REAM = "ream"
    SIZE = "bore to size"
    TAP = "tap"
    THREAD = "mill the thread"
    GROOVE = "mill the groove"
    CHAMFER = "chamfer"
    EDGES = "break edges"
    UNDERCUT = "mill the undercut"


USE_OF = {
    OperationKind.FACE: ToolUse.FACE,
    OperationKind.ROUGH: ToolUse.ROUGH,
    OperationKind.FLOORS: ToolUse.FLOOR,
    OperationKind.WALLS: ToolUse.WALL,
    OperationKind.SURFACE: ToolUse.SURFACE,
    OperationKind.SPOT: ToolUse.SPOT,
    OperationKind.DRILL: ToolUse.DRILL,
    OperationKind.BORE: ToolUse.HELICAL,
    OperationKind.COUNTERBORE: ToolUse.COUNTERBORE,
    OperationKind.COUNTERSINK: ToolUse.COUNTERSINK,
    OperationKind.REAM: ToolUse.REAM,
    OperationKind.SIZE: ToolUse.BORE,
    OperationKind.TAP: ToolUse.TAP,
    OperationKind.THREAD: ToolUse.HELICAL,
    OperationKind.GROOVE: ToolUse.WALL,
    OperationKind.CHAMFER: ToolUse.CHAMFER,
    OperationKind.EDGES: ToolUse.DEBURR,
    OperationKind.UNDERCUT: ToolUse.WALL,
}
HOLE_KINDS = frozenset(
    {
        OperationKind.SPOT, OperationKind.DRILL, OperationKind.BORE, OperationKind.COUNTERBORE,
        OperationKind.COUNTERSINK, OperationKind.REAM, OperationKind.SIZE, OperationKind.TAP, OperationKind.THREAD,
        OperationKind.GROOVE,
    }
)  # fmt: skip


@dataclass(frozen=True)
class Wanted:
    """A tool that the crib does not have: what would do, and what for."""

    tool: str
    purpose: str

    def __str__(self) -> str:
        return f"{self.tool} for {self.purpose}"


@dataclass(frozen=True)
class Operation:
    """One thing that one tool does in a setup.

    key: names it again when the plan is proposed again, whatever units its words are in. what: in words, with sizes.
    tool: None where the crib has none; wanted then says what would do. family: operations that wait for one another.
    count: places. depth_mm: of the feature. width_mm: of the hole, or of what is cut sideways. length_mm: of the path
    along walls, edges or rows, for one pass; volume_mm3: what is roughed off. axial_mm, radial_mm: of one pass.
    passes: how many lie over one another. ring_mm: width of a pass round in a hole where a person typed it, else 0.
    cored_mm: diameter of the hole that the blank has there already.
    """

    kind: OperationKind
    key: str
    what: str
    tool: Tool | None
    wanted: Wanted | None = None
    family: str = "mill"
    count: int = 1
    depth_mm: float = 0.0
    width_mm: float = 0.0
    length_mm: float = 0.0
    volume_mm3: float = 0.0
    axial_mm: float = 0.0
    radial_mm: float = 0.0
    passes: int = 1
    ring_mm: float = 0.0
    cored_mm: float = 0.0
    speed: Suggestion | None = None
    minutes: float | None = None

    @property
    def purpose(self) -> str:
        """What the tool is for; holes say it themselves, but for their spot."""
        says_itself = self.kind in HOLE_KINDS and self.kind is not OperationKind.SPOT
        return self.what if says_itself else f"{self.kind}: {self.what}"

    @property
    def use(self) -> ToolUse:
        return ToolUse.HELICAL if self.is_milled_round else USE_OF[self.kind]

    @property
    def is_milled_round(self) -> bool:
        """Whether an end mill goes round in the hole."""
        is_mill = self.tool is not None and self.tool.shape in (ToolShape.FLAT, ToolShape.BULL)
        return self.kind is OperationKind.BORE or (self.kind is OperationKind.COUNTERBORE and is_mill)

    @property
    def cut(self) -> Cut:
        """What speed and feed depend on besides the tool."""
        if self.kind in HOLE_KINDS and not self.is_milled_round:
            return Cut(depth_mm=self.depth_mm)
        return Cut(axial_mm=self.axial_mm, radial_mm=self.radial_mm)


FACTS = (
    "family", "count", "depth_mm", "width_mm", "length_mm", "volume_mm3", "axial_mm", "radial_mm", "passes", "cored_mm",
)  # fmt: skip
"""What a stored operation needs, besides its tool, so that speed and minutes follow again."""


@dataclass(frozen=True)
class Speeds:
    """Where speeds and feeds come from in one plan. own: the shop's numbers. hss_most: as pecking takes it."""

    material: Material | None
    machine: Machine | None
    own: Sequence[DataRow] = ()
    hss_most: float = float("inf")

    def of(self, operation: Operation) -> Suggestion | None:
        """While no machine is known, within what a usual small mill can do."""
        if operation.tool is None:
            return None
        machine = self.machine or TYPICAL_MACHINE
        made = suggest(
            self.material,
            operation.tool,
            operation.use,
            machine,
            cut=operation.cut,
            own=self.own,
            hss_most=self.hss_most,
        )
        return made if made is None or self.machine else replace(made, limits=(NO_MACHINE,))
