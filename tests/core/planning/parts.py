"""Parts as the reader would describe them, from exact dimensions; lengths mm."""

import math

from shopflow.core.solid import Hole, PlaneGroup, Pocket, Reading, SharpEdges, SolidFacts
from shopflow.core.solid.reading import Level
from shopflow.core.types import Machine, Tool, ToolMaterial, ToolShape

UP, DOWN, RIGHT, LEFT, BACK, FRONT = (
    (0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0),
)  # fmt: skip


def a_hole(x=10.0, y=10.0, **changes):
    """A through hole ⌀6.6 along Z in the plate of a_reading."""
    given = {
        "solid": 0, "diameter_mm": 6.6, "depth_mm": 12.0, "through": True, "axis": (0.0, 0.0, 1.0),
        "position_mm": (x, y, 12.0), "bottom": "through", "reach": ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0)), "faces": (7,),
    }  # fmt: skip
    return Hole(**{**given, **changes})


def box_planes(x, y, z):
    """The six faces of a block with one corner at the origin."""
    sides = [
        ((0.0, 0.0, 1.0), z, x * y), ((0.0, 0.0, -1.0), 0.0, x * y), ((1.0, 0.0, 0.0), x, y * z),
        ((-1.0, 0.0, 0.0), 0.0, y * z), ((0.0, 1.0, 0.0), y, x * z), ((0.0, -1.0, 0.0), 0.0, x * z),
    ]  # fmt: skip
    return tuple(PlaneGroup(way, area, (Level(level, area, (n,)),)) for n, (way, level, area) in enumerate(sides))


def a_reading(size=(60.0, 40.0, 12.0), holes=None, **changes):
    """A plate with four through holes, as the reader would describe it."""
    x, y, z = size
    holes = tuple(a_hole(px, py) for px in (10.0, 50.0) for py in (10.0, 30.0)) if holes is None else tuple(holes)
    volume = x * y * z - sum(math.pi / 4 * hole.diameter_mm**2 * hole.depth_mm for hole in holes)
    facts = SolidFacts(0, "plate", size, (0.0, 0.0, 0.0), volume, 9000.0, True, 10)
    given = {
        "schema": "AP214", "unit": "millimetre", "unit_doubtful": False, "unit_reason": "", "solids": (facts,),
        "chosen_solid": 0, "bbox_mm": size, "box_min_mm": (0.0, 0.0, 0.0), "box_max_mm": size, "volume_mm3": volume,
        "area_mm2": 9000.0, "holes": holes, "planes": box_planes(*size), "sharp_edges": SharpEdges(12, 448.0, ()),
    }  # fmt: skip
    return Reading(**{**given, **changes})


def a_pocket(**changes):
    """A closed pocket 10 deep with corners of radius 4, open upwards."""
    given = {
        "solid": 0, "kind": "pocket", "closed": True, "depth_mm": 10.0, "width_mm": 20.0, "length_mm": 30.0,
        "radius_mm": 4.0, "sharp_corners": 0, "floor_radius_mm": 0.0, "axis": UP, "position_mm": (30.0, 20.0, 2.0),
        "depth_to_width": 0.5, "reach": (UP,),
    }  # fmt: skip
    return Pocket(**{**given, **changes})


def tool(number, shape, diameter, **changes):
    given = {"flute_length_mm": 30.0, "stickout_mm": 45.0, "flutes": 3}
    return Tool(number, f"tool {number}", ToolShape(shape), diameter, **{**given, **changes})


def hss(number, shape, diameter, **changes):
    return tool(number, shape, diameter, material=ToolMaterial.HSS, **changes)


MILL = Machine(
    name="small mill", travel_mm=(760.0, 400.0, 500.0), rapid_mm_min=(15000.0,) * 3, acceleration_mm_s2=(1500.0,) * 3,
    max_feed_mm_min=10000.0, min_rpm=50.0, max_rpm=8000.0, power_kw=7.0,
)  # fmt: skip
CRIB = [
    tool(1, "face mill", 50.0, flute_length_mm=5.0),
    tool(2, "flat end mill", 12.0),
    tool(3, "flat end mill", 6.0, flute_length_mm=18.0),
    hss(4, "drill", 6.6, point_angle_deg=118.0, flute_length_mm=60.0),
    tool(5, "spot drill", 6.0, point_angle_deg=90.0),
]
