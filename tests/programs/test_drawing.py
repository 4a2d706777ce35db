import struct

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.programs.drawing import drawing, offsets_drawn

CIRCLE = b"G21 G90 G17\nG0 X10. Y0. Z0.\nG2 X10. Y0. I-10. F100.\nG1 X20.\nG55 G0 X0. Y0. Z5.\nG1 Z0.\nM30\n"


@pytest.fixture(scope="module")
def motions():
    return nc.read(CIRCLE, control=nc.CONTROLS["calculator"]).motions


def unpack(data):
    assert data[:4] == b"SFP1"
    count, points, _ = struct.unpack("<3I", data[4:16])
    columns = np.frombuffer(data, "<i4", 3 * count, 16).reshape(3, count)
    starts = np.frombuffer(data, "<u4", count + 1, 16 + 12 * count)
    where = np.frombuffer(data, "<f4", 3 * points, 16 + 12 * count + 4 * (count + 1)).reshape(points, 3)
    return columns, starts, where


def test_each_work_offset_is_drawn_apart(motions):
    assert offsets_drawn(motions) == [1, 2]
    assert set(unpack(drawing(motions, offset=2))[0][0]) == {5, 6}


def test_the_drawing_ends_with_its_last_point(motions):
    data = drawing(motions, offset=1)
    columns, _, points = unpack(data)
    assert len(data) == 16 + 12 * columns.shape[1] + 4 * (columns.shape[1] + 1) + 12 * len(points)


def test_every_point_of_a_circle_lies_on_it(motions):
    columns, starts, points = unpack(drawing(motions, offset=1))
    arc = int(np.flatnonzero(columns[0] == 3)[0])
    on_arc = points[starts[arc] : starts[arc + 1]]
    assert np.allclose(np.hypot(on_arc[:, 0], on_arc[:, 1]), 10.0, atol=1e-4)
    assert len(on_arc) == 49  # 360° in chords of 7.5°


def test_a_circle_turns_the_way_it_is_programmed(motions):
    columns, starts, points = unpack(drawing(motions, offset=1))
    arc = int(np.flatnonzero(columns[0] == 3)[0])
    assert points[starts[arc] + 1][1] < 0  # G2 from (10, 0) about (0, 0) goes down first


def test_motions_join_where_one_ends_and_the_next_begins(motions):
    columns, starts, points = unpack(drawing(motions, offset=1))
    arc, line = (int(np.flatnonzero(columns[0] == number)[0]) for number in (3, 4))
    assert np.allclose(points[starts[arc + 1] - 1], points[starts[line]], atol=1e-4)


def test_a_motion_from_an_unknown_place_is_its_end_alone(motions):
    _, starts, _ = unpack(drawing(motions, offset=1))
    assert starts[1] - starts[0] == 1
