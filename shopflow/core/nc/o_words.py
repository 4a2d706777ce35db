"""O-words: subprograms, branches and loops of controls descended from the report's (common practice, no source).

o100 sub … endsub, call, return; if, elseif, else, endif; while, endwhile; do, while; repeat, endrepeat; break and
continue.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cached_property

from shopflow.core.nc.expressions import Fault, ReadVariable, Scanner, whole
from shopflow.core.types import ControlProfile

_O_WORD = re.compile(
    r"(?:N\d+)?O(\d+|<[^<>]+>)(SUB|ENDSUB|CALL|RETURN|IF|ELSEIF|ELSE|ENDIF|WHILE|ENDWHILE|DO|REPEAT|ENDREPEAT|BREAK|CONTINUE)",
    re.ASCII,
)
_BRANCHES = ("ELSEIF", "ELSE", "ENDIF")
_LOOP_ENDS = ("ENDWHILE", "ENDREPEAT")


@dataclass(frozen=True, slots=True)
class Statement:
    """One O-word line: its label, keyword, and what stands behind."""

    label: str
    keyword: str
    rest: str


@dataclass(frozen=True, slots=True)
class Go:
    """What a statement does to the reading: go to a line (from 0), call a subprogram there, or return from one."""

    to: int | None = None
    call: bool = False
    leave: bool = False
    arguments: tuple[float, ...] = ()


def statement_of(code: str) -> Statement | None:
    """The O-word of a line's code (upper case, no blanks), None for any other line."""
    found = _O_WORD.match(code)
    return Statement(found[1], found[2], code[found.end() :]) if found else None


@dataclass
class OWords:
    """All O-word lines of a file, and how far its branches and loops have come. codes: of every line, in order."""

    codes: list[str]
    control: ControlProfile
    _taken: set[str] = field(default_factory=set)
    _left: dict[str, int] = field(default_factory=dict)

    @cached_property
    def _lines(self) -> dict[str, list[tuple[int, str]]]:
        """For each label its lines and keywords, in order."""
        found: dict[str, list[tuple[int, str]]] = {}
        for index, code in enumerate(self.codes):
            if statement := statement_of(code):
                found.setdefault(statement.label, []).append((index, statement.keyword))
        return found

    def run(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        """Carry one statement out; raises Fault where its partner is missing."""
        return getattr(self, f"_{statement.keyword.lower()}")(statement, index, variable)  # type: ignore[no-any-return]

    def _after(self, statement: Statement, index: int, keywords: tuple[str, ...]) -> tuple[int, str]:
        for line, keyword in self._lines[statement.label]:
            if line > index and keyword in keywords:
                return line, keyword
        raise Fault(f"O{statement.label} {statement.keyword} has no {' or '.join(keywords)} of its own behind it")

    def _before(self, statement: Statement, index: int, keywords: tuple[str, ...]) -> int:
        for line, keyword in reversed(self._lines[statement.label]):
            if line < index and keyword in keywords:
                return line
        raise Fault(f"O{statement.label} {statement.keyword} has no {' or '.join(keywords)} of its own before it")

    def _condition(self, statement: Statement, variable: ReadVariable) -> float:
        scanner = Scanner(statement.rest, variable, self.control)
        value = scanner.bracketed()
        if not scanner.ended:
            raise Fault(f"“{scanner.text[scanner.at :][:12]}” stands behind {statement.keyword}")
        return value

    def _sub(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        return Go(to=self._after(statement, index, ("ENDSUB",))[0] + 1)

    def _endsub(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        return Go(leave=True)

    _return = _endsub

    def _call(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        begins = [line for line, keyword in self._lines[statement.label] if keyword == "SUB"]
        if not begins:
            raise Fault(f"subprogram O{statement.label} is not in this file; what it does is not known")
        scanner = Scanner(statement.rest, variable, self.control)
        arguments = []
        while not scanner.ended:
            arguments.append(scanner.bracketed())
        return Go(to=begins[0] + 1, call=True, arguments=tuple(arguments))

    def _if(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        self._after(statement, index, ("ENDIF",))
        self._taken.discard(statement.label)
        return self._branch(statement, index, variable)

    def _branch(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        if self._condition(statement, variable) != 0.0:
            self._taken.add(statement.label)
            return Go()
        return Go(to=self._after(statement, index, _BRANCHES)[0])

    def _elseif(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        if statement.label in self._taken:
            return Go(to=self._after(statement, index, ("ENDIF",))[0])
        return self._branch(statement, index, variable)

    def _else(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        if statement.label in self._taken:
            return Go(to=self._after(statement, index, ("ENDIF",))[0])
        return Go()

    def _endif(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        self._taken.discard(statement.label)
        return Go()

    def _while(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        """The head of a WHILE loop, or the foot of a DO loop."""
        holds = self._condition(statement, variable) != 0.0
        if any(keyword == "DO" for line, keyword in self._lines[statement.label] if line < index):
            return Go(to=self._before(statement, index, ("DO",)) + 1) if holds else Go()
        end, _ = self._after(statement, index, ("ENDWHILE",))
        return Go() if holds else Go(to=end + 1)

    def _endwhile(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        return Go(to=self._before(statement, index, ("WHILE",)))

    def _do(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        return Go()

    def _repeat(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        count = whole(self._condition(statement, variable), "the count of REPEAT")
        self._left[statement.label] = count
        return Go() if count > 0 else Go(to=self._after(statement, index, ("ENDREPEAT",))[0] + 1)

    def _endrepeat(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        begin = self._before(statement, index, ("REPEAT",))
        self._left[statement.label] = self._left.get(statement.label, 0) - 1
        return Go(to=begin + 1) if self._left[statement.label] > 0 else Go()

    def _break(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        return Go(to=self._after(statement, index, (*_LOOP_ENDS, "WHILE"))[0] + 1)

    def _continue(self, statement: Statement, index: int, variable: ReadVariable) -> Go:
        return Go(to=self._after(statement, index, (*_LOOP_ENDS, "WHILE"))[0])
