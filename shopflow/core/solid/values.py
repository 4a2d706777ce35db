"""The small values that a reading is made of. Lengths mm, angles degrees, areas mm², volumes mm³.

Directions are unit vectors in the model's coordinates. A direction in which a cutter can reach something points from
the part to the spindle, as `Setup.up` does. Faces are numbered as in the mesh.
"""

from __future__ import annotations

from dataclasses import dataclass

Vector = tuple[float, float, float]


@dataclass(frozen=True)
class SolidFacts:
    """One solid of the file. index: counted from 0 in the order of the file. valid: what the library's check says."""

    index: int
    name: str
    bbox_mm: Vector
    box_min_mm: Vector
    volume_mm3: float
    area_mm2: float
    valid: bool
    faces: int


@dataclass(frozen=True)
class HoleStep:
    """One stretch of a hole, from its mouth inwards. kind: "cylinder", "cone" or "blend" (a rounded transition)."""

    kind: str
    from_mm: float
    to_mm: float
    from_diameter_mm: float
    to_diameter_mm: float


@dataclass(frozen=True)
class Hole:
    """One hole, with everything on its axis that a drill, counterbore or countersink makes.

    diameter_mm: the smallest full bore. depth_mm: from the mouth to the end of that bore's full diameter, without a
    drill point; for a through hole to the far mouth. axis: out of the mouth, towards the spindle. position_mm: centre
    of the mouth. bottom: "through", "flat", "pointed" or "round". countersink_mm and counterbore_mm: largest diameter
    at the mouth, None without one; far_ ones: at the other mouth of a through hole. reach: directions from which a
    cutter gets in with nothing in its way. faces: face numbers, as in the mesh. thread_guess: thread whose
    tap drill has this size, a question to the person and never a fact.
    """

    solid: int
    diameter_mm: float
    depth_mm: float
    through: bool
    axis: Vector
    position_mm: Vector
    bottom: str
    point_angle_deg: float | None = None
    countersink_mm: float | None = None
    countersink_angle_deg: float | None = None
    counterbore_mm: float | None = None
    counterbore_depth_mm: float | None = None
    far_countersink_mm: float | None = None
    far_countersink_angle_deg: float | None = None
    far_counterbore_mm: float | None = None
    far_counterbore_depth_mm: float | None = None
    steps: tuple[HoleStep, ...] = ()
    reach: tuple[Vector, ...] = ()
    faces: tuple[int, ...] = ()
    thread_guess: str = ""


@dataclass(frozen=True)
class Pattern:
    """Equal holes that belong together. kind: "bolt circle", "row" or "grid".

    holes: places in the reading's list of holes. position_mm: the middle. diameter_mm: of a bolt circle.
    pitch_mm, other_pitch_mm: of a row or grid, with columns and rows; columns counts the holes of a circle.
    """

    kind: str
    holes: tuple[int, ...]
    position_mm: Vector
    axis: Vector
    diameter_mm: float | None
    pitch_mm: float | None
    other_pitch_mm: float | None
    columns: int
    rows: int


@dataclass(frozen=True)
class Level:
    """Plane faces at one height. level_mm: distance from the origin along the group's direction."""

    level_mm: float
    area_mm2: float
    faces: tuple[int, ...]


@dataclass(frozen=True)
class PlaneGroup:
    """Plane faces that look the same way, by level, highest first."""

    direction: Vector
    area_mm2: float
    levels: tuple[Level, ...]


@dataclass(frozen=True)
class Pocket:
    """A recess with a floor, or through. kind: "pocket", "slot", "step" or "through pocket".

    closed: walls all round. depth_mm: from the floor to the highest edge of its walls. width_mm: between the nearest
    facing walls, None where none face each other. length_mm: largest extent. radius_mm: smallest inside radius between
    walls, None where corners are sharp or there are none. floor_radius_mm: fillet between wall and floor, 0 for none.
    depth_to_width: what makes it hard. reach: direction its floor looks, and those it is open to on the way.
    volume_mm3: from the floor to the highest edge of its walls, without islands; floor_mm2: of its floor, wall_mm2: of
    its walls and islands. None in readings from before they were measured.
    """

    solid: int
    kind: str
    closed: bool
    depth_mm: float
    width_mm: float | None
    length_mm: float
    radius_mm: float | None
    sharp_corners: int
    floor_radius_mm: float
    axis: Vector
    position_mm: Vector
    depth_to_width: float | None
    reach: tuple[Vector, ...] = ()
    faces: tuple[int, ...] = ()
    volume_mm3: float | None = None
    floor_mm2: float | None = None
    wall_mm2: float | None = None


@dataclass(frozen=True)
class Fillet:
    """Rounded transitions of one radius that belong together. inside: in a corner (made by a tool's radius)."""

    solid: int
    radius_mm: float
    inside: bool
    length_mm: float
    faces: tuple[int, ...]


@dataclass(frozen=True)
class Chamfer:
    """A broken edge. size_mm, other_size_mm: its shorter and longer leg; angle_deg: to the face with the longer one."""

    solid: int
    size_mm: float
    other_size_mm: float
    angle_deg: float
    length_mm: float
    is_round: bool
    faces: tuple[int, ...]


@dataclass(frozen=True)
class SharpEdge:
    """One outside edge without a break. turn_deg: between the two faces' normals, 90 for a square corner."""

    edge: int
    length_mm: float
    turn_deg: float
    midpoint_mm: Vector
    faces: tuple[int, int]
    reach: tuple[Vector, ...] = ()


@dataclass(frozen=True)
class SharpEdges:
    """Outside edges without a break: what deburring has to deal with."""

    count: int = 0
    length_mm: float = 0.0
    edges: tuple[SharpEdge, ...] = ()


@dataclass(frozen=True)
class PmiItem:
    """One annotation of the file, offered as a characteristic.

    kind: "dimension", "tolerance", "datum", "finish" or "note". name: "diameter", "position", "Ra" …. value, lower,
    upper: in unit, None where the file gives none; lower and upper are deviations, of a finish upper is its largest
    value. unit: "mm" or "deg". datums: letters in order. modifiers: words. faces: face numbers that it belongs to.
    text: of a note, lines kept.
    """

    kind: str
    name: str
    value: float | None = None
    lower: float | None = None
    upper: float | None = None
    unit: str = "mm"
    datums: tuple[str, ...] = ()
    modifiers: tuple[str, ...] = ()
    faces: tuple[int, ...] = ()
    text: str = ""


@dataclass(frozen=True)
class Pmi:
    """Annotations read from the file: counts of dimensions and tolerances, and the datum letters."""

    dimensions: int = 0
    tolerances: int = 0
    datums: tuple[str, ...] = ()
    items: tuple[PmiItem, ...] = ()


@dataclass(frozen=True)
class FaceFacts:
    """One face, for picking and for comparing revisions. normal: out of the material at its middle. radius_mm: of a
    cylinder, ball or fillet, else 0. is_inside: a round face with the material outside, as in a hole. low_mm, high_mm:
    corners of its box. seen: for each of some places on it, from which sides it is in sight, as a sum of bits in the
    order of `orientation.AXES`. aslant: directions of slanted planes from which all those places are in sight that no
    side sees. None and () where nobody looked, as in readings of an earlier version.
    """

    index: int
    solid: int
    kind: str
    area_mm2: float
    centre_mm: Vector
    normal: Vector
    radius_mm: float
    is_inside: bool
    low_mm: Vector | None = None
    high_mm: Vector | None = None
    seen: tuple[int, ...] = ()
    aslant: tuple[Vector, ...] = ()


@dataclass(frozen=True)
class Boss:
    """A round outside stud on a plane face. height_mm: from that face to its top."""

    solid: int
    diameter_mm: float
    height_mm: float
    axis: Vector
    position_mm: Vector
    faces: tuple[int, ...]


@dataclass(frozen=True)
class ThinPlace:
    """A wall or floor that is thin where it was tried, at one place in the middle of each plane face.

    faces: the one tried, and the one behind it.
    """

    thickness_mm: float
    position_mm: Vector
    faces: tuple[int, int]
