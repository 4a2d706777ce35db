"""The mesh file: what is written is read again, and nothing else is taken for one."""

import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.solid.mesh import EMPTY, MAGIC, Mesh

TRIANGLE = Mesh(
    np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]], np.float32),
    np.array([[0, 1, 2]], np.uint32),
    np.array([7], np.int32),
    np.array([0, 2], np.uint32),
    np.array([[0, 0, 0], [1, 0, 0]], np.float32),
)


def same(one, other):
    names = ("points", "triangles", "faces", "edge_starts", "edge_points")
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in names)


@pytest.mark.parametrize("mesh", [TRIANGLE, EMPTY])
def test_a_mesh_survives_its_bytes(mesh):
    assert same(Mesh.from_bytes(mesh.to_bytes()), mesh)


def test_the_layout_is_the_documented_one():
    data = TRIANGLE.to_bytes()
    assert data[:4] == MAGIC and struct.unpack_from("<4I", data, 4) == (3, 1, 1, 2)
    assert struct.unpack_from("<9f", data, 32) == (0, 0, 0, 1, 0, 0, 0, 1, 0)
    assert struct.unpack_from("<3I", data, 68) == (0, 1, 2) and struct.unpack_from("<i", data, 80) == (7,)
    assert struct.unpack_from("<2I", data, 84) == (0, 2) and len(data) == 84 + 8 + 24


@given(st.binary(max_size=300))
def test_other_bytes_are_refused(data):
    with pytest.raises(ValueError, match="not a mesh"):
        Mesh.from_bytes(MAGIC + data if len(data) % 2 else data)


@pytest.mark.parametrize(
    ("at", "value"),
    [(68, struct.pack("<I", 3)), (32, struct.pack("<f", float("nan"))), (84, struct.pack("<I", 1)), (4, b"\xff" * 4)],
)
def test_a_mesh_that_points_outside_itself_is_refused(at, value):
    data = bytearray(TRIANGLE.to_bytes())
    data[at : at + len(value)] = value
    with pytest.raises(ValueError, match="not a mesh"):
        Mesh.from_bytes(bytes(data))


def test_the_edges_of_a_block_are_drawn_once_each(read_shape):
    from tests.core.solid import parts

    mesh = read_shape(parts.box(30, 20, 10)).mesh
    assert (len(mesh.points), len(mesh.triangles), len(mesh.edge_starts) - 1) == (24, 12, 12)
    assert sorted(set(mesh.faces.tolist())) == [0, 1, 2, 3, 4, 5]


def test_a_bore_s_seam_is_not_drawn(plain_part):
    from shopflow.core import solid

    mesh = solid.read(plain_part).mesh
    assert len(mesh.edge_starts) - 1 == 12 + 2
