"""Tool tables as CSV."""

import pytest

from shopflow.core.errors import Unreadable
from shopflow.core.nc.tool_table import read_tool_table
from shopflow.core.types import ToolMaterial, ToolShape

HEAD = "number,name,shape,diameter_mm,material,flutes,centre_cutting\n"


def test_a_tool_has_what_its_row_says():
    tools = read_tool_table((HEAD + "7,6 mm drill,drill,6.0,high-speed steel,2,yes\n").encode())
    tool = tools[7]
    assert (tool.name, tool.shape, tool.diameter_mm) == ("6 mm drill", ToolShape.DRILL, 6.0)
    assert (tool.material, tool.flutes, tool.centre_cutting) == (ToolMaterial.HSS, 2, True)


def test_an_empty_cell_keeps_the_default():
    assert read_tool_table((HEAD + "7,x,drill,6.0,,,\n").encode())[7].material is ToolMaterial.CARBIDE


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "lacks"),
        ("number,name\n", "lacks"),
        (HEAD.replace("flutes", "colour"), "colour"),
        (HEAD + "x,a,drill,6,,,\n", "number"),
        (HEAD + "7,a,spoon,6,,,\n", "shape"),
        (HEAD + "7,a,drill,,,,\n", "diameter_mm"),
        (HEAD + "7,a,drill,6,,,\n7,b,drill,6,,,\n", "twice"),
    ],
)
def test_what_is_no_tool_table_is_refused_in_a_sentence(text, why):
    with pytest.raises(Unreadable, match=why):
        read_tool_table(text.encode())


def test_bytes_that_are_no_text_are_refused():
    with pytest.raises(Unreadable, match="plain text"):
        read_tool_table(b"\xff\xfe\x00")
