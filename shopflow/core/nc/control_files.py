"""A control profile as a file: JSON with every setting by name, to be carried to another shop or read by a command.

    {"control_profile": 1, "name": "mill-2", "title": "…", "based_on": "calculator", "settings": {"macros": true, …}}

A setting that the file does not name is as in the built-in profile that it is based on, so that a file of an earlier
version can still be read; one that is not known is refused, since leaving it out would read programs otherwise than
the file says.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, replace
from typing import Any

from shopflow.core.errors import Unreadable
from shopflow.core.nc.control_values import NotASetting, load, plain, problems, settings
from shopflow.core.nc.controls import CONTROLS, PLAIN
from shopflow.core.types import ControlProfile

FORMAT = 1
MOST_BYTES = 256 * 1024
NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,39}")
LONGEST_TITLE = 120
_MEND = "Choose a file that “Get the file” of a control profile gave."
_KEYS = frozenset({"control_profile", "name", "title", "based_on", "settings"})


@dataclass(frozen=True)
class ControlFile:
    """A profile as a file holds it. based_on: the built-in one. left_to_base: settings that the file does not name."""

    profile: ControlProfile
    based_on: str
    left_to_base: tuple[str, ...] = ()


def write_control(profile: ControlProfile, *, based_on: str) -> str:
    """The file; read_control gives an equal profile back."""
    given = {name: plain(getattr(profile, name)) for name in settings()}
    content = {"control_profile": FORMAT, "name": profile.name, "title": profile.title, "based_on": based_on}
    return json.dumps(content | {"settings": given}, indent=2, ensure_ascii=False) + "\n"


def read_control(data: bytes) -> ControlFile:
    """The profile of a file. Raises Unreadable with what is wrong and at which setting."""
    content = _content(data)
    base = CONTROLS.get(str(content.get("based_on", PLAIN.name)))
    if base is None:
        known = ", ".join(CONTROLS)
        raise Unreadable(f"It is based on “{content['based_on']}”, which is none of: {known}.", where="based_on")
    given = content.get("settings")
    if not isinstance(given, dict):
        raise Unreadable("The settings are missing.", where="settings", mend=_MEND)
    profile = replace(base, **_names(content), **{name: _setting(name, value) for name, value in given.items()})
    for name, problem in problems(profile):
        raise Unreadable(problem, where=name)
    return ControlFile(profile, base.name, tuple(name for name in settings() if name not in given))


def _content(data: bytes) -> dict[str, Any]:
    if len(data) > MOST_BYTES:
        raise Unreadable("The file is larger than a control profile can be.", mend=_MEND)
    try:
        content = json.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        where = f"line {error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        raise Unreadable("This is no control profile: the file is not JSON.", where=where, mend=_MEND) from error
    if not isinstance(content, dict) or "control_profile" not in content:
        raise Unreadable("This is no control profile.", mend=_MEND)
    if content["control_profile"] != FORMAT:
        raise Unreadable(f"Its format is {content['control_profile']}; this version reads format {FORMAT}.")
    unknown = sorted(set(content) - _KEYS)
    if unknown:
        raise Unreadable(f"“{unknown[0]}” is not a part of a control profile.", where=unknown[0])
    return content


def _names(content: dict[str, Any]) -> dict[str, Any]:
    name, title = content.get("name"), content.get("title")
    if not isinstance(name, str) or not NAME.fullmatch(name):
        raise Unreadable("The name is to be small letters, digits, - and _, 40 at most.", where="name")
    if not isinstance(title, str) or not title.strip() or len(title) > LONGEST_TITLE or not title.isprintable():
        raise Unreadable(f"The title is to be one line of at most {LONGEST_TITLE} characters.", where="title")
    return {"name": name, "title": title.strip()}


def _setting(name: str, value: Any) -> Any:
    try:
        return load(name, value)
    except NotASetting as refusal:
        raise Unreadable(str(refusal), where=name) from refusal
