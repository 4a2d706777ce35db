"""Parts with every kind of feature, each with what has to be found in it: no more and no less. Sizes in mm."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from tests.core.solid import parts as p

DOWN = (0.0, 0.0, -1.0)


@dataclass(frozen=True)
class Hole:
    diameter: float
    depth: float
    bottom: str = "through"
    point: float | None = None
    sink: tuple[float, float] | None = None
    bore: tuple[float, float] | None = None
    far_sink: tuple[float, float] | None = None
    far_bore: tuple[float, float] | None = None
    reach: int = 1


@dataclass(frozen=True)
class Pocket:
    kind: str
    depth: float
    width: float | None
    length: float
    radius: float | None = None
    floor_radius: float = 0.0
    sharp: int = 0


@dataclass(frozen=True)
class Chamfer:
    size: float
    other: float
    angle: float = 45.0


@dataclass(frozen=True)
class Fillet:
    radius: float
    inside: bool


@dataclass(frozen=True)
class Part:
    name: str
    shape: Any
    holes: list[Hole] = field(default_factory=list)
    pockets: list[Pocket] = field(default_factory=list)
    chamfers: list[Chamfer] = field(default_factory=list)
    fillets: list[Fillet] = field(default_factory=list)
    bosses: list[tuple[float, float]] = field(default_factory=list)
    """Diameter and height."""
    patterns: list[tuple[str, int]] = field(default_factory=list)
    """Kind and how many holes."""
    thin: list[float] = field(default_factory=list)
    """Thickness of walls and floors."""
    hidden: int = 0
    """Faces that no setup sees."""


def block(x=80.0, y=60.0, z=20.0):
    return p.box(x, y, z)


def upright(x, y, tolerance=0.1):
    """Chooses the upright edge of a block over a point of the plan."""
    return lambda m: abs(m[0] - x) < tolerance and abs(m[1] - y) < tolerance


def rounded_box(x, y, z, radius, at):
    """A block with its four upright edges rounded: what a cutter leaves as a pocket."""
    corners = [(at[0] + i * x, at[1] + j * y) for i in (0, 1) for j in (0, 1)]

    def upright_edge(m):
        return any(abs(m[0] - cx) < 1e-6 and abs(m[1] - cy) < 1e-6 for cx, cy in corners)

    return p.fillet(p.box(x, y, z, at), radius, upright_edge)


def obround(length, width, z, at):
    """A slot's shape over its two end centres along X, from at upwards."""
    middle = p.box(length - width, width, z, (at[0] + width / 2, at[1], at[2]))
    ends = [p.cylinder(width / 2, z, (at[0] + dx, at[1] + width / 2, at[2])) for dx in (width / 2, length - width / 2)]
    return p.fuse(middle, *ends)


def round_hole_parts():
    through = Hole(10, 20, reach=2)
    yield Part("one through hole", p.cut(block(), p.drill(10, 20, (40, 30, 20), point_deg=None)), [through])
    yield Part("drilled blind 118", p.cut(block(), p.drill(8, 12, (40, 30, 20))), [Hole(8, 12, "pointed", 118.0)])
    yield Part(
        "drilled blind 135",
        p.cut(block(), p.drill(8, 12, (40, 30, 20), point_deg=135)),
        [Hole(8, 12, "pointed", 135.0)],
    )
    flat = p.drill(12, 9, (40, 30, 20), point_deg=None)
    yield Part("flat bottomed", p.cut(block(), flat), [Hole(12, 9, "flat")])
    ball = p.fuse(p.cylinder(6, 8, (40, 30, 12)), p.sphere(6, (40, 30, 12)))
    yield Part("ball bottomed", p.cut(block(), ball), [Hole(12, 8, "round")])
    wide = p.cylinder(9, 6, (40, 30, 14))
    yield Part(
        "counterbored through",
        p.cut(block(), p.drill(9, 20, (40, 30, 20), point_deg=None), wide),
        [Hole(9, 20, bore=(18, 6), reach=2)],
    )
    yield Part(
        "counterbored blind",
        p.cut(block(z=40), p.drill(9, 25, (40, 30, 40)), p.cylinder(9, 6, (40, 30, 34))),
        [Hole(9, 25, "pointed", 118.0, bore=(18, 6))],
    )
    for angle in (82.0, 90.0, 100.0):
        sunk = p.cut(block(), p.drill(6, 20, (40, 30, 20), point_deg=None), p.countersink(12, angle, (40, 30, 20)))
        yield Part(f"countersunk {angle:.0f}", sunk, [Hole(6, 20, sink=(12, angle), reach=2)])
    sunk_blind = p.cut(block(), p.drill(6, 14, (40, 30, 20)), p.countersink(8, 90, (40, 30, 20)))
    yield Part("chamfered blind", sunk_blind, [Hole(6, 14, "pointed", 118.0, sink=(8, 90.0))])
    both = p.cut(
        block(),
        p.drill(6, 20, (40, 30, 20), point_deg=None),
        p.countersink(9, 90, (40, 30, 20)),
        p.countersink(8, 90, (40, 30, 0), (0, 0, 1)),
    )
    yield Part("chamfered at both ends", both, [Hole(6, 20, sink=(9, 90.0), far_sink=(8, 90.0), reach=2)])


def stepped_hole_parts():
    deep = p.cut(
        block(z=50),
        p.cylinder(5, 50, (40, 30, 0)),
        p.cylinder(8, 30, (40, 30, 20)),
        p.cylinder(11, 12, (40, 30, 38)),
    )
    yield Part("three steps", deep, [Hole(10, 50, bore=(22, 12), reach=2)])
    spindle = p.cut(
        block(z=50), p.cylinder(5, 50, (40, 30, 0)), p.cylinder(9, 12, (40, 30, 38)), p.cylinder(8, 10, (40, 30, 0))
    )
    yield Part("bored from both sides", spindle, [Hole(10, 50, bore=(18, 12), far_bore=(16, 10), reach=2)])
    pointed_step = p.cut(block(z=50), p.drill(16, 15, (40, 30, 50)), p.drill(8, 35, (40, 30, 50)))
    yield Part("drilled step", pointed_step, [Hole(8, 35, "pointed", 118.0, bore=(16, 15))])
    sunk_bore = p.cut(
        block(),
        p.drill(9, 20, (40, 30, 20), point_deg=None),
        p.cylinder(9, 6, (40, 30, 14)),
        p.countersink(20, 90, (40, 30, 20)),
    )
    yield Part("counterbore with broken edge", sunk_bore, [Hole(9, 20, sink=(20, 90.0), bore=(18, 6), reach=2)])
    crossing = p.cut(block(z=40), p.cylinder(6, 80, (0, 30, 20), (1, 0, 0)), p.cylinder(4, 40, (40, 30, 0)))
    yield Part("crossing bores", crossing, [Hole(12, 80, reach=2), Hole(8, 40, reach=2)])
    meeting = p.cut(block(z=40), p.cylinder(6, 80, (0, 30, 20), (1, 0, 0)), p.cylinder(3, 20, (40, 30, 20)))
    yield Part("bore into a bore", meeting, [Hole(12, 80, reach=2), Hole(6, 40 - (20 + (6**2 - 3**2) ** 0.5), reach=1)])
    fork = p.cut(block(z=60), p.box(80, 20, 40, (0, 20, 20)), p.cylinder(5, 60, (40, 0, 45), (0, 1, 0)))
    yield Part("fork", fork, [Hole(10, 60, reach=2)], [Pocket("slot", 40, 20, 80)])
    opposite = p.cut(block(z=40), p.drill(6, 12, (40, 30, 40)), p.drill(6, 12, (40, 30, 0), (0, 0, 1)))
    yield Part("two blind holes end to end", opposite, [Hole(6, 12, "pointed", 118.0)] * 2)


def placed_hole_parts():
    grid = [p.drill(5, 20, (x, y, 20), point_deg=None) for x in (10, 30, 50, 70) for y in (10, 30, 50)]
    yield Part("grid of twelve", p.cut(block(), *grid), [Hole(5, 20, reach=2)] * 12, patterns=[("grid", 12)])
    sides = [
        p.drill(6, 15, (0, 30, 10), (1, 0, 0)),
        p.drill(6, 15, (40, 0, 10), (0, 1, 0)),
        p.drill(6, 10, (60, 30, 0), (0, 0, 1)),
    ]
    yield Part(
        "three sides",
        p.cut(block(), *sides),
        [Hole(6, 15, "pointed", 118.0), Hole(6, 15, "pointed", 118.0), Hole(6, 10, "pointed", 118.0)],
    )
    halves = p.cut(block(), p.cut(p.cylinder(7, 20, (40, 30, 0)), p.box(40, 60, 20, (40, 0, 0))))
    halves = p.cut(halves, p.cut(p.cylinder(7, 20, (40, 30, 0)), p.box(40, 60, 20, (0, 0, 0))))
    yield Part("cut as two halves", halves, [Hole(14, 20, reach=2)])
    boss = p.fuse(block(), p.cylinder(15, 15, (40, 30, 20)))
    yield Part(
        "hole in a boss", p.cut(boss, p.cylinder(6, 35, (40, 30, 0))), [Hole(12, 35, reach=2)], bosses=[(30, 15)]
    )
    ring = p.cut(block(), p.cut(p.cylinder(15, 6, (40, 30, 14)), p.cylinder(10, 6, (40, 30, 14))))
    yield Part("ring groove is no hole", ring, pockets=[Pocket("ring groove", 6, 5, 30, radius=15)], bosses=[(20, 6)])
    covered = p.cut(block(z=60), p.box(80, 60, 20, (0, 0, 20)), p.drill(8, 12, (40, 30, 20)))
    pillar = p.fuse(covered, p.box(80, 5, 20, (0, 0, 20)))
    yield Part(
        "hole under a roof",
        pillar,
        [Hole(8, 12, "pointed", 118.0, reach=0)],
        [Pocket("slot", 55, 20, 80, sharp=0)],
        hidden=2,
    )
    slanted = p.cut(p.prism([(0, 0), (80, 0), (80, 60), (0, 60)], 0, 20), p.box(120, 80, 40, (0, -10, 20)))
    yield Part("plain block", slanted)


def pocket_parts():
    yield Part(
        "pocket with rounded corners",
        p.cut(block(), rounded_box(40, 25, 12, 4, (20, 15, 8))),
        pockets=[Pocket("pocket", 12, 25, 40, radius=4)],
    )
    yield Part(
        "pocket with sharp corners",
        p.cut(block(), p.box(40, 25, 12, (20, 15, 8))),
        pockets=[Pocket("pocket", 12, 25, 40, sharp=4)],
    )
    tool = p.fillet(rounded_box(40, 25, 12, 5, (20, 15, 8)), 2, lambda m: abs(m[2] - 8) < 1e-6)
    yield Part(
        "pocket with floor radius",
        p.cut(block(), tool),
        pockets=[Pocket("pocket", 12, 25, 40, radius=5, floor_radius=2)],
    )
    yield Part(
        "closed slot", p.cut(block(), obround(40, 10, 6, (20, 25, 14))), pockets=[Pocket("slot", 6, 10, 40, radius=5)]
    )
    yield Part("through slot", p.cut(block(), p.box(80, 12, 8, (0, 24, 12))), pockets=[Pocket("slot", 8, 12, 80)])
    yield Part("step", p.cut(block(), p.box(80, 20, 8, (0, 40, 12))), pockets=[Pocket("step", 8, None, 80)])
    yield Part(
        "open pocket",
        p.cut(block(), p.box(40, 25, 12, (40, 15, 8))),
        pockets=[Pocket("pocket", 12, 25, 40, sharp=2)],
    )
    yield Part(
        "window",
        p.cut(block(), rounded_box(40, 25, 20, 4, (20, 15, 0))),
        pockets=[Pocket("through pocket", 20, 25, 40, radius=4)],
    )
    yield Part(
        "through obround",
        p.cut(block(), obround(40, 10, 20, (20, 25, 0))),
        pockets=[Pocket("through pocket", 20, 10, 40, radius=5)],
    )
    open_slot = p.fuse(p.box(30, 10, 20, (50, 25, 0)), p.cylinder(5, 20, (50, 30, 0)))
    yield Part("slot out of an edge", p.cut(block(), open_slot), pockets=[Pocket("slot", 20, 10, 35, radius=5)])
    inner = p.cut(block(z=40), rounded_box(60, 40, 15, 5, (10, 10, 25)), rounded_box(30, 20, 15, 3, (25, 20, 10)))
    yield Part(
        "pocket in a pocket",
        inner,
        pockets=[Pocket("pocket", 15, 40, 60, radius=5), Pocket("pocket", 15, 20, 30, radius=3)],
    )
    drilled = p.cut(block(), rounded_box(40, 25, 12, 4, (20, 15, 8)), p.drill(6, 8, (40, 27, 8), point_deg=None))
    yield Part(
        "hole in a pocket's floor",
        drilled,
        [Hole(6, 8, reach=2)],
        [Pocket("pocket", 12, 25, 40, radius=4)],
    )


def edge_parts():
    yield Part("one chamfer", p.chamfer(block(), 2, lambda m: m[2] > 19.9 and m[1] < 0.1), chamfers=[Chamfer(2, 2)])
    yield Part("chamfer all round the top", p.chamfer(block(), 1, lambda m: m[2] > 19.9), chamfers=[Chamfer(1, 1)])
    yield Part(
        "four corner chamfers",
        p.chamfer(block(), 3, lambda m: abs(m[2] - 10) < 0.1),
        chamfers=[Chamfer(3, 3)] * 4,
    )
    yield Part("one round", p.fillet(block(), 4, lambda m: m[2] > 19.9 and m[1] < 0.1), fillets=[Fillet(4, False)])
    yield Part(
        "four corner rounds",
        p.fillet(block(), 6, lambda m: abs(m[2] - 10) < 0.1),
        fillets=[Fillet(6, False)] * 4,
    )
    yield Part("round all round the top", p.fillet(block(), 3, lambda m: m[2] > 19.9), fillets=[Fillet(3, False)])
    yield Part(
        "turned disc with chamfer",
        p.chamfer(p.cylinder(30, 20), 2, lambda m: m[2] > 19.9),
        chamfers=[Chamfer(2, 2)],
    )
    boss = p.fuse(block(), p.cylinder(12, 15, (40, 30, 20)))
    yield Part(
        "boss with a fillet at its foot",
        p.fillet(boss, 3, lambda m: abs(m[2] - 20) < 0.1 and 27 < m[0] < 53 and 17 < m[1] < 43),
        fillets=[Fillet(3, True)],
        bosses=[(24, 15)],
    )
    hexagon = [(20, 0), (10, 17.3205), (-10, 17.3205), (-20, 0), (-10, -17.3205), (10, -17.3205)]
    yield Part("hexagon has no chamfers", p.prism(hexagon, 0, 15))
    mixed = p.cut(
        p.chamfer(block(), 2, lambda m: m[2] > 19.9),
        p.drill(10, 20, (40, 30, 20), point_deg=None),
        rounded_box(20, 40, 8, 4, (5, 10, 12)),
    )
    yield Part(
        "hole, pocket and chamfer",
        mixed,
        [Hole(10, 20, reach=2)],
        [Pocket("pocket", 8, 20, 40, radius=4)],
        [Chamfer(2, 2)],
    )


def stud_parts():
    studs = [p.cylinder(radius, height, (x, 30, 20)) for radius, height, x in ((4, 12, 20), (9, 7, 55))]
    yield Part("two studs", p.fuse(block(), *studs), bosses=[(8, 12), (18, 7)])
    on_stud = p.cut(p.fuse(block(), p.cylinder(10, 15, (40, 30, 20))), p.drill(5, 10, (40, 30, 35)))
    yield Part("blind hole in a stud", on_stud, [Hole(5, 10, "pointed", 118)], bosses=[(20, 15)])


def pattern_parts():
    circle = [(40 + 18 * math.cos(at), 30 + 18 * math.sin(at)) for at in (0.3 + math.tau * n / 5 for n in range(5))]
    for name, kind, spots in (
        ("bolt circle of five", "bolt circle", circle),
        ("row of four", "row", [(10 + 17 * n, 30) for n in range(4)]),
        ("grid of two by three", "grid", [(15 + 20 * i, 15 + 25 * j) for i in range(3) for j in range(2)]),
    ):
        drills = [p.drill(6, 20, (x, y, 20), point_deg=None) for x, y in spots]
        yield Part(name, p.cut(block(), *drills), [Hole(6, 20, reach=2)] * len(spots), patterns=[(kind, len(spots))])


def hard_parts():
    yield Part(
        "thin rib between two steps",
        p.cut(block(), p.box(39, 60, 15, (0, 0, 5)), p.box(39.5, 60, 15, (40.5, 0, 5))),
        pockets=[Pocket("step", 15, None, 60)] * 2,
        thin=[1.5],
    )
    yield Part(
        "thin floor",
        p.cut(block(), rounded_box(50, 30, 19.2, 5, (15, 15, 0.8))),
        pockets=[Pocket("pocket", 19.2, 30, 50, radius=5)],
        thin=[0.8],
    )
    ring = p.cut(p.cylinder(26, 4, (40, 30, 8)), p.cylinder(20, 4, (40, 30, 8)))
    yield Part(
        "groove inside a bore",
        p.cut(block(), p.cylinder(20, 20, (40, 30, 0)), ring),
        [Hole(40, 20, reach=2)],
        hidden=3,
    )


def everything() -> list[Part]:
    makers = (
        round_hole_parts, stepped_hole_parts, placed_hole_parts, pocket_parts, edge_parts, stud_parts, pattern_parts,
        hard_parts,
    )  # fmt: skip
    return [part for maker in makers for part in maker()]
