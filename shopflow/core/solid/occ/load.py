"""Reads a STEP file into solids, with or without the annotations and names that come through its document."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.collections import Sequence_TDF_Label
from OCP.IFSelect import IFSelect_RetDone
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.STEPControl import STEPControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_FACE, TopAbs_SHELL, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Compound
from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

from shopflow.core.errors import Unreadable
from shopflow.core.solid.sniff import AS_SOLID, EXPORT_AGAIN
from shopflow.core.solid.text import clean

Shape = Any
"""A TopoDS_Shape; the bindings carry no types."""

_DEEPEST_ASSEMBLY = 64


@dataclass
class Loaded:
    """What came out of the file. shape: all of it. document: the XCAF document, None when read without annotations."""

    shape: Shape
    solids: list[Shape] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    document: Any = None


def load(path: str, *, annotations: bool, step: Any = lambda word: None) -> Loaded:
    """Read and transfer; raises Unreadable when the file cannot be read or holds nothing."""
    loaded = _load_document(path, step) if annotations else _load_shape(path, step)
    if loaded.shape is None or loaded.shape.IsNull():
        raise Unreadable("The STEP file holds no geometry that could be read.", mend=EXPORT_AGAIN)
    if not loaded.names:
        loaded.solids = children(loaded.shape, TopAbs_SOLID)
        loaded.names = [""] * len(loaded.solids)
    return loaded


def children(shape: Shape, kind: Any) -> list[Shape]:
    """All sub-shapes of one kind, in the order of the file."""
    explorer, found = TopExp_Explorer(shape, kind), []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def has_exact_faces(solid: Shape) -> bool:
    """Whether any face has a surface; a tessellated solid has triangles only, and measuring it gives nonsense."""
    return any(BRep_Tool.Surface_s(TopoDS.Face(face)) is not None for face in children(solid, TopAbs_FACE))


def shells(shape: Shape) -> list[Shape]:
    return children(shape, TopAbs_SHELL)


def _load_shape(path: str, step: Any) -> Loaded:
    reader = STEPControl_Reader()
    _read(reader, path)
    step("transferring")
    reader.TransferRoots()
    return Loaded(reader.OneShape())


def _load_document(path: str, step: Any) -> Loaded:
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetGDTMode(True)
    for turn_off in (
        reader.SetColorMode,
        reader.SetLayerMode,
        reader.SetPropsMode,
        reader.SetMatMode,
        reader.SetViewMode,
    ):
        turn_off(False)
    _read(reader, path)
    step("transferring")
    document = TDocStd_Document(TCollection_ExtendedString("shopflow"))
    reader.Transfer(document)
    loaded = Loaded(_compound(), document=document)
    labels = Sequence_TDF_Label()
    XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).GetFreeShapes(labels)
    for label in _each(labels):
        BRep_Builder().Add(loaded.shape, XCAFDoc_ShapeTool.GetShape_s(label))
        _collect(label, None, loaded, 0)
    return loaded


def _read(reader: Any, path: str) -> None:
    if reader.ReadFile(path) != IFSelect_RetDone:
        raise Unreadable("The STEP file breaks the rules of its own format and cannot be read.", mend=EXPORT_AGAIN)


def _compound() -> Shape:
    compound = TopoDS_Compound()
    BRep_Builder().MakeCompound(compound)
    return compound


def _each(labels: Any) -> list[Any]:
    return [labels.Value(number) for number in range(1, labels.Length() + 1)]


def _collect(label: Any, location: Any, loaded: Loaded, depth: int) -> None:
    """Add the solids under a label, each named for the nearest part that holds it, at its place in the assembly."""
    if depth > _DEEPEST_ASSEMBLY:
        raise Unreadable("The assembly is nested too deep.", mend=AS_SOLID)
    if XCAFDoc_ShapeTool.IsAssembly_s(label):
        parts = Sequence_TDF_Label()
        XCAFDoc_ShapeTool.GetComponents_s(label, parts, False)
        for part in _each(parts):
            referred = TDF_Label()
            here = XCAFDoc_ShapeTool.GetLocation_s(part)
            if XCAFDoc_ShapeTool.GetReferredShape_s(part, referred):
                _collect(referred, here if location is None else location.Multiplied(here), loaded, depth + 1)
        return
    shape = XCAFDoc_ShapeTool.GetShape_s(label)
    for solid in children(shape if location is None else shape.Moved(location), TopAbs_SOLID):
        loaded.solids.append(solid)
        loaded.names.append(_name(label))


def _name(label: Any) -> str:
    name = TDataStd_Name()
    return clean(name.Get().ToExtString()) if label.FindAttribute(TDataStd_Name.GetID_s(), name) else ""
