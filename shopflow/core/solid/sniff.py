"""A look at the bytes before the geometry library sees them: is this a STEP file that may hold a part?"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from shopflow.core.errors import Unreadable
from shopflow.core.solid.limits import Limits
from shopflow.core.solid.text import schema

EXPORT_AGAIN = "Ask the customer to export the part again as STEP (AP242, AP214 or AP203) and upload that file."
AS_SOLID = "Ask the customer to export the part as a solid body in STEP (AP242, AP214 or AP203)."

MESH_ONLY = (
    "The STEP file holds a triangle mesh only (tessellated geometry) and no exact surfaces, so nothing can be measured "
    "in it."
)

_HEAD = 2048
_KINDS = (
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"\xd0\xcf\x11\xe0", "a document or drawing in a binary format"),
    (b"AC10", "a DWG drawing"),
    (b"<!DOCTYPE", "a web page"),
    (b"<html", "a web page"),
    (b"<?xml", "an XML file"),
    (b"solid ", "an STL triangle mesh"),
    (b"SQLite format", "a database"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
)
_IGES = re.compile(rb"\A[^\r\n]{72}S\s*1\s*[\r\n]")
# Atomic, as a crowd of comments could otherwise be cut up in more ways than there is time to try.
_START = re.compile(rb"\A(?:\xef\xbb\xbf)?(?>\s+|/\*.*?\*/)*+ISO-10303-21\s*;", re.DOTALL)
_END = b"END-ISO-10303-21"
_SOLIDS = re.compile(rb"\b(?:MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS|FACETED_BREP)\s*\(")
_SURFACES = re.compile(
    rb"\b(?:SHELL_BASED_SURFACE_MODEL|FACE_BASED_SURFACE_MODEL|(?:OPEN|CLOSED)_SHELL|ADVANCED_FACE|FACE_SURFACE)\s*\("
)
_MESHES = re.compile(rb"\b(?:COMPLEX_)?(?:TESSELLATED|TRIANGULATED)_(?:SOLID|SHELL|FACE|SURFACE_SET)\s*\(")
_ELSEWHERE = re.compile(rb"\b(?:DOCUMENT_FILE|APPLIED_EXTERNAL_IDENTIFICATION_ASSIGNMENT)\s*\(")
_CURVES = re.compile(
    rb"\b(?:GEOMETRIC_CURVE_SET|GEOMETRIC_SET|EDGE_BASED_WIREFRAME_MODEL|SHELL_BASED_WIREFRAME_MODEL)\s*\("
)


@dataclass(frozen=True)
class Sniffed:
    """What the bytes show. has_solids is False when only loose surfaces were found, which may close when sewn."""

    schema: str
    has_solids: bool


def sniff(path: Path, limits: Limits) -> Sniffed:
    """Look at a file; raises Unreadable with a sentence for everything that cannot be a STEP part."""
    size = _size(path, limits)
    data = path.read_bytes()
    _refuse_other_kinds(data)
    _refuse_damage(data, size)
    _refuse_without_a_body(data)
    return Sniffed(schema(data), names_a_solid(data))


def names_a_solid(data: bytes) -> bool:
    """Whether the text of a STEP file has an exact solid in it, readable or not."""
    return bool(_SOLIDS.search(data))


def _size(path: Path, limits: Limits) -> int:
    try:
        size = path.stat().st_size
    except OSError as error:
        raise Unreadable(f"The file cannot be opened: {error.strerror}.", mend="Name a file that is there.") from error
    if not path.is_file():
        raise Unreadable("This is not a file.", mend="Name the model file itself.")
    if size == 0:
        raise Unreadable("The file is empty (0 bytes).", mend="Upload it again, or ask the customer to send it again.")
    if size > limits.file_bytes:
        raise Unreadable(
            f"The file is too large: {size / 1e6:.0f} MB, and the limit is {limits.file_bytes / 1e6:.0f} MB.",
            mend="Ask the customer for the part alone, without its assembly, or a STEP file without a triangle mesh.",
        )
    return size


def _refuse_other_kinds(data: bytes) -> None:
    if _START.match(data[:65536]):
        return
    head = data[:_HEAD].lstrip()
    kind = next((name for mark, name in _KINDS if head[: len(mark)].lower() == mark.lower()), "")
    if not kind and _IGES.match(data):
        kind = "an IGES file"
    if not kind and data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        kind = "text in UTF-16, which STEP does not allow,"
    if not kind and b"\x00" in data[:_HEAD]:
        kind = "a binary file"
    said = f"This is {kind} and not a STEP model." if kind else "This is not a STEP model."
    raise Unreadable(f"{said} A STEP file begins with ISO-10303-21.", where="byte 0", mend=EXPORT_AGAIN)


def _refuse_damage(data: bytes, size: int) -> None:
    if _END not in data[-65536:] and _END not in data:
        raise Unreadable(
            "The STEP file is cut off: its last line, END-ISO-10303-21, is missing.",
            where=f"byte {size}",
            mend="Upload it again; if that does not help, ask the customer to send it again.",
        )
    if b"DATA" not in data or b"ENDSEC" not in data:
        raise Unreadable("The STEP file is damaged: its DATA section is missing or not ended.", mend=EXPORT_AGAIN)


def _refuse_without_a_body(data: bytes) -> None:
    """Tell apart the files that have no surface of a part at all; each has its own way out."""
    if _SOLIDS.search(data) or _SURFACES.search(data):
        return
    if _MESHES.search(data):
        raise Unreadable(MESH_ONLY, mend=AS_SOLID)
    if _ELSEWHERE.search(data):
        raise Unreadable(
            "The STEP file holds no geometry of its own and points to other files.",
            mend="Ask the customer for the part file itself, or for the assembly in one single STEP file.",
        )
    what = "curves only (a wireframe)" if _CURVES.search(data) else "no geometry"
    raise Unreadable(f"The STEP file holds {what}: there is no solid in it.", mend=AS_SOLID)
