"""Characteristics offered from the model: the part's box, its holes, and what the file says is toleranced."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from math import radians, sin

from django.utils.translation import gettext as _

from shopflow.core.measure import Measure, parse, parse_quantity
from shopflow.core.planning import HoleGroup, group_holes
from shopflow.core.planning.directions import name_of
from shopflow.core.quality.general_tolerances import angle_arcmin, edge_mm, form_mm, linear_mm
from shopflow.core.quality.kinds import Kind, kind_named
from shopflow.core.solid import PmiItem, Reading
from shopflow.jobs.models import Job
from shopflow.jobs.queries.model import reading_of
from shopflow.shop import queries as shop

MICROMETRE = Decimal("0.001")
HOLE = "hole"
"""What keys of holes' diameters begin with."""
NEAR_MM = 0.01
"""Sizes nearer than this are the same one, of the shape and of an annotation."""
LEAST_NOTE = 2
"""Letters and digits of a note that says something."""
NOTE_LETTERS = 100
FORM_CLASSES = "HKL"
LARGE_FACE = 0.5
"""Of the part's box on that side: a face over this share is offered its general flatness."""
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
    kind: str = ""


def offers_of(job: Job) -> list[Offer]:
    """What the model offers and the job's list does not have yet under the same name."""
    reading = reading_of(job)
    if reading is None:
        return []
    taken = set(job.characteristics.values_list("name", flat=True))
    return [offer for offer in offers_in(reading, general_class(), form_class()) if offer.name not in taken]


def general_class() -> str:
    """The class of ISO 2768-1 that the shop's house rule names."""
    number = int(shop.house_rules().value("general_tolerances"))
    return CLASS_OF_RULE[min(max(number, 1), len(CLASS_OF_RULE)) - 1]


def offers_in(reading: Reading, tolerance_class: str = "m", of_form: str = "K") -> list[Offer]:
    """All that a model offers; sizes without limits of their own get those of ISO 2768-1 in this class."""
    file_offers = [_from_file(index, item) for index, item in enumerate(reading.pmi.items)]
    return [
        *(offer for offer in file_offers if offer),
        *(
            _general(f"box{axis}", _("overall %s") % axis, size, tolerance_class)
            for axis, size in zip("XYZ", reading.bbox_mm, strict=True)
        ),
        *(
            offer
            for group in group_holes(reading.holes)
            for offer in _of_holes(group, tolerance_class)
            if not (offer.key.startswith(HOLE) and _says_its_size(reading, group))
        ),
        *_of_pockets(reading, tolerance_class),
        *_of_chamfers(reading, tolerance_class),
        *_of_planes(reading, of_form),
    ]


def _from_file(index: int, item: PmiItem) -> Offer | None:
    """An annotation of the file; its own limits where it has them. Datums are no characteristics, nor are notes of one
    letter or sign, which are flags that point at something; they stay in the list of annotations."""
    key, source, number = f"pmi{index}", _("the model's own annotation"), index + 1
    if item.kind == "note":
        if sum(letter.isalnum() for letter in item.text) < LEAST_NOTE:
            return None
        return Offer(key, _note_name(number, item.text), None, None, None, source, Kind.ATTRIBUTE.value)
    if item.value is None or item.kind == "datum":
        return None
    if item.kind == "finish":
        name = _("%(number)d finish %(name)s, from the file") % {"number": number, "name": item.name}
        return Offer(key, name, None, None, _micrometres(item.value), source, Kind.FINISH.value)
    if item.unit != "mm":
        return _angle(key, number, item, source)
    if item.kind == "tolerance":
        kind = kind_named(item.name).value
        return Offer(key, _tolerance_name(number, item), None, None, _mm(_rounded(item.value)), source, kind)
    nominal = _rounded(item.value)
    lower = nominal + _rounded(item.lower) if item.lower is not None else None
    upper = nominal + _rounded(item.upper) if item.upper is not None else None
    name = _("%(number)d %(name)s, from the file") % {"number": number, "name": item.name}
    return Offer(key, name, _mm(nominal), _maybe(lower), _maybe(upper), source)


def _says_its_size(reading: Reading, group: HoleGroup) -> bool:
    """Whether the file has a toleranced diameter for each of the holes: a general tolerance is for what says none."""
    faces = {face for item in reading.pmi.items if _is_diameter(item, group.first.diameter_mm) for face in item.faces}
    return all(faces.intersection(hole.faces) for hole in group.holes)


def _is_diameter(item: PmiItem, diameter_mm: float) -> bool:
    is_near = item.value is not None and abs(item.value - diameter_mm) < NEAR_MM
    return item.kind == "dimension" and item.unit == "mm" and is_near and None not in (item.lower, item.upper)


def _tolerance_name(number: int, item: PmiItem) -> str:
    words = " ".join([item.name, *item.modifiers, *item.datums])
    return _("%(number)d %(words)s, from the file") % {"number": number, "words": words}


def _angle(key: str, number: int, item: PmiItem, source: str) -> Offer:
    nominal = _rounded(item.value or 0.0)
    ends = [nominal + _rounded(end) if end is not None else None for end in (item.lower, item.upper)]
    lower, upper = (None if end is None else _degrees(end) for end in ends)
    name = _("%(number)d angle %(value)s\u00b0, from the file") % {"number": number, "value": f"{nominal:f}"}
    return Offer(key, name, _degrees(nominal), lower, upper, source, Kind.ANGLE.value)


def _note_name(number: int, text: str) -> str:
    words = " ".join(text.split())
    short = words if len(words) <= NOTE_LETTERS else f"{words[: NOTE_LETTERS - 1]}\u2026"
    return _("%(number)d note: %(words)s") % {"number": number, "words": short}


def _micrometres(value_mm: float) -> Measure:
    """A finish, to a hundredth of a micrometre."""
    value = (Decimal(str(value_mm)) * 1000).quantize(Decimal("0.01")).normalize()
    return parse_quantity(f"{value:f} \u00b5m", default_unit="\u00b5m")


def _degrees(value: Decimal) -> Measure:
    return parse_quantity(f"{value.normalize():f}\u00b0", default_unit="\u00b0")


def _of_holes(group: HoleGroup, tolerance_class: str) -> list[Offer]:
    hole, count = group.first, group.count
    sizes = [(HOLE, _("%d × hole ⌀"), hole.diameter_mm)]
    if not hole.through:
        sizes.append(("depth", _("%d × hole depth"), hole.depth_mm))
    if hole.counterbore_mm:
        sizes.append(("cbore", _("%d × counterbore ⌀"), hole.counterbore_mm))
    if hole.countersink_mm:
        sizes.append(("csink", _("%d × countersink ⌀"), hole.countersink_mm))
    key = f"{hole.diameter_mm:.3f}-{hole.depth_mm:.3f}"
    found = [
        _general(f"{kind}-{key}", f"{words % count} {_rounded(size):f}", size, tolerance_class)
        for kind, words, size in sizes
    ]
    return [*found, *_sink_angle(group, f"sink-angle-{key}", tolerance_class), *_thread(group, f"thread-{key}")]


def _thread(group: HoleGroup, key: str) -> list[Offer]:
    """What the hole's size may be the tap drill of: an attribute, by its go and no-go gauge."""
    if not group.first.thread_guess:
        return []
    name = _("%(count)d × thread %(thread)s") % {"count": group.count, "thread": group.first.thread_guess}
    return [Offer(key, name, None, None, None, _("guessed from the hole: ask the drawing"), Kind.ATTRIBUTE.value)]


def _sink_angle(group: HoleGroup, key: str, tolerance_class: str) -> list[Offer]:
    """The angle of a countersink; the shorter side of the angle is the length of its flank."""
    hole = group.first
    if not hole.countersink_mm or not hole.countersink_angle_deg:
        return []
    flank_mm = (hole.countersink_mm - hole.diameter_mm) / 2 / sin(radians(hole.countersink_angle_deg / 2))
    minutes = angle_arcmin(_rounded(flank_mm), tolerance_class)
    if minutes is None:
        return []
    nominal, half = _rounded(hole.countersink_angle_deg), (minutes / 60).quantize(MICROMETRE)
    name = _("%(count)d × countersink angle %(angle)s\u00b0") % {"count": group.count, "angle": f"{nominal:f}"}
    ends = (_degrees(nominal - half), _degrees(nominal + half))
    return [Offer(key, name, _degrees(nominal), *ends, f"ISO 2768-{tolerance_class}", Kind.ANGLE.value)]


def _of_planes(reading: Reading, form_class: str) -> list[Offer]:
    """Flatness of the large faces, general by ISO 2768-2; the longer side is that of the part's box there."""
    found = []
    for group in reading.planes:
        side = name_of(group.direction)
        sizes = [size for axis, size in zip("XYZ", reading.bbox_mm, strict=True) if side and axis != side[-1]]
        if len(sizes) != 2 or group.area_mm2 < LARGE_FACE * sizes[0] * sizes[1]:
            continue
        tolerance = form_mm(Kind.FLATNESS, _rounded(max(sizes)), form_class)
        if tolerance is not None:
            name, source = _("flatness of the faces that look to %s") % side, f"ISO 2768-2 {form_class}"
            found.append(Offer(f"flat{side}", name, None, None, _mm(tolerance), source, Kind.FLATNESS.value))
    return found


def form_class() -> str:
    """The class of ISO 2768-2 that the shop's house rule names."""
    number = int(shop.house_rules().value("general_form"))
    return FORM_CLASSES[min(max(number, 1), len(FORM_CLASSES)) - 1]


def general_form(kind: str, length: Measure | None) -> tuple[Measure, str] | None:
    """The general tolerance of a kind of form or place by a length, with its source; None where there is none."""
    of_class = form_class()
    tolerance = form_mm(kind, length.in_unit("mm") if length else None, of_class)
    return None if tolerance is None else (_mm(tolerance), f"ISO 2768-2 {of_class}")


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
