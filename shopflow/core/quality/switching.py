"""When inspection by sample grows stricter or easier from lot to lot: the switching rules of MIL-STD-105E, 4.7.

Normal to tightened and back, and the end of sampling, read in a manual on the web; reduced inspection from memory. Not
kept: the limit numbers of table VIII, which the total of nonconforming pieces of the last ten samples must keep to
before inspection is reduced. So it is never reduced without a person, who looks them up and answers for steady
production as the standard asks; until then only the count of lots says that it may be.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from shopflow.core.quality.sampling import Severity

WINDOW, REJECTED_OF_WINDOW = 5, 2
"""4.7.1: so many of so many consecutive lots, or of fewer, not accepted."""
TO_NORMAL = 5
"""4.7.2: so many consecutive lots accepted on tightened inspection."""
TO_STOP = 5
"""4.7.5: so many lots not accepted in all since tightened inspection began."""
TO_REDUCED = 10
"""4.7.3: so many preceding lots accepted on normal inspection."""


@dataclass(frozen=True)
class LotResult:
    """A lot at its first inspection. measured, missed: pieces of the sample, and those outside the limits.

    accepted_between: by a reduced sample with more missed than it accepts and fewer than it refuses.
    """

    lot: str
    is_accepted: bool
    measured: int = 0
    missed: int = 0
    accepted_between: bool = False


@dataclass(frozen=True)
class Said:
    """A person set how strict it is; the count of lots begins anew."""

    severity: Severity
    reason: str = ""


@dataclass(frozen=True)
class Standing:
    """How strict the next lot is inspected. why: in words. since: lots since it began, oldest first.

    may_be_reduced: the lots allow it; the rest is for a person.
    """

    severity: Severity = Severity.NORMAL
    why: str = "inspection begins as normal"
    since: tuple[LotResult, ...] = field(default=())

    @property
    def may_be_reduced(self) -> bool:
        last = self.since[-TO_REDUCED:]
        enough = len(last) == TO_REDUCED and all(one.is_accepted for one in last)
        return self.severity is Severity.NORMAL and enough

    @property
    def last_ten(self) -> tuple[int, int]:
        """Pieces measured and pieces that missed, in the last ten samples: what table VIII is entered with."""
        last = self.since[-TO_REDUCED:]
        return sum(one.measured for one in last), sum(one.missed for one in last)


def standing(events: Iterable[LotResult | Said]) -> Standing:
    """From all lots of one part and characteristic in order, with what people said between them."""
    now = Standing()
    for event in events:
        now = Standing(event.severity, _said(event)) if isinstance(event, Said) else _after(now, event)
    return now


def _said(event: Said) -> str:
    return f"set by a person: {event.reason}" if event.reason else "set by a person"


def _after(now: Standing, lot: LotResult) -> Standing:
    since = (*now.since, lot)
    if now.severity is Severity.NORMAL:
        turned = _from_normal(since)
    elif now.severity is Severity.TIGHTENED:
        turned = _from_tightened(since)
    elif now.severity is Severity.REDUCED:
        turned = _from_reduced(lot)
    else:
        turned = None
    return turned or Standing(now.severity, now.why, since)


def _from_normal(since: tuple[LotResult, ...]) -> Standing | None:
    last = since[-WINDOW:]
    rejected = [one.lot for one in last if not one.is_accepted]
    if len(rejected) < REJECTED_OF_WINDOW:
        return None
    return Standing(
        Severity.TIGHTENED, f"{len(rejected)} of {len(last)} consecutive lots not accepted: {', '.join(rejected)}"
    )


def _from_tightened(since: tuple[LotResult, ...]) -> Standing | None:
    rejected = [one.lot for one in since if not one.is_accepted]
    if len(rejected) >= TO_STOP:
        return Standing(
            Severity.STOPPED, f"{len(rejected)} lots not accepted on tightened inspection: {', '.join(rejected)}"
        )
    last = since[-TO_NORMAL:]
    if len(last) == TO_NORMAL and all(one.is_accepted for one in last):
        return Standing(Severity.NORMAL, f"{TO_NORMAL} consecutive lots accepted on tightened inspection")
    return None


def _from_reduced(lot: LotResult) -> Standing | None:
    if not lot.is_accepted:
        return Standing(Severity.NORMAL, f"lot {lot.lot} not accepted on reduced inspection")
    if lot.accepted_between:
        return Standing(Severity.NORMAL, f"lot {lot.lot} accepted with more than the reduced sample allows")
    return None
