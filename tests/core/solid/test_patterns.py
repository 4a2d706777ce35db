"""Threads guessed from sizes, holes in patterns, sharp edges and what reaches them."""

import csv
import math
from pathlib import Path

import pytest

from shopflow.core.solid.features import patterns, recognise, threads
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.occ import graph as occ_graph
from shopflow.core.solid.occ import mesh as occ_mesh
from tests.core.solid import parts

REFERENCE = Path(__file__).resolve().parents[3].parent / "shared" / "reference"


def recognised(shape):
    return recognise.everything(occ_graph.build([shape], 1e-3), Sight(occ_mesh.tessellate([shape], [0], 0.05)))


@pytest.mark.parametrize(
    ("diameter_mm", "thread"),
    [(6.8, "M8 (tap drill)"), (6.647, "M8 (minor diameter)"), (5.1054, "1/4-20 (tap drill)"), (5.0, "M6 (tap drill)")],
)
def test_a_hole_of_a_thread_s_size_asks_for_that_thread(diameter_mm, thread):
    assert threads.guess(diameter_mm).split(" or ")[0] == thread


@pytest.mark.parametrize("diameter_mm", [0.5, 10.0, 35.0, 254.0])
def test_other_sizes_ask_nothing(diameter_mm):
    assert threads.guess(diameter_mm) == ""


def test_tap_drills_are_those_of_the_reference_table():
    # tap-drills.csv (its README: PyPI bd-warehouse 0.4.0, soft column, about 75 % of thread)
    path = REFERENCE / "tap-drills.csv"
    if not path.is_file():
        pytest.skip("the folder ../shared/reference with check values is not here")
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    table = {}
    for row in csv.DictReader(lines):
        table[row["thread"].replace(" ", "")] = float(row["drill_soft_dia"]) * (
            25.4 if row["units"].startswith("in") else 1.0
        )
    ours = [(name, size) for name, what, size in threads.SIZES if what == "tap drill"]
    shared = {name: key for name, _ in ours for key in table if _is_thread(name, key)}
    assert len(shared) >= 15
    missed = {
        name: table[key]
        for name, key in shared.items()
        if not any(n == name and abs(s - table[key]) < 0.03 for n, s in ours)
    }
    assert missed == {}


def test_minor_diameters_are_those_of_the_reference_table():
    # threads-metric-coarse.csv: ISO 68-1 geometry, D1 = D - 1.082532 P
    path = REFERENCE / "threads-metric-coarse.csv"
    if not path.is_file():
        pytest.skip("the folder ../shared/reference with check values is not here")
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    table = {row["thread"]: float(row["minor_dia_basic_mm"]) for row in csv.DictReader(lines)}
    ours = {name: size for name, what, size in threads.SIZES if what == "minor diameter" and name in table}
    assert len(ours) >= 8
    assert ours == pytest.approx({name: table[name] for name in ours}, abs=6e-4)


def _is_thread(name, key):
    key = key.removeprefix("#").upper().replace("X", "-").replace("UNC", "").replace("UNF", "")
    return key == name.upper() or (name.startswith("M") and key.split("-")[0] == name and _pitch(key) == _coarse(name))


def _pitch(key):
    return float(key.split("-")[1]) if "-" in key else None


def _coarse(name):
    return next(pitch for thread, _, pitch, _ in threads._METRIC if thread == name)


def drilled(spots, axis=(0, 0, -1)):
    return parts.cut(
        parts.box(200, 200, 20, (-100, -100, 0)), *[parts.drill(6, 10, (x, y, 20), axis) for x, y in spots]
    )


def only_pattern(shape):
    found = recognised(shape).patterns
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize("count", [3, 4, 5, 6, 8])
def test_evenly_spaced_holes_on_a_circle_are_a_bolt_circle(count):
    spots = [
        (40 * math.cos(2 * math.pi * i / count + 0.2), 40 * math.sin(2 * math.pi * i / count + 0.2))
        for i in range(count)
    ]
    found = only_pattern(drilled(spots))
    assert (found.kind, len(found.holes), found.diameter_mm) == ("bolt circle", count, pytest.approx(80, abs=1e-3))
    assert found.position_mm == pytest.approx((0, 0, 20), abs=1e-3)


def test_a_row_and_a_grid_have_their_pitches():
    row = only_pattern(drilled([(15 * i, 10) for i in range(4)]))
    assert (row.kind, row.pitch_mm) == ("row", pytest.approx(15))
    grid = only_pattern(parts.turned(drilled([(20 * i, 30 * j) for i in range(3) for j in range(2)]), (1, 1, 3), 25))
    assert (grid.kind, sorted((grid.columns, grid.rows))) == ("grid", [2, 3])
    assert sorted((grid.pitch_mm, grid.other_pitch_mm)) == pytest.approx([20, 30], abs=1e-3)


def test_uneven_holes_are_no_pattern():
    assert recognised(drilled([(0, 0), (13, 4), (31, -22), (-40, 9)])).patterns == ()


def test_two_holes_are_no_pattern():
    assert patterns.find(recognised(drilled([(0, 0), (20, 0)])).holes) == []


def test_a_block_has_twelve_sharp_edges_reached_from_two_or_three_sides():
    sharp = recognised(parts.box(30, 20, 10)).sharp_edges
    assert (sharp.count, sharp.length_mm) == (12, pytest.approx(4 * (30 + 20 + 10)))
    assert {len(edge.reach) for edge in sharp.edges} == {2}


def test_a_chamfered_edge_is_not_sharp_and_its_own_edges_are_broken():
    shape = parts.chamfer(parts.box(30, 20, 10), 1, lambda m: m[2] > 9.9)
    sharp = recognised(shape).sharp_edges
    assert sharp.count == 8  # the four below and the four upright ones


def test_a_hole_s_rims_are_sharp_until_they_are_countersunk():
    plain = parts.cut(parts.box(30, 20, 10), parts.cylinder(3, 10, (15, 10, 0)))
    sunk = parts.cut(plain, parts.countersink(8, 90, (15, 10, 10)))
    assert recognised(plain).sharp_edges.count == 12 + 2
    assert recognised(sunk).sharp_edges.count == 12 + 1


def test_an_edge_inside_a_closed_in_cavity_is_reached_only_from_its_opening():
    # A cavity 20 deep opened to +X only: the edge of the ledge in it sees +X, and the roof hides it from +Z.
    shape = parts.cut(parts.box(60, 40, 40), parts.box(50, 20, 20, (10, 10, 10)))
    shape = parts.fuse(shape, parts.box(20, 20, 8, (10, 10, 10)))
    ledge = [
        edge
        for edge in recognised(shape).sharp_edges.edges
        if edge.midpoint_mm == pytest.approx((30, 20, 18), abs=1e-6)
    ]
    assert [edge.reach for edge in ledge] == [((1.0, 0.0, 0.0),)]
