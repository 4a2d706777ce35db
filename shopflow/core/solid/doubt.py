"""When a person has to confirm the unit of a model."""

from __future__ import annotations

from shopflow.core.solid.text import MM_PER_UNIT, Units

LARGEST_MM = 2500.0
"""A side longer than this is more than the travel of the mills of a small shop (common practice, no source)."""
SMALLEST_MM = 2.0
"""A largest side below this is too small to hold in a vise (common practice, no source)."""
_MM_PER_IN = 25.4


def unit_doubt(units: Units, size_mm: tuple[float, float, float]) -> str:
    """A sentence that asks the person to confirm the unit, "" when there is no reason to doubt it."""
    if units.is_mixed:
        named = " and ".join(units.named)
        return f"The file mixes units ({named}). Check one known dimension against the print."
    if not units.main:
        return "The file names no unit of length and was read as millimetres. Check one known dimension."
    if units.main not in MM_PER_UNIT:
        return f"The file's unit “{units.main}” is not known here. Check one known dimension against the print."
    return _doubt_by_size(units.main, max(size_mm))


def _doubt_by_size(unit: str, largest_mm: float) -> str:
    if largest_mm > LARGEST_MM:
        said = f"The part would be {_both(largest_mm)} long, which is very large."
        instead = largest_mm / (_MM_PER_IN if unit == "inch" else MM_PER_UNIT[unit])
        if unit != "millimetre":
            return f"{said} If the numbers in the file are millimetres and not {unit}, it is {_both(instead)}. Which?"
        return f"{said} If it was scaled by 25.4 on the way, it is {_both(largest_mm / _MM_PER_IN)}. Which?"
    if 0.0 < largest_mm < SMALLEST_MM:
        said = f"The part would be only {_both(largest_mm)} at its largest."
        return f"{said} If the numbers in the file are inches, it is {_both(largest_mm * _MM_PER_IN)}. Which is right?"
    return ""


def _both(length_mm: float) -> str:
    return f"{length_mm:.4g} mm ({length_mm / _MM_PER_IN:.4g} in)"
