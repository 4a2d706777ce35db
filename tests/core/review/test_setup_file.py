"""SETUP.toml read and written: what is written is read back equal; what is not known is refused."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.core.cutting.rows import DataRow, Window
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.errors import Unreadable
from shopflow.core.nc import CONTROLS
from shopflow.core.planning.directions import AXES
from shopflow.core.planning.placement import placement
from shopflow.core.review import OnHand, PersonTouch, PlanFacts, Wear
from shopflow.core.review.life import Edge, LifeUnit
from shopflow.core.review.setup_file import read_setup_file
from shopflow.core.review.setup_text import written
from shopflow.core.review.setup_values import AS_MODEL, SetupBlock, SetupFile
from shopflow.core.stock.blanks import BlankForm
from shopflow.core.stock.holding import Solid
from shopflow.core.stock.shapes import Hole
from shopflow.core.types import Holder, Material, Tool, ToolCoating, ToolMaterial, ToolShape, ToolUse

SIZES = st.floats(0.001, 9000.0)
WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=12)
SIDES = st.lists(st.sampled_from(sorted(AXES)), max_size=3, unique=True).map(tuple)
ORDERS = [(), ((7, 1),), ((1, 7, 1),), ((), (("G54", (7, 1)), ("G55", (1,))))]
"""Of tools: of the whole program, or for each work offset."""
STANDS = [(up, along) for up in sorted(AXES) for along in sorted(AXES) if up[1] != along[1]]


WEARS = st.builds(
    Wear, st.integers(1, 99), st.sampled_from(Edge), st.none() | SIZES, st.just(LifeUnit.MINUTES), st.booleans()
)
HOLES = st.builds(Hole, st.integers(0, 2), st.tuples(SIZES, SIZES), SIZES)


@st.composite
def boxes(draw):
    low = [draw(st.floats(-500.0, 500.0)) for _ in range(3)]
    return tuple(low), tuple(one + draw(st.floats(1.0, 500.0)) for one in low)


@st.composite
def tools(draw, number):
    pairs = st.lists(st.tuples(SIZES, SIZES), min_size=1, max_size=3).map(tuple)
    return Tool(
        number, f"tool {number}, {draw(st.sampled_from(['long', 'a; b', 'ø']))}", draw(st.sampled_from(ToolShape)),
        draw(SIZES), draw(st.sampled_from(ToolMaterial)), corner_radius_mm=draw(SIZES), flutes=draw(st.integers(0, 9)),
        centre_cutting=draw(st.booleans()), through_coolant=draw(st.booleans()),
        uses=draw(st.frozensets(st.sampled_from(ToolUse), max_size=4)), coating=draw(st.sampled_from(ToolCoating)),
        holder=draw(st.none() | pairs.map(lambda profile: Holder("", profile))),
    )  # fmt: skip


@st.composite
def setup_files(draw):
    numbers = range(1, draw(st.integers(1, 3)) + 1)
    blocks = []
    for number in numbers:
        up, along = draw(st.sampled_from(STANDS))
        solids = draw(st.lists(st.builds(Solid, WORDS, boxes()), max_size=2).map(tuple))
        zero = tuple(draw(st.floats(-500.0, 500.0)) for _ in range(3))
        angles = draw(st.sampled_from([(0.0, 0.0, 0.0), (12.5, 0.0, -30.0)]))
        blocks.append(
            SetupBlock(number, f"G{53 + number}", up, along, zero, solids, *(draw(SIDES) for _ in range(3)),
                       angles_deg=angles)
        )  # fmt: skip
    row = DataRow("alu, cast", ToolMaterial.HSS, "", frozenset({ToolUse.DRILL}), 5.0, Window(1.0, 2.0, 3.5, "ours"),
                  None, is_own=True)  # fmt: skip
    blank = draw(boxes())
    control = replace(CONTROLS["calculator"], peck_retract_mm=draw(st.sampled_from([0.25, 1.0])))
    touches = draw(st.lists(st.builds(PersonTouch, st.just(1), WORDS, st.just("G54"), st.just("G55")), max_size=2))
    plan = PlanFacts(tuple(touches), tuple(one.work_offset for one in blocks), draw(st.sampled_from([(), (1, 7)])),
                     draw(st.sampled_from([0.0, 12.5])), *draw(st.sampled_from(ORDERS)))  # fmt: skip
    return SetupFile(
        "part one.step", replace(TYPICAL_MACHINE, control=control, name=draw(WORDS), power_kw=draw(SIZES),
                                      power_curve=draw(st.sampled_from([(), ((1500.0, 7.5), (8000.0, 6.25))]))),
        blank, draw(st.sampled_from([blank, ((blank[0]), tuple(one - 0.5 for one in blank[1]))])), tuple(blocks),
        (draw(tools(3)), draw(tools(12))), draw(st.none() | st.integers(0, 4)),
        draw(st.none() | st.builds(Material, WORDS, WORDS, SIZES, SIZES)),
        {"gouge_most": Decimal("0.0500")} if draw(st.booleans()) else {},
        (row,) if draw(st.booleans()) else (), plan, draw(st.booleans()),
        draw(st.builds(BlankForm, st.integers(-1, 2), st.lists(HOLES, max_size=2).map(tuple))),
        on_hand=draw(st.builds(OnHand, st.integers(0, 40), st.lists(WEARS, max_size=2).map(tuple))),
    )  # fmt: skip


def with_a_model(said):
    return replace(said, blank=AS_MODEL, smallest=AS_MODEL, form=BlankForm(model="cast/near net “ä”.step"))


def kept(folder, files):
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder / "SETUP.toml"


@settings(max_examples=25, deadline=None)
@given(said=setup_files() | setup_files().map(with_a_model))
def test_what_is_written_is_read_back_equal(tmp_path_factory, said):
    assert read_setup_file(kept(tmp_path_factory.mktemp("setup"), written(said))) == said


@pytest.mark.parametrize(("up", "along"), STANDS)
def test_a_setup_stands_as_a_plan_places_it(up, along):
    zero = (1.5, -2.0, 30.0)
    assert SetupBlock(1, "G54", up, along, zero).placement == placement(up, along, zero)


def test_a_setup_by_angles_stands_as_a_plan_places_it():
    zero, angles = (1.5, -2.0, 30.0), (45.0, 12.5, -30.0)
    block = SetupBlock(1, "G54", "-Y", "+X", zero, angles_deg=angles)
    assert block.placement == placement("-Y", "+X", zero, angles)


GOOD = """\
schema = 1
model = "part.step"
tools = "tools.csv"
control = "calculator"
[machine]
name = "mill"
travel_mm = [500, 400, 300]
rapid_mm_min = [20000, 20000, 15000]
acceleration_mm_s2 = [2000, 2000, 2000]
max_feed_mm_min = 8000
min_rpm = 50
max_rpm = 8000
power_kw = 7.5
[blank]
largest_mm = [[0, 0, -20], [60, 40, 1]]
[[setup]]
zero_mm = [0, 0, 0]
[[setup]]
work_offset = "G55"
up = "-Z"
zero_mm = [0, 0, -20]
"""
TOOLS = "number,name,shape,diameter_mm\n1,end mill,flat end mill,10\n"


def read(folder, text):
    return read_setup_file(kept(folder, {"SETUP.toml": text, "tools.csv": TOOLS}))


def test_what_a_person_leaves_out_has_its_default(tmp_path):
    first, second = read(tmp_path, GOOD).setups
    assert (first.number, first.work_offset, first.up, first.later) == (1, "G54", "+Z", ("-Z",))
    assert (second.number, second.known, second.later) == (2, ("+Z",), ())


SIZES_OF_GOOD = "largest_mm = [[0, 0, -20], [60, 40, 1]]"


def test_a_blank_may_be_given_by_its_model(tmp_path):
    said = read(tmp_path, GOOD.replace(SIZES_OF_GOOD, 'model = "casting.step"'))
    assert (said.form.model, said.blank) == ("casting.step", AS_MODEL)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('model = "a.step"\nsmallest_mm = [[0, 0, 0], [1, 1, 1]]', "one for all blanks: leave out smallest_mm"),
        ('model = "a.step"\nround_along = "Z"', "leave out round_along"),
        ('model = "/a.step"', "absolute path"),
        ('model = ""', "name of a STEP file"),
    ],
)
def test_a_blank_by_its_model_says_nothing_else_and_lies_beside_the_file(tmp_path, line, told):
    with pytest.raises(Unreadable, match=told):
        read(tmp_path, GOOD.replace(SIZES_OF_GOOD, line))


def test_programs_that_run_before_are_read_in_their_order(tmp_path):
    (tmp_path / "first.nc").write_bytes(b"%\nM30\n")
    said = read(tmp_path, GOOD.replace("[[setup]]", '[[setup]]\nprogram = "first.nc"', 1))
    assert said.earlier == (("first.nc", b"%\nM30\n"),)
    assert [block.number for block in said.blocks_of("first.nc")] == [1]
    assert said.plan.work_offsets == ("G55",)
    assert read_setup_file(kept(tmp_path, written(said))) == said


def test_a_direction_between_the_axes_is_a_side_as_well(tmp_path):
    text = GOOD.replace("zero_mm = [0, 0, 0]", 'zero_mm = [0, 0, 0]\nlater = [[0, 3, 3], "-Z"]')
    slanted, below = read(tmp_path, text).setups[0].others.later
    assert slanted == pytest.approx((0.0, math.sqrt(0.5), math.sqrt(0.5))) and below == AXES["-Z"]


def test_a_setup_after_one_by_angles_knows_what_that_one_cut(tmp_path):
    text = GOOD.replace("zero_mm = [0, 0, 0]", "zero_mm = [0, 0, 0]\nangles_deg = [45, 0, 0]")
    (known,) = read(tmp_path, text).setups[1].others.known
    assert known == pytest.approx((0.0, math.sqrt(0.5), math.sqrt(0.5)))


@pytest.mark.parametrize(
    ("was", "now", "what"),
    [
        ('up = "-Z"', 'up = "-Z"\nprogram = "last.nc"', "come first"),
        ("schema = 1", "schema = 2", "schema is 2"),
        ("schema = 1", "schema = 1\ncolour = 3", "colour"),
        ('"part.step"', '"/home/part.step"', "absolute path"),
        ('"tools.csv"', "'C:\\tools.csv'", "absolute path"),
        ('"tools.csv"', '"others.csv"', "cannot be read"),
        ('"calculator"', '"someone"', "cannot be read"),
        ('"G55"', '"G54"', "work offset of its own"),
        ('"G55"', '"54"', "no work offset"),
        ('up = "-Z"', 'up = "-X"', "square"),
        ('up = "-Z"', 'up = "-Z"\nangles_deg = [30]', "angles_deg is to be 3 numbers"),
        ('up = "-Z"', 'up = "-Z"\nlater = [[0, 0, 0]]', "or of directions"),
        ("max_rpm = 8000\n", "", "max_rpm"),
        ("[60, 40, 1]", "[60, 40, -20]", "second corner"),
        ("[60, 40, 1]", "[60, 40]", "3 numbers"),
        ("[blank]", "[house_rules]\ngouge = 1\n[blank]", "no such house rule"),
        ("[blank]", "[blank", "no TOML"),
    ],
)
def test_what_is_wrong_is_refused_in_words(tmp_path, was, now, what):
    assert was in GOOD
    with pytest.raises(Unreadable, match=what):
        read(tmp_path, GOOD.replace(was, now))
