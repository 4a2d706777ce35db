"""General tolerances for sizes without a tolerance of their own: ISO 2768-1:1989, table 1 (linear sizes).

Values read from two printed copies of the table. Sizes under 0.5 mm have none: they are toleranced one by one.
"""

from __future__ import annotations

from decimal import Decimal

CLASSES = {"f": "fine", "m": "medium", "c": "coarse", "v": "very coarse"}

LINEAR_MM: tuple[tuple[str, str, dict[str, str]], ...] = (
    ("0.5", "3", {"f": "0.05", "m": "0.1", "c": "0.2"}),
    ("3", "6", {"f": "0.05", "m": "0.1", "c": "0.3", "v": "0.5"}),
    ("6", "30", {"f": "0.1", "m": "0.2", "c": "0.5", "v": "1"}),
    ("30", "120", {"f": "0.15", "m": "0.3", "c": "0.8", "v": "1.5"}),
    ("120", "400", {"f": "0.2", "m": "0.5", "c": "1.2", "v": "2.5"}),
    ("400", "1000", {"f": "0.3", "m": "0.8", "c": "2", "v": "4"}),
    ("1000", "2000", {"f": "0.5", "m": "1.2", "c": "3", "v": "6"}),
    ("2000", "4000", {"m": "2", "c": "4", "v": "8"}),
)
"""Over, up to and including, ± by class, mm. The first row includes 0.5."""


def linear_mm(nominal_mm: Decimal, tolerance_class: str = "m") -> Decimal | None:
    """± in mm for a linear size; None where the table has none. Raises KeyError for a class that it does not know."""
    if tolerance_class not in CLASSES:
        raise KeyError(f"ISO 2768-1 has the classes f, m, c and v, not {tolerance_class!r}")
    if nominal_mm < Decimal("0.5"):
        return None
    for _over, upto, by_class in LINEAR_MM:
        if nominal_mm <= Decimal(upto):
            value = by_class.get(tolerance_class)
            return Decimal(value) if value else None
    return None
