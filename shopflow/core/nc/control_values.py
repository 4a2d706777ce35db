"""The settings of a control profile as plain values and back, and what makes a profile possible at all.

A form, a file and an action refuse the same: values that no control has, codes that the reader does not know, two
meanings for one code.
"""

from __future__ import annotations

import math
import re
import typing
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import fields
from enum import Enum
from functools import cache
from typing import Any, TypeVar

from shopflow.core.nc import codes
from shopflow.core.types import ControlMacro, ControlProfile, Coolant, DecimalRule, MacroEnd

NAMES = frozenset({"name", "title"})
"""What a profile is called; everything else is a setting."""

EXTRA_CODES: tuple[str, ...] = (
    *(codes.name(code) for group in codes.EXTENSION_G.values() for code in group),
    "M29",
    "G10 L10",
    "G10 L20",
)
"""Every code beyond the report that the reader knows what to do with, so that a profile may have it."""

MOST_COOLANT = int(sum(Coolant))
LONGEST_TEXT = 120
_CODE = re.compile(r"([GM])0*(\d{1,3})(\.\d)?", re.IGNORECASE)
_CALL = re.compile(r"\d{1,6}")


class NotASetting(ValueError):
    """A value that its setting cannot have; the text is a sentence for a person."""


Choice = TypeVar("Choice", bound=Enum)
Problem = tuple[str, str]
"""Name of a setting, and what is wrong with it."""


@cache
def settings() -> dict[str, Any]:
    """The type of every setting by name, in the order of the profile."""
    hints = typing.get_type_hints(ControlProfile)
    return {field.name: hints[field.name] for field in fields(ControlProfile) if field.name not in NAMES}


def plain(value: object) -> Any:
    """A setting as JSON knows it: sets as sorted lists, a choice as its text, a macro as a dict."""
    match value:
        case Enum():
            return value.value
        case ControlMacro():
            return {field.name: plain(getattr(value, field.name)) for field in fields(ControlMacro)}
        case frozenset():
            return sorted(value)
        case tuple():
            return [plain(item) for item in value]
    return value


def load(name: str, data: Any) -> Any:
    """The setting that `plain` made the data of. Raises NotASetting, also for an unknown name."""
    kind = settings().get(name)
    if kind is None:
        raise NotASetting(f"There is no setting “{name}”.")
    return _LOADERS[kind](data)


def code_name(text: str) -> str:
    """A G or M code as the reader calls it: m8 is M08, G05.1 is G5.1. Raises NotASetting."""
    found = _CODE.fullmatch(text.strip())
    if not found or (found[3] and found[1].upper() == "M"):
        raise NotASetting(f"“{text.strip()}” is no G or M code, such as G68 or M88.")
    number, tenth = int(found[2]), int(found[3][1:]) if found[3] else 0
    return codes.name(number, "M") if found[1].upper() == "M" else codes.name(number * 10 + tenth)


def problems(profile: ControlProfile) -> Iterator[Problem]:
    """What keeps this from being the profile of any control, setting by setting."""
    yield from _of_numbers(profile)
    yield from _of_letters(profile)
    yield from _of_codes(profile)
    yield from _of_macros(profile)


def _of_numbers(profile: ControlProfile) -> Iterator[Problem]:
    for name, kind in settings().items():
        value = getattr(profile, name)
        if kind is float and not (math.isfinite(value) and 0 <= value <= 1000):
            yield name, "Type a number from 0 to 1000."
    for name in ("least_increment_mm", "least_increment_in"):
        if getattr(profile, name) == 0:
            yield name, "The least increment is more than 0."
    if not 1 <= profile.sequence_digits <= 12:
        yield "sequence_digits", "Type a number of digits from 1 to 12."
    if not 0 <= profile.line_length <= 100_000:
        yield "line_length", "Type a number of characters up to 100000, or 0 for no limit."


def _of_letters(profile: ControlProfile) -> Iterator[Problem]:
    if profile.default_unit not in ("mm", "in"):
        yield "default_unit", "The unit is mm or in."
    if profile.default_cycle_return not in (98, 99):
        yield "default_cycle_return", "Cycles return by G98 or by G99."
    for name, allowed, least in (("dwell_letters", "PXUFS", 1), ("repeat_letters", "KLP", 0)):
        letters = getattr(profile, name)
        if len(letters) < least or set(letters) - set(allowed) or len(set(letters)) < len(letters):
            yield name, f"Type letters out of {', '.join(allowed)}, each once."


def _of_codes(profile: ControlProfile) -> Iterator[Problem]:
    for code in sorted(profile.extra_codes - set(EXTRA_CODES)):
        yield "extra_codes", f"The reader does not know what {code} does: call it harmless, or describe it as a macro."
    roles = {
        "harmless_codes": profile.harmless_codes,
        "stop_codes": profile.stop_codes,
        "coolant_codes": [code for code, _bits in profile.coolant_codes],
        "aliases": [code for code, _meant in profile.aliases],
        "control_macros": [macro.call for macro in profile.control_macros],
    }
    counted = Counter(code for given in roles.values() for code in given)
    for name, given in roles.items():
        for code in sorted({code for code in given if counted[code] > 1}):
            yield name, f"{code} has two meanings: leave it in one place only."
    for name in ("stop_codes", "coolant_codes"):
        for code in roles[name]:
            if not code.startswith("M"):
                yield name, f"{code} is no M code."
    for _code, bits in profile.coolant_codes:
        if not 0 <= bits <= MOST_COOLANT:
            yield "coolant_codes", "What a coolant code switches on is mist, flood, through, air, or off."


def _of_macros(profile: ControlProfile) -> Iterator[Problem]:
    for macro in profile.control_macros:
        if not macro.title.strip():
            yield "control_macros", f"Say what the macro {macro.call} is for."


def _code_or_call(data: Any) -> str:
    text = _text(data).strip()
    return str(int(text)) if _CALL.fullmatch(text) else code_name(text)


def _macro(data: Any) -> ControlMacro:
    if not isinstance(data, dict):
        raise NotASetting("A macro of the control is an object with call, title, moves, ends and sets.")
    unknown = set(data) - {field.name for field in fields(ControlMacro)}
    if unknown or "call" not in data:
        raise NotASetting(f"A macro has no {', '.join(sorted(unknown))}." if unknown else "A macro lacks its call.")
    return ControlMacro(
        call=_code_or_call(data["call"]),
        title=_text(data.get("title", "")),
        moves=_text(data.get("moves", "")),
        ends=_choice(MacroEnd)(data.get("ends", MacroEnd.UNKNOWN.value)),
        sets=tuple(_variable(item) for item in _list(data.get("sets", []))),
    )


def _variable(data: Any) -> int:
    number = _whole(data)
    if not 1 <= number <= 99_999:
        raise NotASetting(f"#{number} is no variable: they are numbered from 1 to 99999.")
    return number


def _text(data: Any) -> str:
    if not isinstance(data, str) or len(data) > LONGEST_TEXT or not data.isprintable():
        raise NotASetting(f"This is to be one line of text of at most {LONGEST_TEXT} characters.")
    return data


def _truth(data: Any) -> bool:
    if not isinstance(data, bool):
        raise NotASetting("This is to be true or false.")
    return data


def _whole(data: Any) -> int:
    if isinstance(data, bool) or not isinstance(data, int):
        raise NotASetting("This is to be a whole number.")
    return data


def _number(data: Any) -> float:
    if isinstance(data, bool) or not isinstance(data, int | float):
        raise NotASetting("This is to be a number.")
    return float(data)


def _list(data: Any) -> list[Any]:
    if not isinstance(data, list) or len(data) > 500:
        raise NotASetting("This is to be a list of at most 500.")
    return data


def _pair(data: Any) -> list[Any]:
    if len(_list(data)) != 2:
        raise NotASetting("Each line of this is a pair.")
    return list(data)


def _choice(kind: type[Choice]) -> Callable[[Any], Choice]:
    def chosen(data: Any) -> Choice:
        try:
            return kind(data)
        except ValueError:
            raise NotASetting(f"This is to be one of: {', '.join(str(item.value) for item in kind)}.") from None

    return chosen


def _one_code(data: Any) -> str:
    text = _text(data)
    return text if text in EXTRA_CODES else code_name(text)


_LOADERS: dict[Any, Callable[[Any], Any]] = {
    bool: _truth,
    int: _whole,
    float: _number,
    str: _text,
    DecimalRule: _choice(DecimalRule),
    frozenset[str]: lambda data: frozenset(_one_code(item) for item in _list(data)),
    tuple[tuple[str, str], ...]: lambda data: tuple(
        (code_name(_text(code)), code_name(_text(meant))) for code, meant in map(_pair, _list(data))
    ),
    tuple[tuple[str, int], ...]: lambda data: tuple(
        (code_name(_text(code)), _whole(bits)) for code, bits in map(_pair, _list(data))
    ),
    tuple[ControlMacro, ...]: lambda data: tuple(_macro(item) for item in _list(data)),
}
