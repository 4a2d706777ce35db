"""What a sign-off stands on besides the bytes: the things under which a program means what was reviewed.

The dict holds typed values only (text, whole numbers, Decimal), so that its canonical JSON is the same wherever it is
made. What is not in it is not bound: names and notes of tools, due date, quantity, titles, pick-up, coolant.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.measure import Measure
from shopflow.core.review import HouseRules
from shopflow.core.review.house_rules import DEFAULTS, UNBOUND_KEYS, YOUNGER_KEYS
from shopflow.core.types import ControlProfile
from shopflow.jobs.models import Job, JobFile, Setup
from shopflow.programs import typed
from shopflow.programs.models import ProgramRevision
from shopflow.programs.today import Today
from shopflow.shop import control_settings
from shopflow.shop import queries as shop
from shopflow.shop.models import Machine, Material, Tool

FORMAT = 1

JUDGED = frozenset({"machine", "control", "house_rules"})
"""What a review judges by itself: the reading is done again and the rules are applied with the new values.

Everything else bound here decides what the motions do to the part (model, blank, zero, workholding, material, the
cutters themselves), and no rule of this version computes that: a change there lapses the sign-off without waiting.
"""


@dataclass(frozen=True)
class Change:
    """One bound value that differs. path: keys from the outside in. was, now: texts, None where there was none."""

    path: tuple[str, ...]
    was: str | None
    now: str | None

    @property
    def is_judged(self) -> bool:
        return self.path[0] in JUDGED

    def __str__(self) -> str:
        if self.path[0] == "control" and len(self.path) > 1:
            return _control_change(self)
        return _("%(what)s was %(was)s and is %(now)s") % {
            "what": _title(self.path),
            "was": _shown(self.was),
            "now": _shown(self.now),
        }


@dataclass(frozen=True)
class Rows:
    """What the shop and the plan say today about one program. crib: tool of each number that the text may call."""

    job: Job
    model: JobFile | None
    setups: list[Setup]
    machine: Machine | None
    control: ControlProfile | None
    crib: dict[int, Tool | None]
    house_rules: HouseRules


def rows_of(revision: ProgramRevision, today: Today | None = None) -> Rows:
    """For the assumptions and for what a review is computed from. today: of its job, where it was read already."""
    today = today or Today.of(revision)
    return rows_for(today, today.setups_of(revision.program_id), today.crib_of(revision))


def rows_for(today: Today, setups: list[Setup], crib: dict[int, Tool | None]) -> Rows:
    """What a program that runs these setups of a job and may call these tools is judged by."""
    machine = machine_of(setups)
    return Rows(
        job=today.job,
        model=today.model,
        setups=setups,
        machine=machine,
        control=shop.control_profile(machine.control) if machine else None,
        crib=crib,
        house_rules=today.house_rules,
    )


def machine_of(setups: list[Setup]) -> Machine | None:
    """The machine that a program runs on: its setups name one, or none."""
    return next((setup.machine for setup in setups if setup.machine), None)


def assumptions(revision: ProgramRevision) -> dict[str, Any]:
    """Everything that a sign-off of this revision binds besides its bytes, as typed values."""
    return bound(rows_of(revision))


def bound(rows: Rows) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "model": _model(rows),
        "material": _material(rows.job.material),
        "machine": _machine(rows.machine),
        "control": _control(rows.control),
        "house_rules": _house_rules(rows.house_rules),
        "setups": {str(setup.number): _setup(setup) for setup in rows.setups},
        "tools": {str(number): _tool(tool) for number, tool in rows.crib.items()},
    }


def differences(was: dict[str, Any], now: dict[str, Any]) -> list[Change]:
    """Every value that differs between two assumptions, either of which may have been through JSON."""
    before, after = dict(_leaves(typed.texts(was))), dict(_leaves(typed.texts(now)))
    paths = sorted(before.keys() | after.keys())
    return [Change(path, before.get(path), after.get(path)) for path in paths if before.get(path) != after.get(path)]


def _leaves(value: object, path: tuple[str, ...] = ()) -> Iterable[tuple[tuple[str, ...], str | None]]:
    if isinstance(value, dict) and value:
        for key, item in value.items():
            yield from _leaves(item, (*path, key))
    elif isinstance(value, list):
        yield path, ", ".join(str(item) for item in value)
    else:
        yield path, None if value in (None, {}) else str(value)


def _house_rules(rules: HouseRules) -> dict[str, Any]:
    """A younger rule only where the shop set it, as in sign-offs from before there was one."""
    values = {rule.key: (rules.value(rule.key), rule.value) for rule in DEFAULTS if rule.key not in UNBOUND_KEYS}
    return {key: value for key, (value, default) in values.items() if key not in YOUNGER_KEYS or value != default}


def _model(rows: Rows) -> dict[str, Any] | None:
    return {"sha256": rows.model.stored.sha256, "solid": rows.job.solid_index} if rows.model else None


def _material(material: Material | None) -> dict[str, Any] | None:
    if material is None:
        return None
    return {
        "name": material.name,
        "group": material.group,
        "density": material.density,
        "unit_power": material.unit_power,
    }


_MACHINE_NUMBERS = (
    "rapid_x", "rapid_y", "rapid_z", "acceleration", "max_feed", "min_rpm", "max_rpm", "power_kw", "tool_change_s",
    "spindle_start_s", "carousel", "through_coolant",
)  # fmt: skip


def _machine(machine: Machine | None) -> dict[str, Any] | None:
    if machine is None:
        return None
    travel = [_mm(length) for length in (machine.travel_x, machine.travel_y, machine.travel_z)]
    numbers = {name: getattr(machine, name) for name in _MACHINE_NUMBERS}
    curve = {"power_curve": machine.power_curve} if machine.power_curve else {}
    return {"name": machine.name, "travel": travel} | numbers | curve


def _control(control: ControlProfile | None) -> dict[str, Any] | None:
    """Its values; what it and its macros are called says nothing about what a program does."""
    if control is None:
        return None
    values: dict[str, Any] = typed.plain(control)  # type: ignore[assignment]
    for macro in values["control_macros"]:
        del macro["title"], macro["moves"]
    return {name: value for name, value in values.items() if name not in ("name", "title")}


def _setup(setup: Setup) -> dict[str, Any]:
    return {
        "up": setup.up,
        **({"angles": [f"{angle:g}" for angle in setup.angles]} if setup.is_aslant else {}),
        "zero": {"point": setup.zero_point, "offset": setup.work_offset_code, **_place(setup)},
        "workholding": {"how": setup.workholding, "grip": _mm(setup.grip), **_fixture(setup)},
        "blank": [_mm(length) for length in (setup.blank_x, setup.blank_y, setup.blank_z)],
        **({"blank_over": _mm(setup.blank_over)} if setup.blank_over else {}),
        **_held(setup),
        **({"blank_round": setup.blank_round} if setup.blank_round else {}),
        **({"blank_model": setup.blank_file.stored.sha256} if setup.blank_file else {}),
        **({"blank_holes": setup.blank_holes} if setup.blank_holes else {}),
    }


def _fixture(setup: Setup) -> dict[str, Any]:
    """Soft jaws or a fixture by number; nothing where there is none, as in sign-offs from before."""
    return {"fixture": setup.fixture.number} if setup.fixture else {}


def _held(setup: Setup) -> dict[str, Any]:
    """Workholding as solids, and how blanks differ; nothing while it is not said, as in sign-offs from before."""
    sizes = ("jaw_length", "jaw_thick", "parallel_height", "parallel_thick")
    held = {"by": setup.held_by, "jaws_along": setup.jaws_along, "solids": setup.solids}
    vary = {name: _mm(getattr(setup, name)) for name in ("vary_x", "vary_y", "vary_z") if getattr(setup, name)}
    said = held | {name: _mm(getattr(setup, name)) for name in sizes} if setup.held_by else {}
    if said and setup.bed_height:
        said["bed_height"] = _mm(setup.bed_height)
    return ({"held": said} if said else {}) | ({"blanks_differ": vary} if vary else {})


def _place(setup: Setup) -> dict[str, Any]:
    """The zero as a point of the model; nothing while it is not known, as in sign-offs from before it had numbers."""
    if setup.zero is None:
        return {}
    return {"on_model": dict(zip("xyz", map(_mm, setup.zero), strict=True)), "along_x": setup.along_x}


def _tool(tool: Tool | None) -> dict[str, Any] | None:
    """Diameter, shape and the lengths as they stand in the crib, which is what the review took for granted."""
    if tool is None:
        return None
    shape = {
        "kind": tool.shape,
        "corner_radius": _mm(tool.corner_radius),
        "point_angle": tool.point_angle,
        "tip_diameter": _mm(tool.tip_diameter),
        "neck_diameter": _mm(tool.neck_diameter),
        "shank_diameter": _mm(tool.shank_diameter),
    }
    return {
        "diameter": _mm(tool.diameter),
        "shape": shape,
        "least_length_of_cut": _mm(tool.flute_length),
        "least_stickout": _mm(tool.stickout),
        "holder": typed.plain(tool.holder.profile) if tool.holder else None,
    }


def _mm(measure: Measure | None) -> Decimal | None:
    """Exact: an inch is 25.4 mm by definition, and 1/2 in and 12.7 mm are the same length."""
    return measure.in_unit("mm") if measure else None


_TITLES = {
    "model": gettext_lazy("the model"),
    "material": gettext_lazy("the material"),
    "machine": gettext_lazy("the machine"),
    "control": gettext_lazy("the control profile"),
    "house_rules": gettext_lazy("the house rule"),
    "setups": gettext_lazy("setup"),
    "tools": gettext_lazy("tool"),
}


def _title(path: tuple[str, ...]) -> str:
    rest = [part.replace("_", " ") for part in path[1:]]
    if path[0] == "tools" and rest:
        rest[0] = f"T{rest[0]}"
        return " ".join(rest)
    return " ".join([str(_TITLES.get(path[0], path[0])), *rest])


def _control_change(change: Change) -> str:
    """As the page of the profile says it."""
    name = change.path[1]
    if name == "control_macros":
        return _("the macros described in the control profile were changed")
    was, now = (control_settings.said_of_text(name, text or "") for text in (change.was, change.now))
    label = control_settings.SETTINGS[name].label if name in control_settings.SETTINGS else name.replace("_", " ")
    return _("the control profile's “%(what)s” was “%(was)s” and is “%(now)s”") % {
        "what": label, "was": was or _("not set"), "now": now or _("not set"),
    }  # fmt: skip


def _shown(value: str | None) -> str:
    if value in (None, ""):
        return _("not set")
    return value[:12] if value and len(value) == 64 else str(value)
