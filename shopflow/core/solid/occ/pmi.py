"""Counts dimensions, tolerances and datums that the file carries as data, not as drawn text."""

from __future__ import annotations

from typing import Any

from OCP.collections import Sequence_TDF_Label
from OCP.TDF import TDF_AttributeIterator
from OCP.XCAFDoc import XCAFDoc_Datum, XCAFDoc_DocumentTool

from shopflow.core.solid.reading import Pmi
from shopflow.core.solid.text import clean


def read(document: Any) -> Pmi:
    """Annotations of a document; datum letters are the different ones, as each use of a datum has its own entry."""
    tool = XCAFDoc_DocumentTool.DimTolTool_s(document.Main())
    dimensions = labels(tool.GetDimensionLabels)
    tolerances = labels(tool.GetGeomToleranceLabels)
    letters = {_letter(label) for label in labels(tool.GetDatumLabels)} - {""}
    return Pmi(len(dimensions), len(tolerances), tuple(sorted(letters)))


def labels(fill: Any) -> list[Any]:
    """Labels that one of the tool's methods puts into a sequence."""
    found = Sequence_TDF_Label()
    fill(found)
    return [found.Value(number) for number in range(1, found.Length() + 1)]


def attribute_of(label: Any, kind: type) -> Any:
    """The attribute of one kind on a label, or None. Asked for by its number it comes as a copy without a label."""
    attributes = TDF_AttributeIterator(label)
    while attributes.More():
        if isinstance(attributes.Value(), kind):
            return attributes.Value()
        attributes.Next()
    return None


def _letter(label: Any) -> str:
    datum = attribute_of(label, XCAFDoc_Datum)
    name = datum.GetObject().GetName() if datum else None
    return clean(name.ToCString(), 8) if name else ""
