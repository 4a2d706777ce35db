"""Dimensions, tolerances and datums that the file carries as data, offered as characteristics tied to faces."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeMap
from OCP.collections import Sequence_TDF_Label
from OCP.TDF import TDF_AttributeIterator
from OCP.TopAbs import TopAbs_FACE
from OCP.XCAFDoc import (
    XCAFDoc_Datum,
    XCAFDoc_Dimension,
    XCAFDoc_DimTolTool,
    XCAFDoc_DocumentTool,
    XCAFDoc_GeomTolerance,
    XCAFDoc_ShapeTool,
)

from shopflow.core.solid.occ.load import children
from shopflow.core.solid.text import clean
from shopflow.core.solid.values import Pmi, PmiItem

DRAWN_ONLY = "drawn only"
"""A dimension that the file shows as lines and text and not as data: it has to be read from the print."""

_ZONES = {"Diameter": "diameter zone", "SphericalDiameter": "spherical zone"}
_MATERIAL = {"M": "maximum material", "L": "least material"}
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")


def read(document: Any, solids: list[Any], *, signed_limits: bool, notes: Iterable[PmiItem] = ()) -> Pmi:
    """Annotations of a document; faces are numbered through these solids. notes: those read from the file's text.

    signed_limits: whether every plus-minus tolerance of the file spans its nominal; the library drops the sign of the
    lower limit, so that others cannot be told apart and are given without limits. Datum letters are the different
    ones, as each use of a datum has its own entry.
    """
    tool = XCAFDoc_DocumentTool.DimTolTool_s(document.Main())
    faces = _face_numbers(solids)
    dimensions, tolerances = _labels(tool.GetDimensionLabels), _labels(tool.GetGeomToleranceLabels)
    letters = {_letter(label) for label in _labels(tool.GetDatumLabels)} - {""}
    items = [_dimension(label, faces, signed_limits) for label in dimensions]
    items += [_tolerance(label, faces) for label in tolerances]
    items += _datums(_labels(tool.GetDatumLabels), faces)
    items += notes
    return Pmi(len(dimensions), len(tolerances), tuple(sorted(letters)), tuple(item for item in items if item))


def _labels(fill: Any) -> list[Any]:
    """Labels that one of the tool's methods puts into a sequence."""
    found = Sequence_TDF_Label()
    fill(found)
    return _each(found)


def _each(sequence: Any) -> list[Any]:
    return [sequence.Value(number) for number in range(1, sequence.Length() + 1)]


def _attribute(label: Any, kind: type) -> Any:
    """The attribute of one kind on a label, or None. Asked for by its number it comes as a copy without a label."""
    attributes = TDF_AttributeIterator(label)
    while attributes.More():
        if isinstance(attributes.Value(), kind):
            return attributes.Value()
        attributes.Next()
    return None


def _letter(label: Any) -> str:
    datum = _attribute(label, XCAFDoc_Datum)
    name = datum.GetObject().GetName() if datum else None
    return clean(name.ToCString(), 8) if name else ""


def _face_numbers(solids: list[Any]) -> Any:
    faces = ShapeMap()
    for solid in solids:
        for face in children(solid, TopAbs_FACE):
            faces.Add(face)
    return faces


def _faces(label: Any, numbers: Any) -> tuple[int, ...]:
    """Numbers of the faces that an annotation belongs to."""
    first, second = Sequence_TDF_Label(), Sequence_TDF_Label()
    XCAFDoc_DimTolTool.GetRefShapeLabel_s(label, first, second)
    shapes = (XCAFDoc_ShapeTool.GetShape_s(place) for place in (*_each(first), *_each(second)))
    places = (
        numbers.FindIndex(face) for shape in shapes if not shape.IsNull() for face in children(shape, TopAbs_FACE)
    )
    return tuple(sorted({place - 1 for place in places if place}))


def _bare(value: Any) -> str:
    """The name of a value without the names of the library's package and list before it."""
    return str(value.name).split("_", 2)[2]


def _words(value: Any, *prefixes: str) -> str:
    """A value of one of the library's lists as words: Size_CurveLength becomes "curve length"."""
    name = _bare(value)
    for prefix in prefixes:
        name = name.removeprefix(prefix)
    return _CAMEL.sub(" ", name.replace("_", " ")).lower().removesuffix(" or roundness") or "none"


def _modifiers(found: Iterable[Any]) -> tuple[str, ...]:
    return tuple(_words(modifier) for modifier in found)


def _dimension(label: Any, faces: Any, signed_limits: bool) -> PmiItem | None:
    attribute = _attribute(label, XCAFDoc_Dimension)
    if attribute is None:
        return None
    said = attribute.GetObject()
    name = _words(said.GetType(), "Size_", "Location_")
    if name == "dimension presentation" or said.GetValues() is None:
        return PmiItem("dimension", DRAWN_ONLY, faces=_faces(label, faces))
    lower, upper = _limits(said, signed_limits)
    return PmiItem(
        kind="dimension",
        name="location" if name == "none" else name,
        value=said.GetValue(),
        lower=lower,
        upper=upper,
        unit="deg" if "angular" in name else "mm",
        modifiers=_modifiers(_each(said.GetModifiers())),
        faces=_faces(label, faces),
    )


def _limits(said: Any, signed: bool) -> tuple[float | None, float | None]:
    """Deviations from the nominal, lower and upper; None where the file gives none."""
    if said.IsDimWithRange():
        return said.GetLowerBound() - said.GetValue(), said.GetUpperBound() - said.GetValue()
    if said.IsDimWithPlusMinusTolerance() and signed:
        return -abs(said.GetLowerTolValue()), said.GetUpperTolValue()
    return None, None


def _tolerance(label: Any, faces: Any) -> PmiItem | None:
    attribute = _attribute(label, XCAFDoc_GeomTolerance)
    if attribute is None:
        return None
    said = attribute.GetObject()
    zone = _ZONES.get(_bare(said.GetTypeOfValue()))
    material = _MATERIAL.get(_bare(said.GetMaterialRequirementModifier()))
    return PmiItem(
        kind="tolerance",
        name=_words(said.GetType()),
        value=said.GetValue(),
        datums=_frame(label),
        modifiers=tuple(word for word in (zone, material) if word) + _modifiers(_each(said.GetModifiers())),
        faces=_faces(label, faces),
    )


def _frame(label: Any) -> tuple[str, ...]:
    """Datum letters of a tolerance in their order; those of one place, a common datum, joined by a hyphen."""
    found = Sequence_TDF_Label()
    XCAFDoc_DimTolTool.GetDatumWithObjectOfTolerLabels_s(label, found)
    places: dict[int, list[str]] = {}
    for place in _each(found):
        attribute = _attribute(place, XCAFDoc_Datum)
        if attribute:
            places.setdefault(attribute.GetObject().GetPosition(), []).append(_letter(place))
    return tuple("-".join(places[position]) for position in sorted(places))


def _datums(labels: list[Any], faces: Any) -> list[PmiItem]:
    """One item for each letter, with the faces of all its uses."""
    by_letter: dict[str, set[int]] = {}
    for label in labels:
        by_letter.setdefault(_letter(label), set()).update(_faces(label, faces))
    return [
        PmiItem("datum", "datum feature", datums=(letter,), faces=tuple(sorted(found)))
        for letter, found in sorted(by_letter.items())
        if letter
    ]
