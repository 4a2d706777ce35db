"""Reasons to pick from when findings are decided: of this shop first, then what is usual; each with what it fits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.review.catalogue import CATALOGUE
from shopflow.programs.models import Decision, ProgramRevision

MOST_LOOKED_AT = 300
MOST = 24

FAMILY = {entry.code: entry.family for entry in CATALOGUE}
"""Of each rule by its code. What the reader did not read has codes of its own and is of the family Reading."""

ACCEPT, MEND, SEND_BACK = (verdict.value for verdict in Decision.Verdict)

USUAL: dict[str, tuple[str | Promise, ...]] = {
    "Reading": (gettext_lazy("read by hand: the control does here what is meant"),),
    "Start and end": (gettext_lazy("so on purpose; the setup sheet says it"),),
    "Tools and offsets": (
        gettext_lazy("set so on purpose; the setup sheet names the offset"),
        gettext_lazy("the crib lags behind: the tool is as the program has it"),
    ),
    "Spindle and feed": (
        gettext_lazy("proved on this machine with this tool and material"),
        gettext_lazy("turned down at the control for the first piece"),
    ),
    "Stops": (gettext_lazy("the message stands on the setup sheet"),),
    "Coolant": (
        gettext_lazy("runs dry on purpose: air clears the chips"),
        gettext_lazy("coolant is switched on at the machine; the setup sheet says it"),
    ),
    "Travel": (gettext_lazy("the other offset stays empty in this lot"),),
    "Drilling and tapping": (
        gettext_lazy("short chips in this material, run so before"),
        gettext_lazy("what lies below stands clear, measured in the setup"),
    ),
    "Order of work": (gettext_lazy("in this order on purpose: the stock left is even all round"),),
    "Contact and clearance": (gettext_lazy("over a machined face, to be proved block by block"),),
    "Cutting load": (gettext_lazy("run so before on this machine without chatter"),),
    "What was cut": (
        gettext_lazy("a later operation takes it"),
        gettext_lazy("removed by hand; the edge sheet says it"),
        gettext_lazy("within the drawing's tolerance here"),
    ),
    "Program against plan": (gettext_lazy("the plan follows: the program is right"),),
}
"""By family, for accepting (common practice, no source). None is true by itself: whoever picks one says that it is."""

USUAL_OTHERWISE: dict[str, tuple[str | Promise, ...]] = {
    MEND: (gettext_lazy("mended in the next revision"), gettext_lazy("generated anew with other settings")),
    SEND_BACK: (gettext_lazy("to be asked of who made it"), gettext_lazy("the approach is to be another one")),
}


@dataclass(frozen=True)
class Reason:
    """codes: of the rules that it fits. verdict: for which it was given. origin: "part", "shop" or "usual"."""

    text: str
    codes: frozenset[str]
    verdict: str
    origin: str

    @property
    def fits(self) -> str:
        return " ".join(sorted(self.codes))

    @property
    def says_where_from(self) -> str:
        words = {"part": _("given for this part"), "shop": _("given in this shop"), "usual": _("usual")}
        return words[self.origin]


def reasons_for(revision: ProgramRevision, codes: Iterable[str]) -> list[Reason]:
    """Reasons for findings of these rules, the likelier one first: of this part, of the shop, usual ones.

    A remembered one fits the rules of the family for which it was given.
    """
    wanted = set(codes)
    known: dict[tuple[str, str], Reason] = {}
    for reason in (*_remembered(revision, wanted), *_usual(wanted)):
        key = (reason.text.casefold(), reason.verdict)
        known.setdefault(key, reason)
    return list(known.values())[:MOST]


def _remembered(revision: ProgramRevision, wanted: set[str]) -> list[Reason]:
    families = {FAMILY.get(code, "Reading") for code in wanted}
    asked = {code for code, family in FAMILY.items() if family in families} | wanted
    given = Decision.objects.filter(code__in=asked, carried_from=None).order_by("-pk")
    rows = given.values_list("reason", "code", "verdict", "revision__program__job__revision__part")[:MOST_LOOKED_AT]
    part = revision.program.job.revision.part_id
    found = [
        (code not in wanted, of_part != part, Reason(text, _of_family(code, wanted), verdict, _origin(of_part, part)))
        for text, code, verdict, of_part in rows
    ]
    return [reason for _other_rule, _other_part, reason in sorted(found, key=lambda one: one[:2])]


def _origin(of_part: int, part: int) -> str:
    return "part" if of_part == part else "shop"


def _usual(wanted: set[str]) -> Iterator[Reason]:
    for family, texts in USUAL.items():
        codes = frozenset(code for code in wanted if FAMILY.get(code, "Reading") == family)
        for text in texts if codes else ():
            yield Reason(str(text), codes, ACCEPT, "usual")
    for verdict, texts in USUAL_OTHERWISE.items():
        for text in texts:
            yield Reason(str(text), frozenset(wanted), verdict, "usual")


def _of_family(code: str, wanted: set[str]) -> frozenset[str]:
    family = FAMILY.get(code, "Reading")
    return frozenset(one for one in wanted if FAMILY.get(one, "Reading") == family)
