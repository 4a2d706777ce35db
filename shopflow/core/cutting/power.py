"""Spindle power and cutting force from the rate of removal."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopflow.core.types import Machine, Material

Floats = NDArray[np.float64]

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


def available_kw(machine: Machine, rpm: ArrayLike) -> Floats:
    """kW that the spindle has at a speed: straight between the pairs of its curve, by constant torque below the first,
    as at the last above it. Without a curve its one power at every speed."""
    speed = np.asarray(rpm, dtype=np.float64)
    if not machine.power_curve:
        return np.full(speed.shape, machine.power_kw)
    speeds, powers = zip((0.0, 0.0), *machine.power_curve, strict=True)
    power: Floats = np.interp(speed, speeds, powers)
    return power


def power_share(power_kw: ArrayLike, machine: Machine, rpm: ArrayLike) -> Floats:
    """Power as a share of what the machine has at a speed; above 1 it stalls."""
    power = np.asarray(power_kw, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        share: Floats = np.where(power > 0.0, power / available_kw(machine, rpm), 0.0)
    return share


def read_curve(text: str) -> tuple[tuple[float, float], ...]:
    """The pairs of a typed curve, "1500 7.5, 8000 7.5": rpm and kW, pairs apart by commas. Raises ValueError."""
    pairs = tuple(tuple(float(number) for number in pair.split()) for pair in text.split(",") if pair.strip())
    if any(len(pair) != 2 or not all(0.0 < number < math.inf for number in pair) for pair in pairs):
        raise ValueError("each pair is an rpm and a power in kW, both above 0")
    if any(first[0] >= second[0] for first, second in zip(pairs, pairs[1:], strict=False)):
        raise ValueError("the rpm of the pairs must rise")
    return tuple((pair[0], pair[1]) for pair in pairs)


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
