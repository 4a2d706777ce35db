"""A block's words sorted into G and M codes by modal group, and letters with their values [3.3.5, 3.4, Table 4]."""

from __future__ import annotations

from dataclasses import dataclass, field

from shopflow.core.nc.blocks import Block, Word
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.types import ControlProfile

REPORT_G: dict[str, tuple[int, ...]] = {
    "motion": (0, 10, 20, 30, 382, 800, 810, 820, 830, 840, 850, 860, 870, 880, 890),
    "plane": (170, 180, 190),
    "distance": (900, 910),
    "feed mode": (930, 940),
    "units": (200, 210),
    "compensation": (400, 410, 420),
    "length": (430, 490),
    "cycle return": (980, 990),
    "work offset": (540, 550, 560, 570, 580, 590, 591, 592, 593),
    "path": (610, 611, 640),
    "once": (40, 100, 280, 300, 530, 920, 921, 922, 923),
}
"""G codes of the report times ten, by modal group [Table 4]."""

EXTENSION_G: dict[str, tuple[int, ...]] = {
    "motion": (730, 740, 760, 842, 843),
    "feed mode": (950,),
    "length": (431,),
    "work offset": (541,),
    "arc centres": (901, 911),
    "once": (520,),
    "rotation": (680, 690),
    "scaling": (500, 510),
    "mirror": (501, 511),
    "modal call": (660, 670),
}
"""G codes beyond the report that profiles may have (common practice, no source)."""

REPORT_M: dict[str, tuple[int, ...]] = {
    "stop": (0, 1, 2, 30, 60),
    "tool change": (6,),
    "spindle": (3, 4, 5),
    "coolant": (7, 8, 9),
    "override": (48, 49),
}

EXTENSION_M: dict[str, tuple[int, ...]] = {
    "flow": (97, 98, 99),
    "tapping": (29,),
}

_G_GROUP = {code: group for table in (REPORT_G, EXTENSION_G) for group, codes in table.items() for code in codes}
_M_GROUP = {code: group for table in (REPORT_M, EXTENSION_M) for group, codes in table.items() for code in codes}
_REPORT_G = frozenset(code for codes in REPORT_G.values() for code in codes)
_REPORT_M = frozenset(code for codes in REPORT_M.values() for code in codes)
_FLOW_ALLOWED = {97: "local_calls", 98: "subprogram_calls", 99: "subprogram_calls"}

AXIS_USERS = frozenset((100, 280, 300, 520, 920))
"""Codes of the group that acts once which take the axis words of their block for themselves."""


def name(code: int, letter: str = "G") -> str:
    """G and M codes as people write them: 591 is G59.1."""
    if letter == "M":
        return f"M{code:02d}"
    return f"G{code // 10}" if code % 10 == 0 else f"G{code / 10:.1f}"


@dataclass(slots=True)
class Codes:
    """What a block says. g, m: one code a group (coolant may have two). values: the other letters.

    switched: Coolant bits of the profile's own coolant codes. A step that has used a letter takes it out of `values`;
    what is left at the end was not read.
    """

    g: dict[str, int] = field(default_factory=dict)
    m: dict[str, int] = field(default_factory=dict)
    coolant: list[int] = field(default_factory=list)
    switched: list[int] = field(default_factory=list)
    harmless: list[str] = field(default_factory=list)
    stops: list[str] = field(default_factory=list)
    values: dict[str, Word] = field(default_factory=dict)
    comment: str = ""

    def has_axes(self) -> bool:
        return not self.values.keys().isdisjoint("XYZ")

    def take(self, letter: str) -> Word | None:
        return self.values.pop(letter, None)


def sort_words(block: Block, control: ControlProfile) -> Codes:
    """Sort a block's words; raises Fault for an unknown code, two of one group or a letter given twice."""
    codes = Codes(comment=block.comment)
    for word in block.words:
        if word.letter == "G":
            _add_g(codes, word, control)
        elif word.letter == "M":
            _add_m(codes, word, control)
        elif word.letter in codes.values:
            raise Fault(f"the block holds two {word.letter} words")
        else:
            codes.values[word.letter] = word
    return codes


def _add_g(codes: Codes, word: Word, control: ControlProfile) -> None:
    title = _meant(name(whole(word.value * 10, "ten times a G code")), control)
    code = round(float(title[1:]) * 10)
    if title in control.harmless_codes:
        codes.harmless.append(title)
        return
    group = _G_GROUP.get(code)
    if group is None or not (code in _REPORT_G or title in control.extra_codes):
        raise Fault(f"{title} is not a code of this control ({control.title})")
    if group in codes.g:
        raise Fault(f"{name(codes.g[group])} and {title} are of one modal group ({group}): one of them only")
    codes.g[group] = code


def _add_m(codes: Codes, word: Word, control: ControlProfile) -> None:
    title = _meant(name(whole(word.value, "an M code"), "M"), control)
    code = int(title[1:])
    switched = dict(control.coolant_codes).get(title)
    if switched is not None:
        codes.switched.append(switched)
    elif title in control.harmless_codes:
        codes.harmless.append(title)
    elif title in control.stop_codes:
        codes.stops.append(title)
    elif code in (7, 8, 9):
        _add_coolant(codes, code)
    else:
        group = _M_GROUP.get(code)
        if group is None or not _has_m(code, title, control):
            raise Fault(f"{title} is not a code of this control ({control.title})")
        if group in codes.m:
            raise Fault(f"{name(codes.m[group], 'M')} and {title} are of one modal group ({group}): one of them only")
        codes.m[group] = code


def _meant(title: str, control: ControlProfile) -> str:
    """The code that this one stands for on this control."""
    return dict(control.aliases).get(title, title)


def _has_m(code: int, title: str, control: ControlProfile) -> bool:
    if code in _FLOW_ALLOWED:
        return bool(getattr(control, _FLOW_ALLOWED[code]))
    return code in _REPORT_M or title in control.extra_codes


def _add_coolant(codes: Codes, code: int) -> None:
    """M7 and M8 may stand together, M9 only alone [Table 4]."""
    if codes.coolant and (code == 9 or 9 in codes.coolant or code in codes.coolant):
        raise Fault(f"M{codes.coolant[0]} and M{code} exclude each other")
    codes.coolant.append(code)
