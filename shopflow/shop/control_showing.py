"""What the pages of control profiles show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from shopflow.core.nc import CONTROLS, PLAIN, control_values
from shopflow.core.types import ControlMacro, ControlProfile
from shopflow.shop import queries
from shopflow.shop.control_settings import END_WORDS, SETTINGS, THEMES, differing, said, telling
from shopflow.shop.models import ControlProfile as OwnProfile
from shopflow.shop.models import ControlProfileChange
from shopflow.shop.showing import Entry


@dataclass(frozen=True)
class Listed:
    """A profile in the list. based_on: title of the built-in one, "" for a built-in one. changed: how many settings."""

    profile: ControlProfile
    url: str
    based_on: str
    changed: int
    machines: list[str]
    traits: list[tuple[str, str]]


def listed() -> tuple[list[Listed], list[Listed]]:
    """The shop's own profiles, and the built-in ones."""
    machines = queries.machines_by_control()
    own = [_listed(queries.core_control(row), row.based_on, machines) for row in queries.own_controls()]
    return own, [_listed(profile, "", machines) for profile in CONTROLS.values()]


def _listed(profile: ControlProfile, based_on: str, machines: dict[str, list[str]]) -> Listed:
    base = CONTROLS.get(based_on)
    return Listed(
        profile=profile,
        url=reverse("shop:control", args=[profile.name]),
        based_on=base.title if base else "",
        changed=len(differing(profile, base)) if base else 0,
        machines=machines.get(profile.name, []),
        traits=[(str(setting.label), words) for setting, words in telling(profile)],
    )


def themes(profile: ControlProfile, base: ControlProfile | None) -> list[dict[str, Any]]:
    """Every setting in words, by theme; base: what one of the shop's own is a copy of."""
    changed = set(differing(profile, base)) if base else set()
    return [
        {
            "theme": theme,
            "lines": [
                {
                    "label": setting.label,
                    "words": said(setting.name, profile),
                    "was": said(setting.name, base) if base and setting.name in changed else "",
                }
                for setting in theme.settings
                if setting.name != "control_macros"
            ],
            "macros": [_macro(macro) for macro in profile.control_macros] if theme.key == "control_macros" else None,
        }
        for theme in THEMES
    ]


def _macro(macro: ControlMacro) -> dict[str, Any]:
    return {
        "call": f"G65 P{macro.call}" if macro.call.isdigit() else macro.call,
        "title": macro.title,
        "moves": macro.moves,
        "ends": END_WORDS[macro.ends],
        "sets": ", ".join(f"#{number}" for number in macro.sets),
    }


def history(own: OwnProfile) -> list[Entry]:
    """What became of one of the shop's profiles, newest first."""
    return [
        Entry(at=change.changed_at, text=_told(change), who=str(change.changed_by), reason=change.reason)
        for change in queries.control_changes(own)
    ]


def _told(change: ControlProfileChange) -> str:
    if not change.before:
        return _("Added")
    return "; ".join(_changes(change))


def _changes(change: ControlProfileChange) -> Iterator[str]:
    for name, after in change.after.items():
        before = change.before.get(name)
        words = {"what": _label(name), "before": _shown(name, before), "after": _shown(name, after)}
        yield _("%(what)s: %(before)s → %(after)s") % words


def _label(name: str) -> str:
    if name in SETTINGS:
        return str(SETTINGS[name].label)
    return {"name": _("Short name"), "title": _("Title"), "based_on": _("Copy of")}.get(name, name)


def would_change(kept: ControlProfile, wanted: ControlProfile) -> list[str]:
    """In words, what one profile would change in another; empty where they say the same."""
    names = {"title": (_("Title"), kept.title, wanted.title)} if kept.title != wanted.title else {}
    rows = [*names.values()]
    for name in differing(wanted, kept):
        rows.append((str(SETTINGS[name].label), _worded(name, kept), _worded(name, wanted)))
    return [_("%(what)s: %(before)s → %(after)s") % {"what": what, "before": a, "after": b} for what, a, b in rows]


def _worded(name: str, profile: ControlProfile) -> str:
    return _shown(name, control_values.plain(getattr(profile, name)))


def _shown(name: str, value: Any) -> str:
    """A setting as it was kept, in words; one that this version no longer has as it stands."""
    if name == "control_macros":
        return ", ".join(f"{macro['call']} {macro['title']}" for macro in value or []) or _("none")
    if name not in SETTINGS:
        return str(value)
    try:
        loaded = control_values.load(name, value)
    except control_values.NotASetting:
        return str(value)
    return said(name, replace(PLAIN, **{name: loaded}))
