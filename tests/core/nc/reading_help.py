"""Short ways to read a text and to look at its motions; shared by the tests of the reader."""

from pathlib import Path

import pytest

from shopflow.core import nc
from shopflow.core.types import MotionKind

ROOT = Path(__file__).resolve().parents[3]
PROGRAMS = ROOT.parent / "shared" / "programs"
SAMPLES = Path(__file__).resolve().parent / "samples"
CALCULATOR = nc.CONTROLS["calculator"]
INCREMENT = nc.CONTROLS["increment"]
KIND = {MotionKind.RAPID: "rapid", MotionKind.FEED: "feed", MotionKind.ARC: "arc", MotionKind.DWELL: "dwell"}

START = "G17 G21 G90 G54 G40 G49 G94 F100 S1000 M3\n"
"""What a program must state, so that a test's own lines raise no entries about other things."""


def read(text, control=nc.PLAIN, **options):
    return nc.read(text.encode(), control=control, **options)


def run(lines, control=nc.PLAIN, **options):
    """Read lines behind a safe start."""
    return read(START + lines, control, **options)


def moves(program):
    """(kind, (x, y, z)) of every motion, rounded to a nanometre."""
    motions = program.motions
    ends = motions.end.round(6).tolist()
    return [(KIND[MotionKind(kind)], tuple(end)) for kind, end in zip(motions.kind.tolist(), ends, strict=True)]


def ends(program):
    return [end for _, end in moves(program)]


def whys(program):
    return [(entry.line, entry.why) for entry in program.unread]


def sole_why(program):
    """The reason of the only entry."""
    assert len(program.unread) == 1, program.unread
    return program.unread[0].why


def shared_program(name):
    if not PROGRAMS.is_dir():
        pytest.skip("the folder ../shared/programs with programs of other people is not here")
    return (PROGRAMS / name).read_bytes()


def sample(name):
    return (SAMPLES / name).read_bytes()
