"""G65 and G66: which macro is called, and with what (common practice, no source)."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from shopflow.core.nc.blocks import Block, Word
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.variables import ARGUMENTS
from shopflow.core.types import ControlProfile, DecimalRule

_REPEATED = "IJK"
MOST_SETS = 10
"""I1 J2 K3 I4 J5 K6 …: the sets of three fill #4 to #33."""

_COUNTING = "DHMST"
"""Arguments that are numbers of things, so that no decimal point is missed in them."""


@dataclass(frozen=True, slots=True)
class MacroCall:
    """A call of macro number; arguments by local variable. is_modal: G66, once after each block that moves."""

    number: str
    repeats: int
    arguments: dict[int, float]
    is_modal: bool


def macro_call(block: Block, control: ControlProfile) -> MacroCall | None:
    """The call that a block makes, None for any other block; raises Fault where it is not certain what is meant."""
    if not control.macros:
        return None
    codes = {word.value for word in block.words if word.letter == "G"}
    title = "G65" if 65.0 in codes else "G66" if 66.0 in codes and "G66" in control.extra_codes else ""
    if not title:
        return None
    given = _own_words(block, title)
    if "P" not in given:
        raise Fault(f"{title} has no P word: which macro is called is not stated")
    repeats = whole(given["L"].value, "L") if "L" in given else 1
    if repeats < 1:
        raise Fault("a macro is called less than once")
    return MacroCall(str(whole(given["P"].value, "P")), repeats, _arguments(block, control), title == "G66")


def _own_words(block: Block, title: str) -> dict[str, Word]:
    """P and L, which are the call's own; refuses what can be no argument."""
    own: dict[str, Word] = {}
    for word in block.words:
        if word.letter in ("P", "L") and word.letter not in own:
            own[word.letter] = word
        elif word.letter not in ARGUMENTS and not (word.letter == "G" and word.value == float(title[1:])):
            raise Fault(f"{word.text} cannot stand in a macro call")
    return own


def _arguments(block: Block, control: ControlProfile) -> dict[int, float]:
    arguments: dict[int, float] = {}
    seen: Counter[str] = Counter()
    for word in block.words:
        if word.letter not in ARGUMENTS:
            continue
        seen[word.letter] += 1
        variable = ARGUMENTS[word.letter] + (3 * (seen[word.letter] - 1) if word.letter in _REPEATED else 0)
        if variable in arguments or seen[word.letter] > MOST_SETS:
            raise Fault(f"{word.text} fills #{variable}, which the call has filled already")
        arguments[variable] = _value(word, control)
    return arguments


def _value(word: Word, control: ControlProfile) -> float:
    """Where a number without a point counts least increments, an argument may count them or not, by its letter."""
    implied = control.decimal_rule is DecimalRule.INCREMENT and not word.pointed
    if implied and word.value and word.letter not in _COUNTING:
        raise Fault(f"{word.text} without a decimal point in a macro call; what it counts depends on the control")
    return word.value
