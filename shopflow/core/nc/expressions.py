"""Values of words: numbers, variables, expressions and functions [NISTIR 6556, 3.3.2]."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import partial

from shopflow.core.types import ControlProfile

DEEPEST = 40
"""Brackets within brackets; a deeper nest is a slip or an attack."""

NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)", re.ASCII)

VACANT = math.nan
"""The value of a variable that has none: #0. A word with it is not there, in arithmetic it counts 0; no other value is
ever not a number."""

NAMED = 1 << 40
"""Numbers from here on stand for named variables: the name's own bytes, so that no two share one."""

ReadVariable = Callable[[int], float]


class Fault(Exception):
    """Why a block is not read; the text is shown to people."""


def _round(value: float) -> float:
    """Half goes away from zero, as the report's examples have it."""
    return math.copysign(math.floor(abs(value) + 0.5), value)


def _modulo(left: float, right: float) -> float:
    rest = math.fmod(left, right)
    return rest + abs(right) if rest < 0 else rest


def _either(left: float, right: float) -> float:
    return float(bool(left) != bool(right))


_BINARY: dict[str, tuple[int, Callable[[float, float], float]]] = {
    "**": (3, lambda left, right: float(left**right)),
    "*": (2, lambda left, right: left * right),
    "/": (2, lambda left, right: left / right),
    "MOD": (2, _modulo),
    "+": (1, lambda left, right: left + right),
    "-": (1, lambda left, right: left - right),
    "OR": (1, lambda left, right: float(bool(left) or bool(right))),
    "XOR": (1, _either),
    "AND": (1, lambda left, right: float(bool(left) and bool(right))),
}
"""Rank and meaning [3.3.2.3]; equal rank goes from left to right."""

_COMPARISONS: dict[str, tuple[int, Callable[[float, float], float]]] = {
    "EQ": (0, lambda left, right: float(left == right)),
    "NE": (0, lambda left, right: float(left != right)),
    "GT": (0, lambda left, right: float(left > right)),
    "GE": (0, lambda left, right: float(left >= right)),
    "LT": (0, lambda left, right: float(left < right)),
    "LE": (0, lambda left, right: float(left <= right)),
}
"""Of the common macro language only (common practice, no source)."""

_FUNCTIONS: dict[str, Callable[[float], float]] = {
    "ABS": abs,
    "ACOS": lambda value: math.degrees(math.acos(value)),
    "ASIN": lambda value: math.degrees(math.asin(value)),
    "COS": lambda value: math.cos(math.radians(value)),
    "EXP": math.exp,
    "FIX": math.floor,
    "FUP": math.ceil,
    "LN": math.log,
    "ROUND": _round,
    "SIN": lambda value: math.sin(math.radians(value)),
    "SQRT": math.sqrt,
    "TAN": lambda value: math.tan(math.radians(value)),
}
"""[3.3.2.4]; FIX goes toward minus infinity, FUP toward plus infinity."""

_TOWARD_ZERO: dict[str, Callable[[float], float]] = {
    "FIX": math.trunc,
    "FUP": lambda value: math.copysign(math.ceil(abs(value)), value),
}
"""How the common macro language cuts (common practice, no source)."""

_OPERATOR = re.compile(r"\*\*|[*/+-]|MOD|OR|XOR|AND|EQ|NE|GT|GE|LT|LE")
_NAME = re.compile(r"ATAN|" + "|".join(_FUNCTIONS))


class Scanner:
    """Reads values from the text of one block: upper case, no blanks, no comments."""

    def __init__(self, text: str, variable: ReadVariable, control: ControlProfile) -> None:
        self.text = text
        self.at = 0
        self._variable = variable
        self._macros = control.macros
        self.corner_words = control.corner_words
        self.named_variables = control.o_words
        self._operators = _BINARY | _COMPARISONS if control.macros or control.o_words else _BINARY
        self._functions = _FUNCTIONS | _TOWARD_ZERO if control.macros else _FUNCTIONS
        self._depth = 0

    @property
    def ended(self) -> bool:
        return self.at >= len(self.text)

    def peek(self) -> str:
        return self.text[self.at : self.at + 1]

    def skip(self, text: str) -> bool:
        """Pass over this text if it stands here."""
        if not self.text.startswith(text, self.at):
            return False
        self.at += len(text)
        return True

    def value(self) -> float:
        """A number, #n, [expression] or function; raises Fault."""
        number = NUMBER.match(self.text, self.at)
        if number:
            self.at = number.end()
            return float(number[0])
        if self.peek() == "#":
            return self._variable(self.variable_number())
        if self.peek() == "[":
            return self.bracketed()
        if self._macros and self.peek() in "+-" and not self.ended:
            sign = -1.0 if self.peek() == "-" else 1.0
            self.at += 1
            return sign * self.value()
        return self._function()

    def assigned(self) -> float:
        """What stands behind #n=; the macro language takes an expression without brackets there."""
        return self._expression(0) if self._macros else self.value()

    def variable_number(self) -> int:
        """The n of #n, which may itself be any value: ##2, #[1+1]."""
        if not self.skip("#"):
            raise Fault("a # is missing before a variable")
        if self.named_variables and self.skip("<"):
            name, closed, _ = self.text[self.at :].partition(">")
            if not closed or not name:
                raise Fault("the name of a variable is not closed")
            self.at += len(name) + 1
            return NAMED + int.from_bytes(name.encode()[:60])
        return whole(self._nested(self.value), "the number of a variable")

    def bracketed(self) -> float:
        """[expression]"""
        if not self.skip("["):
            raise self._no_value()
        result = self._nested(lambda: self._expression(0))
        if not self.skip("]"):
            raise Fault("a closing ] is missing")
        return result

    def _nested(self, read: Callable[[], float]) -> float:
        self._depth += 1
        if self._depth > DEEPEST:
            raise Fault(f"brackets are nested more than {DEEPEST} deep")
        result = read()
        self._depth -= 1
        return result

    def _expression(self, least: int) -> float:
        """Operators of at least this rank, by precedence climbing."""
        left = self.value()
        while (operator := self._operator_here(least)) is not None:
            rank, apply = self._operators[operator]
            self.at += len(operator)
            right = self._expression(rank + 1)
            if math.isnan(left) or math.isnan(right):
                left = _with_vacant(operator, left, right, apply)
            else:
                left = _finite(partial(apply, left, right), operator)
        return left

    def _operator_here(self, least: int) -> str | None:
        found = _OPERATOR.match(self.text, self.at)
        if not found or found[0] not in self._operators:
            return None
        return found[0] if self._operators[found[0]][0] >= least else None

    def _no_value(self) -> Fault:
        """Where a value should begin; told from the letter before it on, as in text that stands outside a comment."""
        begin = self.at - 1 if self.at and self.text[self.at - 1].isalpha() else self.at
        here = self.text[begin:]
        said = f"“{here[:12]}{'…' if len(here) > 12 else ''}” has no value" if here else "a value is missing"
        return Fault(f"{said}: a number, #n or [ must stand {'behind its letter' if begin < self.at else 'here'}")

    def _function(self) -> float:
        name = _NAME.match(self.text, self.at)
        if not name:
            raise self._no_value()
        self.at = name.end()
        if name[0] == "ATAN":
            return self._arc_tangent()
        argument = _or_zero(self._nested(self.bracketed))
        return _finite(partial(self._functions[name[0]], argument), name[0])

    def _arc_tangent(self) -> float:
        rise = self._nested(self.bracketed)
        if not self.skip("/"):
            raise Fault("ATAN needs two values, ATAN[y]/[x]")
        return math.degrees(math.atan2(_or_zero(rise), _or_zero(self._nested(self.bracketed))))


def _or_zero(value: float) -> float:
    return 0.0 if math.isnan(value) else value


def _with_vacant(operator: str, left: float, right: float, apply: Callable[[float, float], float]) -> float:
    """Only EQ and NE tell a vacant variable from zero (common practice, no source)."""
    if operator in ("EQ", "NE"):
        both = math.isnan(left) and math.isnan(right)
        return float(both == (operator == "EQ"))
    return _finite(partial(apply, _or_zero(left), _or_zero(right)), operator)


def _finite(compute: Callable[[], float], name: str) -> float:
    try:
        result = compute()
    except ZeroDivisionError:
        raise Fault("a division by zero") from None
    except (ValueError, OverflowError, TypeError):
        raise Fault(f"{name} has no value for what it is given") from None
    if isinstance(result, complex) or not math.isfinite(result):
        raise Fault(f"{name} has no value for what it is given")
    return float(result)


def whole(value: float, what: str) -> int:
    """The integer that a value within 0.0001 of one stands for [3.3.2.1]; raises Fault."""
    if not math.isfinite(value):
        raise Fault(f"{what} has no value")
    nearest = round(value)
    if abs(value - nearest) > 0.0001:
        raise Fault(f"{what} must be a whole number, not {value:g}")
    return nearest
