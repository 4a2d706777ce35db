"""From what each motion took away to what that asks of tool and spindle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.cutting import deflection, engagement, power
from shopflow.core.cutting.data import LEAST_IN_CUT
from shopflow.core.stock.removal import Removal
from shopflow.core.types import Machine, Material, Motions, Tool

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Loads:
    """Row for row with the motions; 0 where nothing is cut at feed.

    rate_cm3_min: rate of removal where the motion takes most, over a stretch of its way (`removal.STRETCH`), at its
    mean speed; power and bending follow from it. mean_rate_cm3_min: over all of the motion. tooth_feed_mm: feed a
    tooth. chip_mm: thickest chip, thinned
    where less than half of the diameter is engaged. angle_deg: engagement. power_kw: at the spindle, nan where the
    material's unit power is not known. power_share: of the machine's power. deflection_mm: of the tip; nan as the
    power, 0 where the stickout is not known. depth_share: axial depth over the length of cut, 0 where that is not
    known.
    """

    rate_cm3_min: Floats
    mean_rate_cm3_min: Floats
    tooth_feed_mm: Floats
    chip_mm: Floats
    angle_deg: Floats
    power_kw: Floats
    power_share: Floats
    deflection_mm: Floats
    depth_share: Floats


def loads_of(
    removal: Removal, motions: Motions, seconds: Floats, tools: Mapping[int, Tool], machine: Machine, material: Material
) -> Loads:
    """Loads of the motions that a removal ran, all of them. seconds: (n,) what each motion takes (`cutting.time`)."""
    if len(removal) != len(motions):
        raise ValueError("the loads need the removal of all motions, joined")
    cuts = (removal.thickest_mm > 0.0) & motions.feeds
    minutes = np.where(cuts & (seconds > 0.0), seconds / 60.0, np.inf)
    mean = removal.volume_mm3 / 1000.0 / minutes
    rate = np.maximum(mean, removal.section_mm2 * removal.way_mm / 1000.0 / minutes)
    needed = power.removal_power_kw(rate, material)
    sizes = _Sizes.of(removal, motions, tools)
    fed = np.where(cuts, engagement.tooth_feed(motions.feed_mm_min, motions.rpm, sizes.flutes), 0.0)
    width = np.minimum(removal.radial_mm, sizes.diameter)
    thinned = np.where(cuts, fed / np.maximum(engagement.thinning_factor(width, sizes.diameter), 1.0), 0.0)
    force = power.tangential_force_n(needed, motions.rpm, sizes.diameter)
    return Loads(
        rate_cm3_min=rate,
        mean_rate_cm3_min=mean,
        tooth_feed_mm=fed,
        chip_mm=thinned,
        angle_deg=np.where(cuts, engagement.engagement_angle_deg(width, sizes.diameter), 0.0),
        power_kw=needed,
        power_share=power.power_share(needed, machine, motions.rpm),
        deflection_mm=_bent(force, motions, tools),
        depth_share=np.where(
            cuts & (sizes.flute_length > 0.0), removal.axial_mm / np.maximum(sizes.flute_length, 1e-9), 0.0
        ),
    )


@dataclass(frozen=True)
class _Sizes:
    """(n,) of each motion's tool. diameter: the one in the cut, mm."""

    diameter: Floats
    flutes: Floats
    flute_length: Floats

    @classmethod
    def of(cls, removal: Removal, motions: Motions, tools: Mapping[int, Tool]) -> _Sizes:
        diameter, flutes, length = np.full(len(motions), 1e-9), np.ones(len(motions)), np.zeros(len(motions))
        for number, tool in tools.items():
            rows = motions.tool == number
            in_cut = engagement.diameter_in_cut(tool, removal.axial_mm[rows])
            diameter[rows] = np.maximum(in_cut, LEAST_IN_CUT * tool.diameter_mm)
            flutes[rows], length[rows] = max(tool.flutes, 1), tool.flute_length_mm
        return cls(diameter, flutes, length)


LOAD_NAMES = ("rate_cm3_min", "chip_mm", "power_kw", "deflection_mm")


def loads_by_line(loads: Loads | None, motions: Motions) -> dict[str, Floats]:
    """LOAD_NAMES, each (l,) the largest of the motions of each line, lines rising as in `lines.by_line`.

    nan where it is not known: all of them without loads, power and bending in a material without a unit power.
    """
    lines, at = np.unique(motions.line, return_inverse=True)
    if loads is None:
        return {name: np.full(len(lines), np.nan) for name in LOAD_NAMES}
    largest = {name: np.zeros(len(lines)) for name in LOAD_NAMES}
    for name, values in largest.items():
        with np.errstate(invalid="ignore"):  # nan is "not known" and goes through
            np.maximum.at(values, at.reshape(-1), getattr(loads, name))
    return largest


def _bent(force: Floats, motions: Motions, tools: Mapping[int, Tool]) -> Floats:
    bent = np.zeros(len(motions))
    for number, tool in tools.items():
        rows = motions.tool == number
        bent[rows] = deflection.deflection_mm(tool, force[rows])
    return bent
