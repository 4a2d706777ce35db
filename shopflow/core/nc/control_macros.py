"""Macros that live in the control, read by what a person described of them."""

from __future__ import annotations

from shopflow.core.nc import moves
from shopflow.core.nc.blocks import Block
from shopflow.core.nc.codes import Codes, name
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.reading import AXES, Reading
from shopflow.core.types import ControlMacro, ControlProfile, MacroEnd


def described(block: Block, control: ControlProfile) -> ControlMacro | None:
    """The macro of the control that a block calls, by G65 P or by a code of its own; None for any other block."""
    if not control.control_macros:
        return None
    titles = {name(round(word.value * 10)) for word in block.words if word.letter == "G"}
    calls = titles | {name(round(word.value), "M") for word in block.words if word.letter == "M"}
    if "G65" in titles:
        calls |= {str(whole(word.value, "P")) for word in block.words if word.letter == "P"}
    return next((macro for macro in control.control_macros if macro.call in calls), None)


def run_described(reading: Reading, block: Block, macro: ControlMacro) -> None:
    """Put the tool where the macro leaves it, and forget what only the control knows after it."""
    state = reading.state
    what = f" ({macro.moves})" if macro.moves else ""
    reading.assume(
        f"control-macro-{macro.call}", f"{macro.title}: a macro of the control, read as a person described it{what}"
    )
    if macro.ends is MacroEnd.AXIS_WORDS:
        codes = Codes(values={word.letter: word for word in block.words if word.letter in AXES})
        if not codes.values:
            raise Fault(f"{macro.title} has no axis word to end at")
        moves.straight(reading, codes, feeding=False)
    elif macro.ends is MacroEnd.HOME_Z:
        reading.machine_move({2: 0.0})
    elif macro.ends is MacroEnd.UNKNOWN:
        state.known = [False, False, False]
    reading.variables.forget(macro.sets)
