"""How many pieces of a lot are measured, and which: every one, one in n, or a single sampling plan of MIL-STD-105E."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from random import Random

from shopflow.core.errors import CoreError
from shopflow.core.quality.milstd105e import (
    AQLS,
    CODE_LETTERS,
    LEVELS,
    NORMAL_SINGLE,
    REDUCED_SINGLE,
    TIGHTENED_SINGLE,
)


class Sampling(StrEnum):
    """LOT: one piece of the lot, whichever. EVERY: the first piece and every n-th after it. AQL: MIL-STD-105E."""

    LOT = "one"
    FIRST = "first"
    EVERY = "1 in"
    ALL = "all"
    AQL = "AQL"


class NotASampling(CoreError):
    """What was typed says no sampling; the sentence says what would."""


@dataclass(frozen=True)
class SamplingRule:
    """How one characteristic is sampled. n: of EVERY. aql, level: of AQL. Its text can be read again."""

    kind: Sampling = Sampling.LOT
    n: int = 0
    aql: str = ""
    level: str = "II"

    @property
    def counts_pieces(self) -> bool:
        """Whether an AQL is a share of pieces; one value a piece can be held against no other."""
        return self.kind is not Sampling.AQL or float(self.aql) <= HIGHEST_PERCENT

    def __str__(self) -> str:
        if self.kind is Sampling.EVERY:
            return f"1 in {self.n}"
        if self.kind is Sampling.AQL:
            return f"AQL {self.aql} level {self.level}"
        return "" if self.kind is Sampling.LOT else self.kind.value


HIGHEST_PERCENT = 10.0
"""MIL-STD-105E, 4.4: a higher AQL counts nonconformities in a hundred pieces, not pieces that miss a limit."""

_EVERY = re.compile(r"1\s*(?:in|/|of)\s*(\d{1,5})", re.IGNORECASE)
_AQL = re.compile(r"AQL\s*(\d+(?:[.,]\d+)?)(?:\s*,?\s*(?:level\s*)?(S[1-4]|I{1,3}))?", re.IGNORECASE)
_WORDS = {"": Sampling.LOT, "one": Sampling.LOT, "first": Sampling.FIRST, "all": Sampling.ALL, "every": Sampling.ALL}


def read_rule(text: str) -> SamplingRule:
    """Read "first", "all", "1 in 5", "AQL 1.0", "AQL 0.65 level I"; nothing is one piece of the lot.

    Raises NotASampling.
    """
    typed = text.strip()
    if typed.lower() in _WORDS:
        return SamplingRule(_WORDS[typed.lower()])
    if (every := _EVERY.fullmatch(typed)) and int(every[1]) > 0:
        return SamplingRule(Sampling.EVERY, n=int(every[1]))
    if aql := _AQL.fullmatch(typed):
        return SamplingRule(Sampling.AQL, aql=_aql_value(aql[1]), level=(aql[2] or "II").upper())
    raise NotASampling(f"\u201c{typed}\u201d says no sampling. Type first, all, 1 in 5, AQL 1.0 or AQL 1.0 level I.")


def _aql_value(text: str) -> str:
    """As the standard writes it: 1 is 1.0, 10.0 is 10."""
    wanted = float(text.replace(",", "."))
    found = next((aql for aql in AQLS if float(aql) == wanted), None)
    if found is None:
        raise NotASampling(f"MIL-STD-105E has no AQL {text}. It has {', '.join(AQLS)}.")
    return found


class Severity(StrEnum):
    """How strict a sample is taken (MIL-STD-105E 4.6). STOPPED: lots are no longer accepted by sample."""

    NORMAL = "normal"
    TIGHTENED = "tightened"
    REDUCED = "reduced"
    STOPPED = "discontinued"


@dataclass(frozen=True)
class Plan:
    """A single sampling plan. size: pieces of the sample. accept: nonconforming ones up to which the lot is accepted.

    between: numbers over that with which a reduced sample still lets the lot pass, and ends reduced inspection.
    """

    letter: str
    size: int
    accept: int
    between: int = 0
    severity: Severity = Severity.NORMAL

    @property
    def reject(self) -> int:
        """Nonconforming pieces from which the lot is not accepted."""
        return self.accept + 1 + self.between


def code_letter(lot: int, level: str = "II") -> str:
    """Table I. A lot of one has no letter there; it is taken as the smallest. Raises KeyError for an unknown level."""
    if level not in LEVELS:
        raise KeyError(f"MIL-STD-105E has the levels {', '.join(LEVELS)}, not {level!r}")
    row = next(letters for upto, letters in CODE_LETTERS if lot <= upto or not upto)
    return row[LEVELS.index(level)]


def single(lot: int, aql: str, level: str = "II", severity: Severity = Severity.NORMAL) -> Plan:
    """Tables II-A to II-C: follow the arrow to the first plan with a number, and measure the sample of that plan.

    A sample as large as the lot or larger is the whole lot (note of the tables). Raises KeyError for an unknown AQL.
    """
    if aql not in AQLS:
        raise KeyError(f"MIL-STD-105E has the AQL values {', '.join(AQLS)}, not {aql!r}")
    rows = {Severity.TIGHTENED: TIGHTENED_SINGLE, Severity.REDUCED: REDUCED_SINGLE}.get(severity, NORMAL_SINGLE)
    letter, size, cell = _looked_up(rows, code_letter(lot, level), AQLS.index(aql))
    accept, _slash, reject = cell.partition("/")
    between = int(reject) - int(accept) - 1 if reject else 0
    of_rows = Severity.NORMAL if severity is Severity.STOPPED else severity
    return Plan(letter, min(size, lot), int(accept), between, of_rows)


def _looked_up(rows: tuple[tuple[str, int, str], ...], letter: str, column: int) -> tuple[str, int, str]:
    row = next(n for n, plan in enumerate(rows) if plan[0] == letter)
    while (cell := rows[row][2].split()[column]) in "v^":
        row += 1 if cell == "v" else -1
    return rows[row][0], rows[row][1], cell


@dataclass(frozen=True)
class Asked:
    """What is measured of a lot. pieces: by number from 1; any_one: one piece of them suffices. plan: of AQL alone."""

    pieces: frozenset[int]
    any_one: bool = False
    plan: Plan | None = None


def asked_of(
    rule: SamplingRule, lot: int, *, seed: str = "", severity: Severity = Severity.NORMAL, plan: Plan | None = None
) -> Asked:
    """Which pieces of a lot of this size are measured. seed: makes the draw of AQL the same each time.

    severity: of AQL alone; where sampling is discontinued, every piece is measured. plan: one that was looked up
    before, in place of today's. The pieces of AQL are drawn at random, as the standard asks; for a smaller lot the draw
    keeps what it can.
    """
    every = range(1, lot + 1)
    if rule.kind is Sampling.LOT:
        return Asked(frozenset(every), any_one=True)
    if rule.kind is Sampling.FIRST:
        return Asked(frozenset(every[:1]))
    if rule.kind is Sampling.EVERY:
        return Asked(frozenset(every[:: max(1, rule.n)]))
    is_stopped = rule.kind is Sampling.AQL and severity is Severity.STOPPED
    if rule.kind is Sampling.ALL or lot < 1 or is_stopped:
        return Asked(frozenset(every))
    plan = plan or single(lot, rule.aql, rule.level, severity)
    places = {piece: Random(f"{seed}/{piece}").random() for piece in every}  # noqa: S311 - a draw, not a secret
    return Asked(frozenset(sorted(every, key=places.__getitem__)[: plan.size]), plan=plan)
