"""Characteristics offered from the model: the part's box, its holes, and what the file says is toleranced."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from shopflow.core.measure import Measure, parse
from shopflow.core.planning import HoleGroup, group_holes
from shopflow.core.quality.general_tolerances import edge_mm, linear_mm
from shopflow.core.solid import PmiItem, Reading
from shopflow.jobs.models import Job
from shopflow.jobs.queries.model import reading_of
from shopflow.shop import queries as shop

MICROMETRE = Decimal("0.001")
LEAST_NOTE = 2
"""Letters and digits of a note that says something."""
NOTE_LETTERS = 100
CLASS_OF_RULE = "fmcv"
"""Classes of ISO 2768-1 by the number that the house rule says."""


@dataclass(frozen=True)
class Offer:
    """One characteristic to take or leave. key: stays the same while the model does. source: where limits come from."""

    key: str
    name: str
    nominal: Measure | None
    lower: Measure | None
    upper: Measure | None
    source: str


def offers_of(job: Job) -> list[Offer]:
    """What the model offers and the job's list does not have yet under the same name."""
    reading = reading_of(job)
    if reading is None:
        return []
    taken = set(job.characteristics.values_list("name", flat=True))
    return [offer for offer in offers_in(reading, general_class()) if offer.name not in taken]


def general_class() -> str:
    """The class of ISO 2768-1 that the shop's house rule names."""
    number = int(shop.house_rules().value("general_tolerances"))
    return CLASS_OF_RULE[min(max(number, 1), len(CLASS_OF_RULE)) - 1]


def offers_in(reading: Reading, tolerance_class: str = "m") -> list[Offer]:
    """All that a model offers; sizes without limits of their own get those of ISO 2768-1 in this class."""
    file_offers = [_from_file(index, item) for index, item in enumerate(reading.pmi.items)]
    return [
        *(offer for offer in file_offers if offer),
        *(
            _general(f"box{axis}", _("overall %s") % axis, size, tolerance_class)
            for axis, size in zip("XYZ", reading.bbox_mm, strict=True)
        ),
        *(offer for group in group_holes(reading.holes) for offer in _of_holes(group, tolerance_class)),
        *_of_pockets(reading, tolerance_class),
        *_of_chamfers(reading, tolerance_class),
    ]


def _from_file(index: int, item: PmiItem) -> Offer | None:
    """An annotation of the file; its own limits where it has them. Datums are no characteristics, nor are notes of one
    letter or sign, which are flags that point at something; they stay in the list of annotations."""
    key, source, number = f"pmi{index}", _("the model's own annotation"), index + 1
    if item.kind == "note":
        if sum(letter.isalnum() for letter in item.text) < LEAST_NOTE:
            return None
        return Offer(key, _note_name(number, item.text), None, None, None, source)
    if item.value is None or item.kind == "datum":
        return None
    if item.kind == "finish":
        name = _("%(number)d finish %(name)s, from the file") % {"number": number, "name": item.name}
        return Offer(key, name, None, None, _mm(_finely(item.value)), source)
    if item.unit != "mm":
        return Offer(key, _angle_name(number, item), None, None, None, source)
    if item.kind == "tolerance":
        return Offer(key, _tolerance_name(number, item), None, None, _mm(_rounded(item.value)), source)
    nominal = _rounded(item.value)
    lower = nominal + _rounded(item.lower) if item.lower is not None else None
    upper = nominal + _rounded(item.upper) if item.upper is not None else None
    name = _("%(number)d %(name)s, from the file") % {"number": number, "name": item.name}
    return Offer(key, name, _mm(nominal), _maybe(lower), _maybe(upper), source)


def _tolerance_name(number: int, item: PmiItem) -> str:
    words = " ".join([*item.modifiers, *item.datums])
    return _("%(number)d %(name)s %(words)s, from the file") % {"number": number, "name": item.name, "words": words}


def _angle_name(number: int, item: PmiItem) -> str:
    """An angle has its limits in its name: limits are lengths."""
    ends = "" if item.lower is None or item.upper is None else f" {item.lower:+g}\u00b0 / {item.upper:+g}\u00b0"
    said = {"number": number, "value": f"{item.value:g}\u00b0{ends}"}
    return _("%(number)d angle %(value)s, from the file") % said


def _note_name(number: int, text: str) -> str:
    words = " ".join(text.split())
    short = words if len(words) <= NOTE_LETTERS else f"{words[: NOTE_LETTERS - 1]}\u2026"
    return _("%(number)d note: %(words)s") % {"number": number, "words": short}


def _finely(value_mm: float) -> Decimal:
    """A finish: hundredths of a micrometre."""
    return Decimal(str(value_mm)).quantize(Decimal("0.00001")).normalize()


def _of_holes(group: HoleGroup, tolerance_class: str) -> list[Offer]:
    hole, count = group.first, group.count
    sizes = [("hole", _("%d × hole ⌀"), hole.diameter_mm)]
    if not hole.through:
        sizes.append(("depth", _("%d × hole depth"), hole.depth_mm))
    if hole.counterbore_mm:
        sizes.append(("cbore", _("%d × counterbore ⌀"), hole.counterbore_mm))
    if hole.countersink_mm:
        sizes.append(("csink", _("%d × countersink ⌀"), hole.countersink_mm))
    key = f"{hole.diameter_mm:.3f}-{hole.depth_mm:.3f}"
    return [
        _general(f"{kind}-{key}", f"{words % count} {_rounded(size):f}", size, tolerance_class)
        for kind, words, size in sizes
    ]


def _of_pockets(reading: Reading, tolerance_class: str) -> list[Offer]:
    """The depth of each pocket and slot; equal ones together. A step's is a distance of faces, said elsewhere."""
    depths = Counter(_rounded(pocket.depth_mm) for pocket in reading.pockets if pocket.kind != "step")
    words = _("%(count)d × pocket depth %(depth)s")
    return [
        _general(f"pocket-{depth:f}", words % {"count": count, "depth": f"{depth:f}"}, float(depth), tolerance_class)
        for depth, count in depths.items()
    ]


def _of_chamfers(reading: Reading, tolerance_class: str) -> list[Offer]:
    """The height of each size of chamfer, with the general tolerance of edges."""
    counted = Counter(_rounded(chamfer.size_mm) for chamfer in reading.chamfers if not chamfer.is_round)
    words = _("%(count)d × chamfer %(size)s")
    found = []
    for size, count in counted.items():
        half = edge_mm(size, tolerance_class)
        lower, upper = (size - half, size + half) if half is not None else (None, None)
        source = f"ISO 2768-{tolerance_class}" if half is not None else _("no general tolerance for this size")
        name = words % {"count": count, "size": f"{size:f}"}
        found.append(Offer(f"chamfer-{size:f}", name, _mm(size), _maybe(lower), _maybe(upper), source))
    return found


def _general(key: str, name: str, size_mm: float, tolerance_class: str) -> Offer:
    """A size with the general tolerance of ISO 2768-1."""
    nominal = _rounded(size_mm)
    half = linear_mm(nominal, tolerance_class)
    lower, upper = (nominal - half, nominal + half) if half is not None else (None, None)
    source = f"ISO 2768-{tolerance_class}" if half is not None else _("no general tolerance for this size")
    return Offer(key, name, _mm(nominal), _maybe(lower), _maybe(upper), source)


def _rounded(value_mm: float) -> Decimal:
    return Decimal(str(value_mm)).quantize(MICROMETRE).normalize()


def _mm(value: Decimal) -> Measure:
    return parse(f"{value:f} mm", default_unit="mm")


def _maybe(value: Decimal | None) -> Measure | None:
    return None if value is None else _mm(value)
