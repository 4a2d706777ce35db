"""Machines and work materials."""

from __future__ import annotations

from dataclasses import dataclass, field

from shopflow.core.types.control import ControlProfile
from shopflow.core.types.space import Vector


@dataclass(frozen=True)
class Machine:
    """A three-axis mill.

    travel_mm: (x, y, z) usable travel. rapid_mm_min, acceleration_mm_s2: per axis (x, y, z). max_feed_mm_min: largest
    cutting feed. min_rpm, max_rpm: spindle. power_kw: continuous. power_curve: (rpm, kW) pairs with rising rpm, empty
    where the power is taken as the same at every speed. tool_change_s: chip to chip. spindle_start_s: from rest to
    speed. carousel: number of pockets.
    """

    name: str
    travel_mm: Vector
    rapid_mm_min: Vector
    acceleration_mm_s2: Vector
    max_feed_mm_min: float
    min_rpm: float
    max_rpm: float
    power_kw: float
    tool_change_s: float = 5.0
    spindle_start_s: float = 2.0
    carousel: int = 20
    through_coolant: bool = False
    power_curve: tuple[tuple[float, float], ...] = ()
    control: ControlProfile = field(default_factory=ControlProfile)


@dataclass(frozen=True)
class Material:
    """A work material. density_kg_m3; unit_power_kw_cm3_min: spindle power per removal rate (kW per cm³/min)."""

    name: str
    group: str
    density_kg_m3: float
    unit_power_kw_cm3_min: float = 0.0
