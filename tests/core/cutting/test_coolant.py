"""Which coolant is usual. All of it is common practice, no source."""

import pytest

from shopflow.core.cutting.coolant import default_rows, usual_coolant
from shopflow.core.cutting.groups import GROUPS
from shopflow.core.cutting.rows import DataRow, Way, Ways
from shopflow.core.types import Material, Tool, ToolCoating, ToolMaterial, ToolShape, ToolUse

HSS, INSERT = ToolMaterial.HSS, ToolMaterial.INSERT


def a_tool(shape, material=ToolMaterial.CARBIDE, **more):
    return Tool(1, "tool", shape, 10.0, material, **more)


def usual(tool, group, own=()):
    return usual_coolant(tool, Material("a bar", group, 1000.0), own)


@pytest.mark.parametrize("group", sorted({name for name, _ in GROUPS}))
@pytest.mark.parametrize("shape", [shape for shape in ToolShape if shape is not ToolShape.PROBE])
@pytest.mark.parametrize("material", list(ToolMaterial))
def test_every_group_has_a_coolant_for_every_tool(group, shape, material):
    assert usual(a_tool(shape, material), group).usual


def test_every_row_names_a_known_group_and_says_why():
    known = {name for name, _ in GROUPS}
    assert {row.group for row in default_rows()} == known and all(row.coolant.why for row in default_rows())


@pytest.mark.parametrize(
    ("tool", "group", "first", "decides"),
    [
        (a_tool(ToolShape.DRILL, HSS), "stainless steel", Way.FLOOD, True),
        (a_tool(ToolShape.TAP, HSS), "aluminium", Way.FLOOD, True),
        (a_tool(ToolShape.FLAT), "cast iron", Way.DRY, False),
        (a_tool(ToolShape.FACE, INSERT), "low carbon steel", Way.DRY, False),
        (a_tool(ToolShape.FLAT, coating=ToolCoating.ALTIN), "alloy steel", Way.AIR, False),
        (a_tool(ToolShape.FLAT), "alloy steel", Way.FLOOD, False),
        (a_tool(ToolShape.FLAT), "titanium", Way.FLOOD, True),
        (a_tool(ToolShape.FLAT), "plastic", Way.AIR, False),
    ],
)
def test_the_closest_row_of_the_table_counts(tool, group, first, decides):
    found = usual(tool, group)
    assert (found.usual[0], found.decides) == (first, decides)


def test_the_shop_s_own_row_goes_before_the_table():
    own = DataRow("aluminium", None, "", frozenset({ToolUse.ROUGH}), None, None, None, True, Ways((Way.DRY,), True))
    assert usual(a_tool(ToolShape.FLAT), "aluminium", [own]).usual == (Way.DRY,)


def test_an_own_row_of_another_diameter_does_not_count():
    own = DataRow("aluminium", None, "", frozenset({ToolUse.ROUGH}), 4.0, None, None, True, Ways((Way.DRY,), True))
    assert usual(a_tool(ToolShape.FLAT), "aluminium", [own]).usual[0] is Way.FLOOD


def test_an_own_row_that_says_no_coolant_leaves_the_table_s():
    own = DataRow("aluminium", None, "", frozenset({ToolUse.ROUGH}), None, None, None, is_own=True)
    assert usual(a_tool(ToolShape.FLAT), "aluminium", [own]).usual[0] is Way.FLOOD


def test_nothing_is_usual_in_a_material_of_no_known_group():
    assert usual(a_tool(ToolShape.FLAT), "unobtainium") is None


def test_a_probe_has_no_coolant():
    assert usual(a_tool(ToolShape.PROBE), "aluminium") is None
