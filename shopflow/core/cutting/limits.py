"""A wanted speed and feed held to what machine and tool can do."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shopflow.core.cutting.rows import Window
from shopflow.core.types import Machine, Tool


@dataclass(frozen=True)
class Limited:
    """A window within limits, and the limits that counted, in plain words."""

    window: Window
    limits: tuple[str, ...] = ()


def within_rpm(wanted: Window, tool: Tool, machine: Machine | None) -> Limited:
    """rpm between the machine's lowest and what machine and tool allow at the most.

    Where the usual speed is out of reach, the reachable end counts as inside the window: nobody can do better.
    """
    tops = [(tool.max_rpm, "the tool's highest rpm")]
    if machine:
        tops.append((machine.max_rpm, "the machine's highest rpm"))
    known = [top for top in tops if top[0] > 0]
    top, name = min(known, default=(float("inf"), ""))
    if wanted.usual > top:
        return Limited(_cut_off(wanted, top), (f"{name}, {top:.0f}",))
    if machine and wanted.usual < machine.min_rpm:
        least = machine.min_rpm
        raised = replace(wanted, usual=least, high=max(wanted.high, least))
        return Limited(raised, (f"the machine's lowest rpm, {least:.0f}",))
    return Limited(replace(wanted, high=min(wanted.high, top)))


def within_feed(wanted: Window, machine: Machine | None) -> Limited:
    """mm/min up to the machine's highest cutting feed."""
    if machine is None or machine.max_feed_mm_min <= 0:
        return Limited(wanted)
    top = machine.max_feed_mm_min
    if wanted.usual <= top:
        return Limited(replace(wanted, high=min(wanted.high, top)))
    return Limited(_cut_off(wanted, top), (f"the machine's highest feed, {top:.0f} mm/min",))


def _cut_off(wanted: Window, top: float) -> Window:
    return replace(wanted, low=min(wanted.low, top), usual=top, high=top)
