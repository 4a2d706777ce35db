"""Tolerance classes of holes by ISO 286: what "H7" on a drawing allows at a size.

Grades IT5 to IT13 are table 1 of ISO 286-1:2010 as two printed tables have it; deviations of F and G are those of
shafts f and g turned over, from the tables of a public package, sizes it left out from memory. Letters whose deviations
depend on the grade (J, K, M, N and on) are left out: their limits are typed.
"""

from __future__ import annotations

import re
from decimal import Decimal

from shopflow.core.errors import NotPossible

UP_TO_MM = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
"""Each range includes its upper end and not the one before it."""
GRADES_UM: dict[int, tuple[int, ...]] = {
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
    12: (100, 120, 150, 180, 210, 250, 300, 350, 400, 460, 520, 570, 630),
    13: (140, 180, 220, 270, 330, 390, 460, 540, 630, 720, 810, 890, 970),
}
LOWEST_UM: dict[str, tuple[int, ...]] = {
    "F": (6, 10, 13, 16, 20, 25, 30, 36, 43, 50, 56, 62, 68),
    "G": (2, 4, 5, 6, 7, 9, 10, 12, 14, 15, 17, 18, 20),
    "H": (0,) * 13,
}
"""How far the smallest hole lies over the nominal size."""
UM = Decimal("0.001")
_CLASS = re.compile(r"\s*(JS|[A-Z])\s*(\d{1,2})\s*")


class NotAClass(NotPossible):
    """No tolerance class of a hole, or one that is not known here; the text says what to type instead."""


def is_class(text: str) -> bool:
    """Whether it looks like one, known or not."""
    return _CLASS.fullmatch(text.upper()) is not None


def hole_deviations_mm(nominal_mm: Decimal, name: str) -> tuple[Decimal, Decimal]:
    """(lower, upper) deviation from the nominal size, mm, of a class such as "H7". Raises NotAClass."""
    found = _CLASS.fullmatch(name.upper())
    if found is None:
        raise NotAClass(f"{name!r} is no tolerance class. Type one such as H7, or the limits.")
    letter, grade = found[1], int(found[2])
    if grade not in GRADES_UM or letter not in (*LOWEST_UM, "JS"):
        raise NotAClass(f"{letter}{grade} is not known here: F, G, H and JS in grades 5 to 13 are. Type the limits.")
    place = _range_of(nominal_mm)
    wide = Decimal(GRADES_UM[grade][place]) * UM
    if letter == "JS":
        return -wide / 2, wide / 2
    low = Decimal(LOWEST_UM[letter][place]) * UM
    return low, low + wide


def _range_of(nominal_mm: Decimal) -> int:
    if nominal_mm <= 0 or nominal_mm > UP_TO_MM[-1]:
        raise NotAClass("Tolerance classes are known for sizes over 0 and up to 500 mm. Type the limits.")
    return next(place for place, upto in enumerate(UP_TO_MM) if nominal_mm <= upto)
