"""Damaged files: each is read or refused in words, and the geometry process goes on. Hundreds in `make soak`."""

import random
import re
import sys

import pytest

from shopflow.core import solid
from shopflow.core.errors import Unreadable

FILES = (
    "featuretype.STEP", "nist_ctc_01_asme1_ap242-e1.stp", "nist_ctc_05_asme1_ap242-e1.stp", "odri_hip_aa_support.STEP",
    "odri_body_structure_bottom.STEP", "plate_mode_samples_rhino.stp",
)  # fmt: skip
LIMITS = solid.Limits(wall_s=20, cpu_s=20, mesh_s=5, view_s=5)
FAULTS = ("digit", "byte", "cut", "double", "huge", "swap", "line out", "tail")
NUMBER, REFERENCE = re.compile(rb"-?\d+\.\d*(?:E[-+]?\d+)?"), re.compile(rb"#\d+")


def mutated(data, dice):
    """The bytes with a few faults of the kinds in FAULTS; in some, the end is missing."""
    data = bytearray(data)
    for _ in range(dice.randint(1, 12)):
        fault, at = dice.choice(FAULTS[:-1]), dice.randrange(200, len(data) - 200)
        if fault == "digit":
            digits = [i for i in range(at, min(at + 400, len(data))) if 48 <= data[i] <= 57]
            for i in digits[:1]:
                data[i] = dice.randrange(48, 58)
        elif fault == "byte":
            data[at] = dice.randrange(256)
        elif fault == "cut":
            del data[at : at + dice.randint(1, 60)]
        elif fault == "double":
            data[at:at] = data[at : at + dice.randint(1, 60)]
        else:
            rewrite(data, fault, at, dice)
    if dice.random() < 0.05:
        del data[dice.randrange(len(data) // 2, len(data)) :]
    return bytes(data)


def rewrite(data, fault, at, dice):
    """One number made absurd, one reference turned to another entity, or one entity left out."""
    if fault == "huge" and (found := NUMBER.search(data, at)):
        data[found.start() : found.end()] = dice.choice((b"1.E300", b"-1.E300", b"0.", b"1.E-300", b"9999999."))
    elif fault == "swap" and (found := REFERENCE.search(data, at)):
        other = REFERENCE.search(data, dice.randrange(200, len(data) - 200))
        data[found.start() : found.end()] = other[0] if other else b"#1"
    elif fault == "line out":
        end = data.find(b";", at)
        start = data.rfind(b";", 0, at) + 1
        if end > start:
            del data[start : end + 1]


def damaged(models, tmp_path, *, trials, seed):
    """Read that many damaged files with one kernel: how many were read and refused, and the kernel."""
    dice = random.Random(seed)
    sources = [(models / name).read_bytes() for name in FILES]
    kernel = solid.Kernel()
    assert solid.read(models / FILES[0], using=kernel).holes
    pid, ends = kernel.pid, []
    path = tmp_path / "damaged.step"
    for trial in range(trials):
        path.write_bytes(mutated(sources[trial % len(sources)], dice))
        try:
            solid.read(path, using=kernel, limits=LIMITS)
            ends.append("read")
        except Unreadable as error:
            assert error.what and error.mend
            ends.append("refused")
        assert kernel.pid == pid, f"the geometry process went down at trial {trial}"
    assert solid.read(models / FILES[0], using=kernel).volume_mm3 == pytest.approx(190531.995, abs=0.01)
    assert kernel.pid == pid and len(ends) == trials
    return ends, kernel


def told(ends, kernel):
    return f"{ends.count('read')} read, {ends.count('refused')} refused, at most {kernel.peak_bytes / 1e6:.0f} MB"


def test_a_dozen_damaged_files_are_read_or_refused(models, tmp_path, record_property):
    ends, kernel = damaged(models, tmp_path, trials=12, seed=7)
    record_property("damaged files", told(ends, kernel))
    assert 0 < kernel.peak_bytes < LIMITS.memory_bytes
    kernel.close()


@pytest.mark.soak
def test_three_hundred_damaged_files_are_read_or_refused(models, tmp_path, capsys):
    ends, kernel = damaged(models, tmp_path, trials=300, seed=20)
    with capsys.disabled():
        sys.stdout.write(f"\n300 damaged files: {told(ends, kernel)} a process\n")
    assert kernel.peak_bytes < LIMITS.memory_bytes
    kernel.close()


def test_the_memory_that_a_read_held_is_known(plain_part):
    kernel = solid.Kernel()
    solid.read(plain_part, using=kernel)
    assert 50e6 < kernel.peak_bytes < solid.Limits().memory_bytes
    kernel.close()
