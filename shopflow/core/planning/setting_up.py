"""Minutes to set up and to change a piece, as the parts that they come from. All are common practice with no source."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shopflow.core.planning.rules import PlanRules


class Held(StrEnum):
    """What a setup is held in, as far as setting it up differs."""

    VISE = "vise"
    CLAMPS = "clamps"
    SOFT_JAWS = "soft jaws"
    FIXTURE = "fixture"


class Jaws(StrEnum):
    """What is done to soft jaws before they hold a part. NEW: never cut, or cut as often as they can be."""

    NEW = "cut new jaws"
    RECUT = "re-cut the jaws"


@dataclass(frozen=True)
class MinutesPart:
    """Some of the minutes, and what they are for."""

    what: str
    minutes: float


def setting_up(
    tools: int,
    rules: PlanRules,
    *,
    held: Held = Held.VISE,
    jaws: Jaws = Jaws.RECUT,
    is_aslant: bool = False,
) -> tuple[MinutesPart, ...]:
    """The table cleared and the workholding on it, then each tool.

    Soft jaws go on a vise that stands, and are cut or cut again in place, so that they run true; a fixture takes the
    place of the vise and is indicated in.
    """
    parts = [MinutesPart("clamps set", rules.setup_clamps_min)] if held is Held.CLAMPS else []
    if held in (Held.VISE, Held.SOFT_JAWS):
        parts.append(MinutesPart("vise set and indicated", rules.setup_min))
    if held is Held.SOFT_JAWS:
        parts.append(MinutesPart("soft jaws mounted", rules.jaws_mount_min))
        cut = rules.jaws_cut_min if jaws is Jaws.NEW else rules.jaws_recut_min
        parts.append(MinutesPart(str(jaws), cut))
    if held is Held.FIXTURE:
        parts.append(MinutesPart("table cleared", rules.clear_min))
        parts.append(MinutesPart("fixture mounted and indicated", rules.fixture_mount_min))
    if is_aslant:
        parts.append(MinutesPart("angle set and indicated", rules.tilt_min))
    if tools:
        parts.append(MinutesPart(f"{tools} × tool set and measured", tools * rules.setup_tool_min))
    return tuple(parts)


def setup_minutes(tools: int, rules: PlanRules, *, is_vise: bool = True, is_aslant: bool = False) -> float:
    """To set up where nobody has said yet that soft jaws or a fixture hold it."""
    return total(setting_up(tools, rules, held=Held.VISE if is_vise else Held.CLAMPS, is_aslant=is_aslant))


def load_minutes(rules: PlanRules, *, held: Held = Held.VISE) -> float:
    """To change one piece for the next; a fixture locates it, and is closed as clamps are."""
    by_held = {Held.CLAMPS: rules.load_clamps_min, Held.FIXTURE: rules.load_fixture_min}
    return by_held.get(held, rules.load_min)


def total(parts: tuple[MinutesPart, ...]) -> float:
    return sum(part.minutes for part in parts)
