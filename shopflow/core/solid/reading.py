"""What a model says, as plain values: the result of a read. Lengths mm, angles degrees, areas mm², volumes mm³.

Directions are unit vectors in the model's coordinates. A direction in which a cutter can reach something points from
the part to the spindle, as `Setup.up` does.
"""

from __future__ import annotations

from dataclasses import dataclass, field, is_dataclass, replace
from typing import Any

from shopflow.core.solid.mesh import Mesh
from shopflow.core.solid.values import (
    Boss,
    Chamfer,
    FaceFacts,
    Fillet,
    Hole,
    HoleStep,
    Level,
    Pattern,
    PlaneGroup,
    Pmi,
    PmiItem,
    Pocket,
    SharpEdge,
    SharpEdges,
    SolidFacts,
    ThinPlace,
    Vector,
)

__all__ = [
    "Boss",
    "Chamfer",
    "FaceFacts",
    "Fillet",
    "Hole",
    "HoleStep",
    "Level",
    "Pattern",
    "PlaneGroup",
    "Pmi",
    "PmiItem",
    "Pocket",
    "Reading",
    "SharpEdge",
    "SharpEdges",
    "SolidFacts",
    "ThinPlace",
    "Vector",
    "untangled",
]


@dataclass(frozen=True)
class Reading:
    """Everything read from one model.

    unit: as the file names it, lower case ("millimetre", "inch"), "" when it names none; all numbers here are mm.
    unit_doubtful: a person has to confirm the unit, unit_reason says why. solids: all of the file. chosen_solid: the
    one that the rest is about, None when it is about all of them together (needs_choice when there are several).
    unreached: faces that no direction of a plane face or hole sees in a straight line (undercuts, closed cavities).
    surfaces: number of faces by kind. part_number, part_revision: as the file names its product, hints to a person.
    bbox_mm: size of the box, box_min_mm and box_max_mm its corners. mesh_deflection_mm: largest distance between mesh
    and surface that was asked for, None without a mesh. warnings: plain sentences.
    """

    schema: str
    unit: str
    unit_doubtful: bool
    unit_reason: str
    solids: tuple[SolidFacts, ...]
    chosen_solid: int | None
    bbox_mm: Vector
    box_min_mm: Vector
    box_max_mm: Vector
    volume_mm3: float
    area_mm2: float
    holes: tuple[Hole, ...] = ()
    patterns: tuple[Pattern, ...] = ()
    planes: tuple[PlaneGroup, ...] = ()
    pockets: tuple[Pocket, ...] = ()
    fillets: tuple[Fillet, ...] = ()
    chamfers: tuple[Chamfer, ...] = ()
    sharp_edges: SharpEdges = SharpEdges()
    pmi: Pmi = Pmi()
    bosses: tuple[Boss, ...] = ()
    thin: tuple[ThinPlace, ...] = ()
    unreached: tuple[int, ...] = ()
    faces: tuple[FaceFacts, ...] = ()
    surfaces: dict[str, int] = field(default_factory=dict)
    part_number: str = ""
    part_revision: str = ""
    mesh_deflection_mm: float | None = None
    warnings: tuple[str, ...] = ()
    mesh: Mesh | None = field(default=None, compare=False, repr=False)

    @property
    def needs_choice(self) -> bool:
        """Whether a person has to say which solid is the part."""
        return len(self.solids) > 1 and self.chosen_solid is None

    def to_json(self) -> dict[str, Any]:
        """All but the mesh, as values that JSON holds."""
        return {name: _plain(getattr(self, name)) for name in self.__dataclass_fields__ if name != "mesh"}

    @classmethod
    def from_json(cls, data: dict[str, Any], mesh: Mesh | None = None) -> Reading:
        """The reading again; raises KeyError, TypeError or ValueError when the data is not one."""
        values = {name: untangled(value) for name, value in data.items()}
        for name, kind in _LISTS.items():
            # A reading kept by an earlier version has no value for what was not looked for then.
            values[name] = tuple(kind(**item) for item in values.get(name, ()))
        values["holes"] = tuple(
            _with(hole, steps=[HoleStep(**step) for step in hole.steps]) for hole in values["holes"]
        )
        values["planes"] = tuple(
            _with(group, levels=[Level(**level) for level in group.levels]) for group in values["planes"]
        )
        sharp, pmi = values["sharp_edges"], values["pmi"]
        values["sharp_edges"] = SharpEdges(**{**sharp, "edges": tuple(SharpEdge(**edge) for edge in sharp["edges"])})
        values["pmi"] = Pmi(**{**pmi, "items": tuple(PmiItem(**item) for item in pmi["items"])})
        return cls(**values, mesh=mesh)


def _plain(value: Any) -> Any:
    """As `dataclasses.asdict`, which copies every number deeply and takes twice as long."""
    if is_dataclass(value):
        return {name: _plain(getattr(value, name)) for name in value.__dataclass_fields__}
    if isinstance(value, dict):
        return {name: _plain(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return type(value)(map(_plain, value))
    return value


_LISTS: dict[str, Any] = {
    "solids": SolidFacts,
    "holes": Hole,
    "patterns": Pattern,
    "planes": PlaneGroup,
    "pockets": Pocket,
    "fillets": Fillet,
    "chamfers": Chamfer,
    "bosses": Boss,
    "thin": ThinPlace,
    "faces": FaceFacts,
}


def _with(item: Any, **lists: list[Any]) -> Any:
    return replace(item, **{name: tuple(value) for name, value in lists.items()})


def untangled(value: Any) -> Any:
    """JSON's lists as tuples, at any depth."""
    if isinstance(value, list | tuple):
        return tuple(untangled(item) for item in value)
    if isinstance(value, dict):
        return {name: untangled(item) for name, item in value.items()}
    return value
