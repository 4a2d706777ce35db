"""What a plan follows from besides the part's model."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shopflow.core.cutting.data import DataRow
from shopflow.core.planning.actuals import Correction
from shopflow.core.planning.hole_operations import SizeLimits, ThreadsShown
from shopflow.core.planning.operations import Speeds
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid.reading import Reading
from shopflow.core.types import Machine, Material, Tool, Vector


@dataclass(frozen=True)
class Given:
    """crib: the tools on hand. machines: in the order the shop prefers them. own: the shop's speeds and feeds.

    measurements: of a piece, on the average of the lot. threads: how the model shows them, where somebody said so.
    correction: what the shop took against what was planned. sizes: diameters with limits, as typed from the drawing.
    sawn_mm: the blank along the model's axes as it comes off the stock that was picked, where some was. cast: what the
    blank's own model says, where it is a solid and not sawn, in the coordinates of the part's.

    As a person typed or picked them, by the key of the setup (the side that is up, or the slanted direction):
    settled: the tools, which are then all that it has. over_mm: how far the stock stands over the part. grips_mm: how
    much is gripped.
    """

    crib: Sequence[Tool]
    machines: Sequence[Machine]
    material: Material | None = None
    rules: PlanRules = PlanRules()
    own: Sequence[DataRow] = ()
    measurements: float = 0.0
    threads: ThreadsShown = ThreadsShown.NOT_SAID
    correction: Correction = Correction()
    sizes: Sequence[SizeLimits] = ()
    sawn_mm: Vector | None = None
    cast: Reading | None = None
    settled: Mapping[str, Sequence[Tool]] = field(default_factory=dict)
    over_mm: Mapping[str, float] = field(default_factory=dict)
    grips_mm: Mapping[str, float] = field(default_factory=dict)

    def crib_of(self, key: str) -> Sequence[Tool]:
        """What a setup's operations are picked from."""
        return self.settled.get(key, self.crib)

    def speeds_on(self, machine: Machine | None) -> Speeds:
        return Speeds(self.material, machine, self.own, self.rules.hss_plunge)
