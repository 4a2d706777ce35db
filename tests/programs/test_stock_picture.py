"""The bytes that the viewer draws stock from, taken apart as the browser does it."""

import json
import struct
import zlib

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.review.simulation import Bench
from shopflow.core.stock.holding import Solid
from shopflow.core.stock.removal import Conditions, remove
from shopflow.programs import simulating, stock_picture
from shopflow.records import cache
from tests.programs.test_removing import BLANK, HEAD, MILL, SLOT, keep_model, simulated

KEY, CLAMP = "f" * 64, Solid("clamp", ((50.0, 10.0, -5.0), (60.0, 20.0, 3.0)))
PASSES = SLOT.replace("X80. F600.\n", "X80. F600.\nG3 X70. Y10. I-10. J0. F300.\nG1 X0. Z-4.\nX-10. Y-15.\n")


def headed(data, letters):
    found, length = struct.unpack_from("<4sI", data)
    assert found == letters
    return json.loads(data[8 : 8 + length]), data[8 + length :]


def taken(data, *kinds):
    """Arrays of (type, count) one after the other, and nothing after them."""
    arrays, at = [], 0
    for kind, count in kinds:
        arrays.append(np.frombuffer(data, kind, count, at))
        at += arrays[-1].nbytes
    assert at == len(data)
    return arrays


class Picture:
    def __init__(self):
        self.header, rest = headed(cache.read(simulating.picture_key(KEY, 1)), b"SFS1")
        changes, frames, lines = (self.header[name] for name in ("changes", "frames", "lines"))
        self.motion, self.begins, self.cell, self.top, self.low, self.line, _, _, _, *self.loads, self.elapsed = taken(
            rest, ("<i4", frames), ("<u4", frames + 1), ("<u4", changes), ("<f4", changes), ("<f4", changes),
            ("<i4", lines), *[("<f4", lines)] * 7, ("<f4", self.header["motions"]),
        )  # fmt: skip

    def stretch(self, number):
        data = zlib.decompress(cache.read(simulating.stretch_key(KEY, 1, number)))
        letters, changes = struct.unpack_from("<4sI", data)
        assert letters == b"SFT1"
        return taken(data[8:], ("<u4", changes), ("<u4", changes), ("<f4", changes))

    def after(self, motion):
        """Heights after so many drawn motions: the last frame before, and the changes since."""
        frame = int(np.searchsorted(self.motion, motion, side="right")) - 1
        cells = int(np.prod(self.header["shape"]))
        low, top = np.zeros(cells, np.float32), np.zeros(cells, np.float32)
        rows = slice(0, self.begins[frame + 1])
        for cell, height, floor in zip(self.cell[rows], self.top[rows], self.low[rows], strict=True):
            top[cell], low[cell] = height, floor
        if motion > self.motion[frame] and frame + 1 < len(self.motion):
            for at, cell, value in zip(*self.stretch(frame), strict=True):
                if at <= motion:
                    (low if cell & stock_picture.IS_LOW else top)[cell & ~stock_picture.IS_LOW] = value
        return low, top


@pytest.fixture
def picture(settings, tmp_path, monkeypatch):
    settings.CACHE_DIR = tmp_path
    monkeypatch.setattr(stock_picture, "LEAST_STEP", 2)
    keep_model(-2.0)
    simulated(PASSES, holding=(CLAMP,))
    return Picture()


def test_after_every_motion_the_picture_has_the_heights_of_a_run_up_to_it(picture):
    motions = nc.read((HEAD + PASSES).encode(), tools={1: MILL}).motions
    bench = Bench(None, {MILL.number: MILL}, None, None)
    (begun,) = bench._blanks(simulating.Place(1, 1, None, BLANK, BLANK))
    step = round(picture.header["pitch"] / begun.pitch)
    drawn = simulating.rows_drawn(motions, 1)
    assert picture.header["frames"] > 2
    for number in range(len(drawn) + 1):
        end = drawn[number - 1] + 1 if number else 0
        columns = remove(begun.vertical_only(), motions, {1: MILL}, Conditions(TYPICAL_MACHINE), end=int(end)).columns
        wanted = columns.along(2).extremes()[1][::step, ::step].reshape(-1)
        np.testing.assert_array_equal(picture.after(number)[1], np.where(np.isfinite(wanted), wanted, 0.0))


def test_the_picture_has_what_holds_the_part_and_the_seconds_of_each_motion(picture):
    assert picture.header["holding"] == [["clamp", 50.0, 10.0, -5.0, 60.0, 20.0, 3.0]]
    assert (np.diff(picture.elapsed) >= 0).all() and picture.elapsed[-1] > 9.0  # 120 mm at 600 mm/min take 12 s


def test_what_a_line_asks_of_the_spindle_is_not_known_without_a_material(picture):
    assert len(picture.loads) == 4 and np.isnan(np.array(picture.loads)).all()


def test_the_deviation_of_the_floor_of_the_slot_stands_on_the_faces_of_the_model(picture):
    header, rest = headed(zlib.decompress(cache.read(simulating.deviation_key(KEY, 1))), b"SFD1")
    points, triangles, faces, off = taken(
        rest, ("<f4", 3 * header["points"]), ("<u4", 3 * header["triangles"]), ("<i4", header["triangles"]),
        ("<f4", header["points"]),
    )  # fmt: skip
    top = np.isclose(points.reshape(-1, 3)[:, 2], -2.0)
    assert np.nanmax(off[top]) == pytest.approx(2.0, abs=0.01) and np.nanmin(off[top]) == pytest.approx(-2.0, abs=0.01)
    assert triangles.max() < header["points"]
    deepest = max(numbers[1] for numbers in header["faces"].values())
    assert deepest == pytest.approx(2.0, abs=0.01) and set(faces.tolist()) >= set(map(int, header["faces"]))
