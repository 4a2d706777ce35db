"""Variables: the report's parameters, or local and common variables of the macro language."""

from __future__ import annotations

import math

from shopflow.core.nc.expressions import NAMED, VACANT, Fault
from shopflow.core.nc.state import State
from shopflow.core.types import ControlProfile

LAST_O_LOCAL = 30
LAST_LOCAL = 33
FIRST_SYSTEM = 1000
STOPS = {3000: "#3000 alarm", 3006: "#3006"}
"""System variables whose setting stops the program with a message (common practice, no source)."""

ARGUMENTS = {
    "A": 1, "B": 2, "C": 3, "D": 7, "E": 8, "F": 9, "H": 11, "I": 4, "J": 5, "K": 6, "M": 13, "Q": 17, "R": 18, "S": 19,
    "T": 20, "U": 21, "V": 22, "W": 23, "X": 24, "Y": 25, "Z": 26,
}  # fmt: skip
"""Letters of a macro call and the local variables that they fill (common practice, no source)."""


class Variables:
    """All variables of one reading. Locals belong to the macro call that is open."""

    def __init__(self, control: ControlProfile, state: State) -> None:
        self._control, self._state = control, state
        self._common: dict[int, float] = {}
        self._locals: list[dict[int, float]] = [{}]
        self.used: set[int] = set()
        self.assumed_zero: list[int] = []

    def enter(self, arguments: dict[int, float]) -> None:
        """A macro call begins, with its own locals."""
        self._locals.append(dict(arguments))

    def forget(self, numbers: tuple[int, ...]) -> None:
        """Variables that got values which only the control knows."""
        for number in numbers:
            self._common.pop(number, None)
            self._locals[-1].pop(number, None)

    def leave(self) -> dict[int, float]:
        """The macro call ends; its locals as it left them."""
        return self._locals.pop()

    def read(self, number: int) -> float:
        """The value of #number; raises Fault where only the control knows it."""
        self.used.add(number)
        return self._read_macro(number) if self._control.macros else self._read_parameter(number)

    def _read_parameter(self, number: int) -> float:
        if self._is_local(number):
            return self._locals[-1].get(number, 0.0)
        if number in self._common:
            return self._common[number]
        own = _interpreter_parameter(self._state, number)
        if own is not None:
            return own
        _check_parameter(number)
        if not self._control.unset_variables_are_zero:
            raise Fault(f"#{number} was not set by the program; its value lives in the control")
        self.assumed_zero.append(number)
        return 0.0

    def _read_macro(self, number: int) -> float:
        if number == 0:
            return VACANT
        if 1 <= number <= LAST_LOCAL:
            return self._locals[-1].get(number, VACANT)
        if number in self._common:
            return self._common[number]
        value = _system(self._state, number) if number >= FIRST_SYSTEM else None
        if value is None:
            raise Fault(f"#{number} was not set by the program; its value lives in the control")
        return value

    def _is_local(self, number: int) -> bool:
        """#1 to #30 and names without an underscore in front belong to the O-word subprogram that is open."""
        if not self._control.o_words or len(self._locals) == 1:
            return False
        return 1 <= number <= LAST_O_LOCAL or (number >= NAMED and not _is_global(number))

    def set(self, number: int, value: float) -> str:
        """Set a variable; the kind of stop where the setting is one, else "". Raises Fault for the control's own."""
        self.used.add(number)
        if not self._control.macros:
            if self._is_local(number):
                self._locals[-1][number] = value
                return ""
            _check_parameter(number)
            self._common[number] = value
        elif number in STOPS:
            return STOPS[number]
        elif 1 <= number <= LAST_LOCAL:
            self._locals[-1][number] = value
        elif number == 0 or number >= FIRST_SYSTEM:
            raise Fault(f"#{number} belongs to the control; what setting it does is not read")
        else:
            self._common[number] = value
        return ""


def _interpreter_parameter(state: State, number: int) -> float | None:
    """Parameters that reading itself sets [NISTIR 6556, 3.2.1]: 5220 the work offset in force, 5211 to 5213 what G92
    keeps, 5221 and on the origins, 20 a system. None for others, and for an origin that only the control knows.
    """
    if number == 5220:
        return float(state.work_offset)
    axis = (number - 5201) % 20 - 10 if 5211 <= number <= 5213 else (number - 5221) % 20
    if number in (5211, 5212, 5213):
        return state.stored_shift[axis] / _one_unit(state, number)
    system = (number - 5221) // 20 + 1
    if not 1 <= system <= 9 or not 0 <= axis <= 2 or system not in state.origins:
        return None
    origin = state.origins[system][axis]
    return None if math.isnan(origin) else origin / _one_unit(state, number)


def _one_unit(state: State, number: int) -> float:
    """mm of the unit in force; a change of units converts no stored numbers [3.5.7], so after one nobody can tell."""
    if {"mm", "inch"} <= state.stated:
        raise Fault(f"#{number} was stored under G20 or G21, and the program uses both; which one is not known")
    return state.unit_mm


def _check_parameter(number: int) -> None:
    if number >= NAMED:
        return
    if not 1 <= number <= 5399:
        raise Fault(f"#{number} does not exist; parameters go from 1 to 5399")


def _is_global(number: int) -> bool:
    code = number - NAMED
    return code >> (8 * ((code.bit_length() - 1) // 8)) == ord("_")


def _system(state: State, number: int) -> float | None:
    """What the control would say of its own state, where the program alone decides it (common practice, no source)."""
    if number in (5001, 5002, 5003, 5041, 5042, 5043):
        axis = number % 10 - 1
        known = state.known[axis]
        return (state.position[axis] - state.shift[axis]) / state.unit_mm if known else None
    values = {
        4002: float(state.plane),
        4003: 90.0 if state.absolute else 91.0,
        4006: 21.0 if state.unit_mm == 1.0 else 20.0,
        4014: 53.0 + state.work_offset if state.work_offset <= 6 else math.nan,
        4119: state.rpm,
        4120: float(state.tool),
    }
    value = values.get(number)
    return None if value is None or math.isnan(value) else value
