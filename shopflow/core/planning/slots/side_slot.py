"""An undercut that a cutter wider than its neck makes from one side, in sizes. Lengths mm."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.planning.directions import AXES
from shopflow.core.types import Vector


@dataclass(frozen=True)
class SideSlot:
    """kind: "T-slot", "dovetail" or "groove". up: the side that the cutter comes from, others: sides that would do too.

    across_mm: of the wide part; of a groove round an outside its inner diameter. neck_mm: of what the cutter's neck
    goes through, 0 for a groove. high_mm: of the wide part. beside_mm: how far it reaches beside the neck. depth_mm:
    from the mouth to the wide part's floor. length_mm: of its way. angle_deg: of a dovetail's flank to its floor, else
    0.
    """

    kind: str
    up: str
    faces: tuple[int, ...]
    across_mm: float
    neck_mm: float
    high_mm: float
    beside_mm: float
    depth_mm: float
    length_mm: float
    angle_deg: float = 0.0
    others: tuple[str, ...] = ()

    @property
    def axis(self) -> Vector:
        return AXES[self.up]

    @property
    def volume_mm3(self) -> float:
        """What is cut out of it, with its neck."""
        neck = self.neck_mm * max(self.depth_mm - self.high_mm, 0.0)
        wide = (
            self.beside_mm
            if self.kind == "groove"
            else self.neck_mm + self.beside_mm * (2 if not self.angle_deg else 1)
        )
        return (neck + wide * self.high_mm) * self.length_mm
