import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.nc import CONTROLS
from shopflow.core.review import PersonTouch, PlanFacts
from shopflow.core.types import ControlProfile, Holder, Machine, Tool, ToolMaterial, ToolShape, ToolUse
from shopflow.programs import typed
from shopflow.records.canonical import canonical

LENGTHS = st.integers(0, 10**9).map(lambda count: count / 10_000)
TOOLS = st.builds(
    Tool,
    number=st.integers(1, 9999),
    name=st.text(max_size=20),
    shape=st.sampled_from(ToolShape),
    diameter_mm=LENGTHS,
    material=st.sampled_from(ToolMaterial),
    uses=st.frozensets(st.sampled_from(ToolUse)),
    holder=st.none() | st.builds(Holder, name=st.just("h"), profile=st.just(((0.0, 40.0), (60.5, 40.1)))),
)


def through_json(value):
    import json

    return json.loads(canonical(typed.plain(value)))


@given(TOOLS)
def test_a_tool_comes_back_equal_through_json(tool):
    assert typed.load(Tool, through_json(tool)) == tool


def test_a_tool_from_before_coatings_were_kept_has_none_said():
    kept = through_json(Tool(1, "drill", ToolShape.DRILL, 6.0))
    del kept["coating"]
    assert typed.load(Tool, kept).coating == ""


@pytest.mark.parametrize("control", CONTROLS.values(), ids=CONTROLS.keys())
def test_a_control_profile_comes_back_equal_through_json(control):
    assert typed.load(ControlProfile, through_json(control)) == control


def test_a_machine_comes_back_equal_through_json():
    machine = Machine("m", (760.0, 400.0, 500.0), (1.0, 2.0, 3.0), (0.1, 0.2, 0.3), 10_000.0, 50.0, 8000.0, 7.5)
    assert typed.load(Machine, through_json(machine)) == machine


def test_a_plan_comes_back_equal_through_json():
    plan = PlanFacts((PersonTouch(1, "turn the part over", "G54", "G55"),), ("G54", "G55"))
    assert typed.load(PlanFacts, through_json(plan)) == plan


def test_a_float_is_kept_as_its_shortest_text():
    assert typed.plain(0.1) == Decimal("0.1")


def test_what_has_no_plain_form_is_refused():
    with pytest.raises(TypeError, match="no plain form"):
        typed.plain(object())


def test_a_number_that_is_none_cannot_be_kept():
    with pytest.raises(ValueError, match="not a number"):
        canonical(typed.plain(math.nan))
