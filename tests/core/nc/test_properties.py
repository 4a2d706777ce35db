"""What must hold for any program."""

import itertools
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.errors import NotPossible, Unreadable
from shopflow.core.nc.writing import MachineText, floor_copy
from shopflow.core.types import Motions
from tests.core.nc.reading_help import START

LIMITS = nc.Limits(max_bytes=100_000, max_steps=2_000, max_motions=5_000, max_unread=200)
PROFILES = st.sampled_from(list(nc.CONTROLS.values()))
FRAGMENTS = st.sampled_from(
    [
        "G0 ", "G1 ", "G2 ", "G3 ", "X1 ", "Y-2.5 ", "Z.5 ", "I1 ", "J-1 ", "R3 ", "F100 ", "S500 ", "M3 ", "M6 ",
        "T2 ", "G81 ", "G83 ", "Q.5 ", "P1 ", "L2 ", "K3 ", "G91 ", "G90 ", "G28 ", "G53 ", "G92 ", "G10 ", "M98 ",
        "M99 ", "O1 ", "O2\n", "%\n", "(", ")", ";", "#1=2 ", "#1 ", "[1+2] ", "[", "]", "\n", "\n", "\n", "G68 ",
        "G41 ", "D1 ", "G40 ", "H1 ", "G43 ", "IF ", "WHILE ", "GOTO 1 ", "N1 ", "DO1 ", "END1 ", "EQ ", ",R1 ",
        "G65 ", "M30\n", "E", "/", "G54.1 ", "G51 ", "G52 ", "G18 ", "G19 ", "G20 ", "G95 ", "G93 ", "é", "\t",
        "G73 ", "G84 ", "M29 ", "G76 ", "#3=[#3+1]\n", "IF[#1 LT 3]GOTO1\n", "WHILE[1]DO1\n", "WHILE[#3 LT 4]DO2\n",
        "END2\n", "G65P2A1 ", "M97P1 ", "M99P1 ", "o1 sub\n", "o1 endsub\n",
        "o1 call\n", "o2 if [1]\n", "o2 endif\n", "o3 while [1]\n", "#<a>=1 ",
        "G69 ", "G50 ", "G51.1 ", "G50.1 ", ",C.2 ", "G66P2A1 ", "G66 P1 ", "G67 ", "G43.1 ", "G43.1 Z9 ", "G52 X1 ",
        "G68 X1 Y1 R30. ", "G51.1 X2 ", "G99 ", "X3 Y4\n", "Z-2 R1 ", "G87 ", "G80\n",
    ]
)  # fmt: skip
TEXTS = st.lists(FRAGMENTS, max_size=60).map("".join)


def outcome(data, control, **options):
    """The reading, or None for a refusal in sentences; anything else is a failure."""
    try:
        return nc.read(data, control=control, limits=LIMITS, **options)
    except Unreadable as refusal:
        assert refusal.what.endswith(".")
        return None


def assert_sound(program):
    motions = program.motions
    assert len(motions) <= LIMITS.max_motions + 1
    assert np.isfinite(motions.start).all()
    assert np.isfinite(motions.end).all()
    assert (motions.line >= 1).all()
    assert (motions.line <= program.lines).all()
    assert all(entry.why and 0 <= entry.line <= program.lines for entry in program.unread)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=400), PROFILES)
def test_any_bytes_end_in_motions_or_a_refusal(data, control):
    program = outcome(data, control)
    if program:
        assert_sound(program)


@settings(max_examples=200, deadline=None)
@given(TEXTS, PROFILES)
def test_any_heap_of_words_ends_in_motions_or_a_refusal(text, control):
    program = outcome(text.encode(), control)
    if program:
        assert_sound(program)


@settings(max_examples=200, deadline=None)
@given(TEXTS, PROFILES)
def test_a_copy_reads_as_its_program(text, control):
    """read(write(read(x))) equals read(x)."""
    program = outcome(text.encode(), control)
    assume(program is not None)
    try:
        copy = floor_copy(program, rules=MachineText(line_end="\n"))
    except NotPossible as refusal:
        pytest.fail(str(refusal))
    assert copy.rstrip(b"\n") == text.encode().rstrip(b"\n")


BLOCKS = st.sampled_from(
    [
        ["G1", "X5", "Y2", "F200", "M8"], ["G2", "X10", "Y0", "I5", "J0", "F90"], ["G0", "G43", "H2", "Z9", "X1"],
        ["T3", "M6", "S900", "M3", "F40"], ["G81", "X2", "Y2", "Z-1", "R1", "F50"], ["G91", "G28", "Z0"],
        ["G1", "G55", "X1", "S100", "G20"], ["G4", "P2", "M9"], ["G83", "X2", "Z-4", "R1", "Q1", "G99", "L2"],
    ]
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(BLOCKS, min_size=1, max_size=4), st.randoms(use_true_random=False))
def test_the_order_of_words_in_a_block_does_not_matter(blocks, random):  # NISTIR 6556, 3.3.6
    straight = START + "\n".join(" ".join(block) for block in blocks)
    mixed = START + "\n".join(" ".join(random.sample(block, len(block))) for block in blocks)
    assert_same_motions(nc.read(straight.encode()).motions, nc.read(mixed.encode()).motions)


def assert_same_motions(one, two, tolerance=0.0):
    assert len(one) == len(two)
    for column in fields(Motions):
        left, right = getattr(one, column.name), getattr(two, column.name)
        if left.dtype.kind == "f":
            assert np.allclose(left, right, rtol=tolerance, atol=tolerance, equal_nan=True), column.name
        else:
            assert np.array_equal(left, right), column.name


POINTS = st.lists(st.tuples(*[st.integers(-2000, 2000)] * 3), min_size=1, max_size=12)


@settings(max_examples=60, deadline=None)
@given(POINTS)
def test_inch_and_millimetre_twins_move_alike(points):
    """Within 1e-6 mm: thousandths of an inch are written exactly in both (0.001 in = 0.0254 mm)."""
    inch, mm = ["G17 G20 G90 G54 G94 F10 G1"], ["G17 G21 G90 G54 G94 F254 G1"]
    for point in points:
        inch.append(" ".join(f"{axis}{value / 1000:.3f}" for axis, value in zip("XYZ", point, strict=True)))
        mm.append(" ".join(f"{axis}{value * 254 / 10000:.4f}" for axis, value in zip("XYZ", point, strict=True)))
    one, two = (nc.read("\n".join(lines).encode()).motions for lines in (inch, mm))
    assert_same_motions(one, two, tolerance=1e-6)


@settings(max_examples=60, deadline=None)
@given(POINTS)
def test_incremental_and_absolute_twins_move_alike(points):
    head = "G17 G21 G90 G54 G94 F100 G1 X0 Y0 Z0\n"
    absolute = head + "\n".join("X{} Y{} Z{}".format(*(value / 100 for value in point)) for point in points)
    steps = [np.subtract(after, before) for before, after in itertools.pairwise([(0, 0, 0), *points])]
    incremental = (
        head + "G91\n" + "\n".join("X{} Y{} Z{}".format(*(int(value) / 100 for value in step)) for step in steps)
    )
    one, two = (nc.read(text.encode()).motions for text in (absolute, incremental))
    assert np.allclose(one.end, two.end, atol=1e-9)


@seed(20_261_128)
@settings(max_examples=1_000, deadline=None, database=None)
@given(TEXTS, PROFILES)
def test_the_same_heaps_of_words_in_every_run(text, control):
    """The same share of the soak's inputs in every run, so that a change of the reader shows at once."""
    program = outcome(text.encode(), control)
    if program:
        assert_sound(program)


@pytest.mark.soak
@settings(max_examples=100_000, deadline=None)
@given(TEXTS, PROFILES)
def test_soak_any_heap_of_words(text, control):
    program = outcome(text.encode(), control)
    if program:
        assert_sound(program)
