"""General tolerances where a drawing says none: ISO 2768-1:1989 (sizes, edges, angles), ISO 2768-2:1989 (form, place).

Values read from printed copies of the tables; tables 2 to 4 of part 2 from two public copies that agree. Sizes
under 0.5 mm have none: they are toleranced one by one.
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


EDGES_MM: tuple[tuple[str, str, dict[str, str]], ...] = (
    ("0.5", "3", {"f": "0.2", "m": "0.2", "c": "0.4", "v": "0.4"}),
    ("3", "6", {"f": "0.5", "m": "0.5", "c": "1", "v": "1"}),
    ("6", "", {"f": "1", "m": "1", "c": "2", "v": "2"}),
)
"""ISO 2768-1:1989, table 2: external radii and chamfer heights; "" has no end."""

ANGULAR_ARCMIN: tuple[tuple[str, str, dict[str, str]], ...] = (
    ("0", "10", {"f": "60", "m": "60", "c": "90", "v": "180"}),
    ("10", "50", {"f": "30", "m": "30", "c": "60", "v": "120"}),
    ("50", "120", {"f": "20", "m": "20", "c": "30", "v": "60"}),
    ("120", "400", {"f": "10", "m": "10", "c": "15", "v": "30"}),
    ("400", "", {"f": "5", "m": "5", "c": "10", "v": "20"}),
)
"""ISO 2768-1:1989, table 3: by the shorter side of the angle."""

FLATNESS_MM: tuple[tuple[str, str, dict[str, str]], ...] = (
    ("0", "10", {"H": "0.02", "K": "0.05", "L": "0.1"}),
    ("10", "30", {"H": "0.05", "K": "0.1", "L": "0.2"}),
    ("30", "100", {"H": "0.1", "K": "0.2", "L": "0.4"}),
    ("100", "300", {"H": "0.2", "K": "0.4", "L": "0.8"}),
    ("300", "1000", {"H": "0.3", "K": "0.6", "L": "1.2"}),
    ("1000", "3000", {"H": "0.4", "K": "0.8", "L": "1.6"}),
)
"""ISO 2768-2:1989, table 1: straightness and flatness by the longer side. Withdrawn, and still on many drawings."""


PERPENDICULARITY_MM: tuple[tuple[str, str, dict[str, str]], ...] = (
    ("0", "100", {"H": "0.2", "K": "0.4", "L": "0.6"}),
    ("100", "300", {"H": "0.3", "K": "0.6", "L": "1"}),
    ("300", "1000", {"H": "0.4", "K": "0.8", "L": "1.5"}),
    ("1000", "3000", {"H": "0.5", "K": "1", "L": "2"}),
)
"""ISO 2768-2:1989, table 2, by the shorter side of the angle."""

SYMMETRY_MM: tuple[tuple[str, str, dict[str, str]], ...] = (
    ("0", "100", {"H": "0.5", "K": "0.6", "L": "0.6"}),
    ("100", "300", {"H": "0.5", "K": "0.6", "L": "1"}),
    ("300", "1000", {"H": "0.5", "K": "0.8", "L": "1.5"}),
    ("1000", "3000", {"H": "0.5", "K": "1", "L": "2"}),
)
"""ISO 2768-2:1989, table 3, by the shorter of the two features."""

RUN_OUT_MM = {"H": "0.1", "K": "0.2", "L": "0.5"}
"""ISO 2768-2:1989, table 4, circular run-out."""


def form_mm(kind: str, length_mm: Decimal | None, tolerance_class: str = "K") -> Decimal | None:
    """Tolerance of form, orientation or place where none is said; None for kinds that the standard has none for.

    length_mm: as each table takes it; run-out needs none. Raises KeyError for classes other than H, K and L.
    """
    if kind == "run-out":
        return Decimal(RUN_OUT_MM[tolerance_class])
    tables = {
        "flatness": FLATNESS_MM, "straightness": FLATNESS_MM,
        "perpendicularity": PERPENDICULARITY_MM, "symmetry": SYMMETRY_MM,
    }  # fmt: skip
    return _looked_up(tables[kind], length_mm, tolerance_class) if kind in tables and length_mm is not None else None


def edge_mm(size_mm: Decimal, tolerance_class: str = "m") -> Decimal | None:
    """± in mm for an external radius or a chamfer's height; None under 0.5 mm. Raises KeyError for other classes."""
    return None if size_mm < Decimal("0.5") else _looked_up(EDGES_MM, size_mm, tolerance_class)


def angle_arcmin(shorter_side_mm: Decimal, tolerance_class: str = "m") -> Decimal | None:
    """± in minutes of arc. Raises KeyError for other classes."""
    return _looked_up(ANGULAR_ARCMIN, shorter_side_mm, tolerance_class)


def flatness_mm(longer_side_mm: Decimal, tolerance_class: str = "K") -> Decimal | None:
    """Straightness or flatness, mm; None beyond 3 m. Raises KeyError for classes other than H, K and L."""
    return _looked_up(FLATNESS_MM, longer_side_mm, tolerance_class)


def _looked_up(
    rows: tuple[tuple[str, str, dict[str, str]], ...], size_mm: Decimal, tolerance_class: str
) -> Decimal | None:
    for _over, upto, by_class in rows:
        if not upto or size_mm <= Decimal(upto):
            return Decimal(by_class[tolerance_class])
    return None
