"""What the caller asks of the geometry process, as it travels between the two."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from shopflow.core.solid.limits import Limits

STEPS = (
    "opening",
    "reading",
    "transferring",
    "measuring",
    "recognising",
    "meshing",
    "annotations",
    "drawing",
    "writing",
)
"""What is being done, in this order; progress is one of these words. "drawing" stands alone, for line drawings."""

READING_FILE = "reading.json"
DRAWINGS_FILE = "drawings.json"
MESH_FILE = "mesh.bin"
REFUSAL_FILE = "refusal.json"
ERROR_FILE = "error.txt"


@dataclass(frozen=True)
class Request:
    """One attempt at one file.

    path: the model. out: folder for the result. annotations: read dimensions, tolerances, datums and names as well.
    solid_index: counted from 0, None for all. deflection_mm: None to scale with the box. views: each as the fields of a
    drawing.View; when there are any, line drawings are made and nothing else.
    """

    path: str
    out: str
    annotations: bool = True
    solid_index: int | None = None
    deflection_mm: float | None = None
    views: tuple[dict[str, Any], ...] = ()
    limits: Limits = Limits()

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Request:
        return cls(**{**data, "limits": Limits(**data["limits"])})
