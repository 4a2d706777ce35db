"""Spindle power and cutting force from the rate of removal."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopflow.core.types import Machine, Material

Floats = NDArray[np.float64]

EFFICIENCY = 0.80
"""Of the spindle drive, where a machine does not say (common practice, no source; the worked example CU-06 uses it)."""

KW_CM3_MIN_OF_N_MM2 = 1.0 / 60_000.0
"""1 N/mm² of specific cutting force is 1 J/cm³, in kW per cm³/min."""


def unit_power(specific_force_n_mm2: ArrayLike) -> Floats:
    """kW per cm³/min at the cutter from a specific cutting force."""
    power: Floats = np.asarray(specific_force_n_mm2, dtype=np.float64) * KW_CM3_MIN_OF_N_MM2
    return power


def spindle_power_kw(rate_cm3_min: ArrayLike, unit_power_kw_cm3_min: float, efficiency: float = 1.0) -> Floats:
    """kW for a rate of removal: P = u Q / η. `Material.unit_power_kw_cm3_min` is at the spindle: η is 1 for it."""
    power: Floats = np.asarray(rate_cm3_min, dtype=np.float64) * unit_power_kw_cm3_min / efficiency
    return power


def power_share(power_kw: ArrayLike, machine: Machine, rpm: ArrayLike, full_power_rpm: float = 0.0) -> Floats:
    """Power as a share of what the machine has at a speed; above 1 it stalls.

    full_power_rpm: speed from which the spindle has its full power; below it torque is constant, so that power grows
    with the speed. 0 takes the full power at every speed, since no power curve is known.
    """
    speed, power = np.asarray(rpm, dtype=np.float64), np.asarray(power_kw, dtype=np.float64)
    reach = np.minimum(speed / full_power_rpm, 1.0) if full_power_rpm > 0.0 else np.ones_like(speed)
    with np.errstate(divide="ignore", invalid="ignore"):
        share: Floats = np.where(power > 0.0, power / (machine.power_kw * reach), 0.0)
    return share


def tangential_force_n(power_kw: ArrayLike, rpm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Mean force along the cut at the edge, N: P / v with v = π D n; 0 at standstill."""
    speed_m_s = np.pi * np.asarray(diameter_mm, np.float64) * np.asarray(rpm, np.float64) / 60_000.0
    with np.errstate(divide="ignore", invalid="ignore"):
        force: Floats = np.where(speed_m_s > 0.0, np.asarray(power_kw, np.float64) * 1000.0 / speed_m_s, 0.0)
    return force


def removal_power_kw(rate_cm3_min: ArrayLike, material: Material) -> Floats:
    """kW at the spindle for a rate of removal in a material; nan where its unit power is not known."""
    known = material.unit_power_kw_cm3_min if material.unit_power_kw_cm3_min > 0.0 else float("nan")
    return spindle_power_kw(rate_cm3_min, known)
