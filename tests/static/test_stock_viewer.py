"""Stock as it is cut, in a real browser, from the bytes that the server's own code writes."""

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.stock import shapes
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.holding import Solid
from shopflow.core.stock.lines import by_line
from shopflow.core.stock.loads import loads_by_line, loads_of
from shopflow.core.stock.removal import Conditions, remove
from shopflow.core.types import Material, Tool, ToolShape
from shopflow.programs import drawing
from shopflow.programs.stock_picture import Shown, picture_of
from tests.static.test_viewer import ready

pytestmark = pytest.mark.browser

TEXT = b"G21 G90 G54\nT1 M6\nS3000 M3\nG0 X-10 Y15 Z40\nG0 Z10\nG1 Z-2 F500\nG1 X20\nG1 X50\nG0 Z40\nM30\n"
SOLID, JAW = ((0.0, 0.0, -10.0), (40.0, 30.0, 0.0)), Solid("front jaw", ((-20.0, -15.0, -30.0), (60.0, 0.0, -6.0)))


@pytest.fixture(scope="module")
def cut():
    """The bytes of path and stock of a slot cut in two motions, and of the one stretch between its two states."""
    motions, tools = nc.read(TEXT).motions, {1: Tool(1, "", ToolShape.FLAT, 8.0)}
    columns, conditions = shapes.box(grid_over(SOLID, 1.0), SOLID).vertical_only(), Conditions(TYPICAL_MACHINE)
    picture = picture_of(columns, motions, tools, conditions)
    (stretch,) = picture.stretches
    elapsed = np.arange(1.0, len(drawing.rows_drawn(motions, 1)) + 1.0)
    removal, steel = remove(columns, motions, tools, conditions), Material("steel", "steel", 7850.0, 0.05)
    loads = loads_of(removal, motions, cycle_time(motions).row_s, tools, TYPICAL_MACHINE, steel)
    stock = picture.to_bytes(
        by_line(removal, motions), loads_by_line(loads, motions), elapsed, Shown(tools, (JAW,), deviates=False)
    )
    return {"paths": drawing.drawing(motions, offset=1), "stock": stock, "stretch": stretch}


def opened(page, desk, cut, *, stretch):
    desk.answers |= {"/stock/": cut["stock"], "/stock/0/": stretch}
    return ready(page, desk, paths=cut["paths"], stock_url="/stock/")


def slide(page, value):
    page.locator("[data-scrub]").evaluate("(it, at) => { it.value = at; it.dispatchEvent(new Event('input')) }", value)


def test_between_two_states_the_stock_stands_exactly_after_the_line(page, desk, cut):
    viewer = opened(page, desk, cut, stretch=cut["stretch"])
    slide(page, 4)
    page.locator("[data-stock-exact=yes][data-stock-line='7']").wait_for()
    says = viewer.locator("[data-cut-says]").inner_text()
    assert "Stock as after line 7." in says and "cm³/min, thickest chip" in says and "kW; the tool gives way" in says


def test_where_the_changes_are_lost_the_picture_says_which_state_it_shows(page, desk, cut):
    viewer = opened(page, desk, cut, stretch=(404, ""))
    slide(page, 4)
    assert "no longer kept" in viewer.locator("[data-cut-says]").inner_text()
    assert viewer.get_attribute("data-stock-exact") == ""


def test_jaws_stand_where_the_simulation_has_them(page, desk, cut):
    box = opened(page, desk, cut, stretch=cut["stretch"]).get_attribute("data-holding-box").split()
    assert [float(value) for value in box[1:3] + box[4:]] == pytest.approx([-15.0, -30.0, 0.0, -6.0], abs=0.01)


def test_a_slider_by_minute_comes_to_the_same_line(page, desk, cut):
    viewer = opened(page, desk, cut, stretch=cut["stretch"])
    page.locator("[data-scrub-by]").select_option("minute")
    slide(page, 4)
    page.locator("[data-stock-exact=yes][data-stock-line='7']").wait_for()
    assert viewer.locator("[data-scrub-says]").inner_text().startswith("minute 0.07 of")
