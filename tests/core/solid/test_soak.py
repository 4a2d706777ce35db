"""Damaged files by the hundred: each is read or refused, and the geometry process goes on (make soak)."""

import random

import pytest

from shopflow.core import solid
from shopflow.core.errors import Unreadable

FILES = ("featuretype.STEP", "nist_ctc_01_asme1_ap242-e1.stp", "odri_hip_aa_support.STEP")
TRIALS = 300
LIMITS = solid.Limits(wall_s=20, cpu_s=20, mesh_s=5)


def mutated(data, dice):
    """The bytes with a few faults: a digit changed, a reference turned elsewhere, a piece cut out or doubled."""
    data = bytearray(data)
    for _ in range(dice.randint(1, 12)):
        at = dice.randrange(200, len(data) - 200)
        fault = dice.choice(("digit", "byte", "cut", "double"))
        if fault == "digit":
            digits = [i for i in range(at, min(at + 400, len(data))) if 48 <= data[i] <= 57]
            for i in digits[:1]:
                data[i] = dice.randrange(48, 58)
        elif fault == "byte":
            data[at] = dice.randrange(256)
        elif fault == "cut":
            del data[at : at + dice.randint(1, 60)]
        else:
            data[at:at] = data[at : at + dice.randint(1, 60)]
    return bytes(data)


@pytest.mark.soak
def test_three_hundred_damaged_files_are_read_or_refused(models, tmp_path):
    dice = random.Random(20)
    sources = [(models / name).read_bytes() for name in FILES]
    kernel = solid.Kernel()
    path, read, refused = tmp_path / "damaged.step", 0, 0
    for _ in range(TRIALS):
        path.write_bytes(mutated(dice.choice(sources), dice))
        try:
            solid.read(path, using=kernel, limits=LIMITS)
            read += 1
        except Unreadable as error:
            assert error.what and error.mend
            refused += 1
    first = kernel.pid
    assert solid.read(models / FILES[0], using=kernel).volume_mm3 == pytest.approx(190531.995, abs=0.01)
    assert kernel.pid == first and read + refused == TRIALS
    kernel.close()
