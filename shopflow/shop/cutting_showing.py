"""What pages show of cutting data, in the reader's units."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

from django.utils.translation import gettext as _

from shopflow.core.cutting import coolant
from shopflow.core.cutting.data import Per, Suggestion, Window, default_rows
from shopflow.core.cutting.pecking import Peck, PeckStyle
from shopflow.core.cutting.rows import DataRow, Way, Ways
from shopflow.core.types import ToolUse
from shopflow.people.models import Units

MM_PER_IN = 25.4
FEET_A_METRE = 1 / 0.3048


@dataclass(frozen=True)
class Line:
    """One published row. what: tool material and coating in words."""

    what: str
    uses: str
    diameter: str
    speed: str
    feed: str
    source: str


@dataclass(frozen=True)
class Cooled:
    """One row of the table of coolants. usual: the most usual first. other: what a review does about another one."""

    what: str
    uses: str
    usual: str
    other: str
    why: str


@dataclass(frozen=True)
class Said:
    """One line of an answer: its name, the value to take, the window it lies in, where it comes from."""

    name: str
    value: str
    window: str
    source: str = ""


@dataclass(frozen=True)
class Answer:
    """What to program, and why. is_known: False where the group of the material is not known."""

    lines: list[Said]
    notes: list[str]
    is_known: bool


def groups() -> list[str]:
    """The groups of published rows, by name."""
    return sorted({row.group for row in default_rows() if row.group})


def default_lines(group: str, units: str) -> list[Line]:
    """The published rows of a group, and those of every group where it has none of its own."""
    own = [row for row in default_rows() if row.group == group]
    covered = {(row.speed_m_min is None, use) for row in own for use in row.uses}
    others = [row for row in default_rows() if group and not row.group and not _is_covered(row, covered)]
    return [_line(row, units) for row in (*own, *others)]


def coolant_lines(group: str) -> list[Cooled]:
    """What the table of coolants says of a group; nothing of the materials of no group."""
    rows = [row for row in coolant.default_rows() if group and row.group == group]
    return [
        Cooled(
            what=_tools(row),
            uses=_("every use") if row.uses == set(ToolUse) else ", ".join(sorted(row.uses)),
            usual=", ".join(row.coolant.usual),
            other=_of_another(row.coolant),
            why=f"{row.coolant.why}; {row.coolant.source}",
        )
        for row in rows
        if row.coolant
    ]


def _of_another(ways: Ways) -> str:
    if set(ways.usual) == set(Way):
        return _("there is none")
    return _("needs a decision") if ways.decides else _("is noted")


def _tools(row: DataRow) -> str:
    return ", ".join(text for text in (row.tool_material or _("any"), row.coating) if text)


def _is_covered(row: DataRow, covered: set[tuple[bool, ToolUse]]) -> bool:
    return all((row.speed_m_min is None, use) in covered for use in row.uses)


def _line(row: DataRow, units: str) -> Line:
    found = row.speed_m_min or row.feed_mm
    return Line(
        what=_tools(row),
        uses=", ".join(sorted(row.uses)),
        diameter="" if row.diameter_mm is None else _length(row.diameter_mm, units),
        speed=_speeds(row.speed_m_min, units) if row.speed_m_min else "",
        feed=_feeds(row.feed_mm, units) if row.feed_mm else "",
        source=found.source if found else "",
    )


def answer(made: Suggestion, units: str) -> Answer:
    speed = Said(_("Surface speed"), _speed(made.speed_m_min.usual, units), _speeds(made.speed_m_min, units),
                 made.speed_m_min.source)  # fmt: skip
    fed = Said(_per(made.per), _length(made.feed_mm.usual, units), _feeds(made.feed_mm, units), made.feed_mm.source)
    turns = Said("rpm", f"{made.rpm:.0f}", f"{made.rpm_window.low:.0f} – {made.rpm_window.high:.0f}")
    feeds = made.feed_window
    fast = Said(_("Feed"), _feed(made.feed_mm_min, units), f"{_feed(feeds.low, units)} – {_feed(feeds.high, units)}")
    notes = [_("Held to %s.") % limit for limit in made.limits]
    if made.thinning > 1.01:
        notes.append(_("Raised %.2f times because the chip is thin.") % made.thinning)
    if made.peck:
        notes.append(peck_words(made.peck, units))
    if not isnan(made.power_share):
        notes.append(_("Takes %.0f %% of the spindle's power.") % (100 * made.power_share))
    return Answer([turns, fast, speed, fed], notes, made.is_group_known)


def peck_words(peck: Peck, units: str) -> str:
    """How to go down, in one sentence."""
    if peck.style is PeckStyle.PLUNGE:
        return _("Drill in one go: %s.") % peck.why
    words = {"first": _length(peck.first_mm, units), "next": _length(peck.next_mm, units), "why": peck.why}
    if peck.style is PeckStyle.BREAK:
        return _("Break the chip at %(first)s, then each %(next)s: %(why)s.") % words
    return _("Peck: first %(first)s, then %(next)s: %(why)s.") % words


def _per(per: Per) -> str:
    return {Per.TOOTH: _("Feed a tooth"), Per.TURN: _("Feed a turn"), Per.PITCH: _("Feed a turn, the pitch")}[per]


def _length(length_mm: float, units: str) -> str:
    return f"{length_mm / MM_PER_IN:.4g} in" if units == Units.INCH else f"{length_mm:.4g} mm"


def _feed(mm_min: float, units: str) -> str:
    return f"{mm_min / MM_PER_IN:.1f} in/min" if units == Units.INCH else f"{mm_min:.0f} mm/min"


def _speed(m_min: float, units: str) -> str:
    return f"{m_min * FEET_A_METRE:.0f} ft/min" if units == Units.INCH else f"{m_min:.3g} m/min"


def _speeds(window: Window, units: str) -> str:
    factor = FEET_A_METRE if units == Units.INCH else 1.0
    return " – ".join(f"{value * factor:.0f}" if value * factor >= 20 else f"{value * factor:.3g}"
                      for value in (window.low, window.usual, window.high))  # fmt: skip


def _feeds(window: Window, units: str) -> str:
    if window.low == window.high:
        return _length(window.usual, units)
    factor = 1 / MM_PER_IN if units == Units.INCH else 1.0
    return " – ".join(f"{value * factor:.2g}" for value in (window.low, window.usual, window.high))
