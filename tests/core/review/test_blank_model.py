"""A casting as the blank: its columns, what a program takes off it, and what is said where it does not hold the part.

Checked against Open CASCADE's volume of the solid and booleans of another library (PyPI manifold3d).
"""

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps

from shopflow.core import solid
from shopflow.core.errors import NotPossible, Unreadable
from shopflow.core.review.setup_values import AS_MODEL, SetupBlock
from shopflow.core.review.whole import blank_mesh, review_whole
from shopflow.core.stock import shapes
from shopflow.core.stock.blanks import BlankForm, blank_columns, one_size
from shopflow.core.stock.columns import largest_difference
from shopflow.core.stock.grid import grid_over
from tests.core.review.faults.pieces import ALUMINIUM, HEAD, begin, end, piece
from tests.core.solid import parts

BOX = ((0.0, 0.0, 0.0), (40.0, 30.0, 16.0))
FORM = BlankForm(model="casting.step")
MEMORY = 1_500_000
FACE = 15.0
PROGRAM = f"""{HEAD}
{begin(1, "-30.", "15.", 3000)}
|G1 Z0. F800.
|X70. F1500.
{end("T1")}
|M30
|%"""


def finished():
    return parts.cut(parts.box(40, 30, FACE), parts.cylinder(6, 40, (20, 15, -5)))


def casting(tall=16.5):
    """The part with a cored hole, a round pad on top and a foot on one side."""
    body = parts.fuse(parts.box(40, 30, tall), parts.cylinder(7, 2, (32, 15, tall)), parts.box(5, 30, 4, (40, 0, 0)))
    return parts.cut(body, parts.cylinder(5, 60, (20, 15, -5)))


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    folder = tmp_path_factory.mktemp("casting")

    def made(shape, name):
        return solid.read(parts.write(shape, folder / f"{name}.step"), deflection_mm=0.01)

    return made


@pytest.fixture(scope="module")
def cast(read):
    return read(casting(), "casting")


@pytest.fixture(scope="module")
def part(read):
    return read(finished(), "part")


def reviewed(part, blank):
    block = SetupBlock(1, "G54", "+Z", "+X", (0.0, 0.0, FACE))
    made = piece("casting", finished, PROGRAM, ALUMINIUM, BOX, (block,))
    said = replace(made.said, blank=AS_MODEL, smallest=AS_MODEL, form=FORM)
    text = "\n".join(line.partition("|")[2] for line in made.lines)
    return review_whole(text.encode(), said, part, memory=MEMORY, blank=blank)


def test_a_blank_that_is_a_box_by_its_model_has_the_columns_of_the_box(read):
    mesh = blank_mesh(read(parts.box(40, 30, 16), "box"))
    grid = grid_over(BOX, 0.3)
    assert largest_difference(blank_columns(grid, BOX, FORM, mesh), shapes.box(grid, BOX)) < 1e-4


def test_a_casting_has_the_volume_that_open_cascade_gives_it(cast):
    mesh, props = blank_mesh(cast), GProp_GProps()
    BRepGProp.VolumeProperties_s(casting(), props)
    made = blank_columns(grid_over(mesh.box, 0.15), mesh.box, FORM, mesh)
    assert made.volumes() == pytest.approx([props.Mass()] * 3, rel=0.01)


def test_a_program_takes_off_a_casting_what_a_boolean_takes(part, cast):
    mesh = blank_mesh(cast)
    points, inverse = np.unique(mesh.points, axis=0, return_inverse=True)
    faces = inverse.reshape(-1)[mesh.triangles].astype(np.uint32)
    whole = manifold3d.Manifold(manifold3d.Mesh(points.astype(np.float32), faces))
    above = whole.trim_by_plane((0.0, 0.0, 1.0), FACE).volume()
    assert above == pytest.approx(1.5 * (1200 - math.pi * 25) + 2 * math.pi * 49, rel=0.01)  # as drawn above
    assert reviewed(part, cast).setups[0].removed_mm3 == pytest.approx(above, rel=0.02)


def test_nothing_is_missing_where_the_casting_holds_the_part(part, cast):
    assert "blank-short" not in {one.code for one in reviewed(part, cast).findings}


def test_a_casting_that_is_too_low_is_told_with_how_far_and_what_to_do(part, read):
    (found,) = [one for one in reviewed(part, read(casting(FACE - 0.4), "low")).findings if one.code == "blank-short"]
    assert found.measured == pytest.approx(0.4, abs=0.02)
    assert "larger blank" in found.message


def test_a_blank_by_its_model_has_one_size():
    with pytest.raises(NotPossible, match="one size"):
        one_size(BOX, ((0.0, 0.0, 0.0), (40.0, 30.0, 15.0)), FORM)


def test_a_blank_by_its_model_is_no_round_besides():
    with pytest.raises(NotPossible, match="say neither"):
        BlankForm(round_along=2, model="casting.step")


def test_a_blank_whose_model_is_not_there_is_no_box_in_its_place(part):
    with pytest.raises(NotPossible, match=r"casting\.step, is not there"):
        reviewed(part, None)


def test_a_file_of_two_solids_is_no_blank(read):
    two = read(parts.together(parts.box(5, 5, 5), parts.box(5, 5, 5, (9, 0, 0))), "two")
    with pytest.raises(Unreadable, match="holds 2 solids"):
        blank_mesh(two)
