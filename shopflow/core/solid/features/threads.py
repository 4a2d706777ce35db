"""Guesses a thread from the size of a hole: a question to the person, never a fact.

Models show threads as plain holes, at the tap drill's size or at the thread's minor diameter. Tap drills: common
practice for about 75 % of thread, as printed on drill charts; minor diameters D - 1.0825 P, from ISO 68-1.
"""

from __future__ import annotations

from dataclasses import dataclass

_MM_PER_IN = 25.4
NEAR_MM = 0.03
"""Sizes nearer than this are the same to a drill."""
_MINOR = 1.082532
"""Twice 5/8 of the height of the basic triangle, in pitches (ISO 68-1)."""

_METRIC = (
    # thread, major, pitch, tap drill, mm
    ("M2", 2.0, 0.4, 1.6),
    ("M2.5", 2.5, 0.45, 2.05),
    ("M3", 3.0, 0.5, 2.5),
    ("M4", 4.0, 0.7, 3.3),
    ("M5", 5.0, 0.8, 4.2),
    ("M6", 6.0, 1.0, 5.0),
    ("M8", 8.0, 1.25, 6.8),
    ("M10", 10.0, 1.5, 8.5),
    ("M12", 12.0, 1.75, 10.2),
    ("M12", 12.0, 1.75, 10.3),  # charts differ
    ("M14", 14.0, 2.0, 12.0),
    ("M14", 14.0, 2.0, 12.1),  # charts differ
    ("M16", 16.0, 2.0, 14.0),
    ("M20", 20.0, 2.5, 17.5),
    ("M24", 24.0, 3.0, 21.0),
)
_INCH = (
    # thread, major in, threads an inch, tap drill in
    ("2-56", 0.086, 56, 0.0700),
    ("4-40", 0.112, 40, 0.0890),
    ("6-32", 0.138, 32, 0.1065),
    ("8-32", 0.164, 32, 0.1360),
    ("10-24", 0.190, 24, 0.1495),
    ("10-32", 0.190, 32, 0.1590),
    ("1/4-20", 0.250, 20, 0.2010),
    ("1/4-28", 0.250, 28, 0.2130),
    ("5/16-18", 0.3125, 18, 0.2570),
    ("5/16-24", 0.3125, 24, 0.2720),
    ("3/8-16", 0.375, 16, 0.3125),
    ("3/8-24", 0.375, 24, 0.3320),
    ("7/16-14", 0.4375, 14, 0.3680),
    ("1/2-13", 0.500, 13, 0.4219),
    ("1/2-20", 0.500, 20, 0.4531),
    ("5/8-11", 0.625, 11, 0.5312),
    ("3/4-10", 0.750, 10, 0.6562),
)


def _sizes() -> list[tuple[str, str, float]]:
    """Thread, what the size is, and the size in mm."""
    rows = [(name, major, pitch, drill) for name, major, pitch, drill in _METRIC]
    rows += [(name, major * _MM_PER_IN, _MM_PER_IN / tpi, drill * _MM_PER_IN) for name, major, tpi, drill in _INCH]
    drills = [(name, "tap drill", drill) for name, _, _, drill in rows]
    minors = [(name, "minor diameter", major - _MINOR * pitch) for name, major, pitch, _ in rows]
    return drills + list(dict.fromkeys(minors))


SIZES = _sizes()


def guess(diameter_mm: float) -> str:
    """Threads whose tap drill or minor diameter has this size, nearest first; "" when none has."""
    near = [(abs(size - diameter_mm), f"{name} ({what})") for name, what, size in SIZES]
    return " or ".join(text for gap, text in sorted(near) if gap < NEAR_MM)


def left_by_tap_drill(major_mm: float) -> float:
    """How much smaller on the radius a tap drill is than a thread's major diameter, mm; the most where several threads
    have this one, 0 where none has."""
    sizes = [(major, drill) for _, major, _, drill in _METRIC]
    sizes += [(major * _MM_PER_IN, drill * _MM_PER_IN) for _, major, _, drill in _INCH]
    return max(((major - drill) / 2.0 for major, drill in sizes if abs(major - major_mm) < NEAR_MM), default=0.0)


def guess_by_major(diameter_mm: float) -> str:
    """Threads whose major diameter this is, for a model that shows them so; "" when none has."""
    sizes = [(name, major) for name, major, _, _ in _METRIC] + [(name, inch * _MM_PER_IN) for name, inch, _, _ in _INCH]
    near = [(abs(size - diameter_mm), name) for name, size in dict.fromkeys(sizes)]
    return " or ".join(name for gap, name in sorted(near) if gap < NEAR_MM)


@dataclass(frozen=True)
class Thread:
    """A thread by its name, mm. drill_mm: its usual tap drill, for about 75 % of thread."""

    name: str
    major_mm: float
    pitch_mm: float
    drill_mm: float


def thread_of(guessed: str) -> Thread | None:
    """The thread that `guess` or `guess_by_major` put first; None where it names none of the table."""
    name = guessed.split(" or ")[0].split(" (")[0]
    for known, major, pitch, drill in _METRIC:
        if known == name:
            return Thread(name, major, pitch, drill)
    for known, inches, threads, drill in _INCH:
        if known == name:
            return Thread(name, inches * _MM_PER_IN, _MM_PER_IN / threads, drill * _MM_PER_IN)
    return None
