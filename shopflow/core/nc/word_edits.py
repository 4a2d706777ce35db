"""Changing the number of a word in a line of text, in the style that the program itself has."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from shopflow.core.errors import NotPossible

_COMMENT = re.compile(r"\([^)]*\)?|;.*|//.*")
_NUMBER = r"\s*[+-]?(?:\d+(?:\.\d*)?|\.\d+)"


def change_words(text: str, letter: str, change: Callable[[float], float | None], *, whole: bool = False) -> str:
    """The line with each word of this letter changed; None from `change` leaves a word. Comments are left alone.

    whole: a number written without a decimal point loses what does not fit, instead of being refused.
    """
    pattern = re.compile(rf"(?<![A-Za-z#\[=])({letter})({_NUMBER})", re.IGNORECASE)

    def replace(found: re.Match[str]) -> str:
        written = found[2]
        blanks = written[: len(written) - len(written.lstrip())]
        value = change(float(written))
        if value is not None and whole and "." not in written:
            value = float(max(math.floor(value + 1e-9), 1))
        return found[0] if value is None else found[1] + blanks + in_style(written.strip(), value)

    return _outside_comments(text, lambda code: pattern.sub(replace, code))


def _outside_comments(text: str, change: Callable[[str], str]) -> str:
    out: list[str] = []
    at = 0
    for comment in _COMMENT.finditer(text):
        out += [change(text[at : comment.start()]), comment[0]]
        at = comment.end()
    return "".join([*out, change(text[at:])])


def in_style(old: str, value: float) -> str:
    """A number written like the old one: as many decimals, with or without a zero before the point."""
    whole, point, decimals = old.lstrip("+-").partition(".")
    if not point:
        if not float(value).is_integer():
            raise NotPossible(f"{value:g} cannot be written without a decimal point, as the program writes {old}.")
        return str(int(value)).zfill(len(whole) if whole.startswith("0") and len(whole) > 1 else 1)
    text = f"{value:.{max(len(decimals), _needed(value))}f}"
    if "." not in text:
        text += "."
    return text.replace("0.", ".", 1) if not whole and text.lstrip("-").startswith("0.") else text


def _needed(value: float) -> int:
    """Decimals without which the value would not be the one asked for, four at the most."""
    return next((count for count in range(5) if abs(round(value, count) - value) < 1e-9), 4)
