"""Rows of the shop for tests."""

import datetime as dt

from shopflow.shop.models import (
    ClosedDay,
    ControlProfile,
    CuttingData,
    Fixture,
    Gauge,
    Holder,
    Machine,
    Material,
    StockBar,
    Tool,
    ToolMaterial,
    ToolShape,
)
from tests.objects import makes, makes_all


def a_tool(number=1, **fields):
    given = {
        "number": number, "name": f"end mill {number}", "shape": ToolShape.FLAT, "diameter": "10 mm", "flutes": 3,
        "material": ToolMaterial.CARBIDE, "flute_length": "22 mm", "stickout": "30 mm",
    }  # fmt: skip
    return Tool(**{**given, **fields})


def a_machine(name="Mill One", **fields):
    return Machine(**{"name": name, "travel_x": "500 mm", "travel_y": "400 mm", "travel_z": "400 mm", **fields})


def a_material(name="aluminium 6061", **fields):
    return Material(**{"name": name, "group": "aluminium", "density": "2700", **fields})


def a_gauge(number="M-01", **fields):
    return Gauge(**{"number": number, "name": "micrometer 0-25", "resolution": "0.001 mm", **fields})


def a_cutting_row(number=1, **fields):
    given = {
        "number": number,
        "group": "aluminium",
        "uses": ["rough"],
        "speed_usual": "400",
        "reason": "tried on Alder",
    }
    return CuttingData(**{**given, **fields})


def a_bar(number="B-01", **fields):
    given = {
        "number": number, "shape": "flat bar", "thickness": "20 mm", "width": "50 mm", "length": "1000 mm",
        "on_hand": 2, "heat_number": "H1", "place": "rack 1",
    }  # fmt: skip
    material = (
        fields.pop("material", None)
        or Material.objects.get_or_create(name="steel 1018", defaults={"group": "low carbon steel", "density": "7870"})[
            0
        ]
    )
    return StockBar(material=material, **{**given, **fields})


def a_fixture(number="J-01", **fields):
    return Fixture(**{"number": number, "name": "jaws for the cover", "recuts_left": 3, **fields})


def a_closed_day(name="Founders' day 2026", **fields):
    return ClosedDay(**{"name": name, "day": dt.date(2026, 12, 24), **fields})


def kept(row):
    """Saved past the actions, as a given for tests of other things."""
    row.full_clean()
    row.save()
    return row


ROWS = {
    "crib": a_tool,
    "holders": lambda: Holder(name="collet 32", profile=[["0", "27"], ["40", "27"], ["40", "50"]]),
    "machines": a_machine,
    "materials": a_material,
    "cutting": a_cutting_row,
    "gauges": a_gauge,
    "rack": a_bar,
    "fixtures": a_fixture,
    "closed_days": a_closed_day,
}


@makes_all("shop:tool_edge")
def a_tool_of_the_crib(everybody):
    return {"row_id": kept(a_tool()).pk}


def _register(key):
    @makes_all(f"shop:{key}_row")
    @makes_all(f"shop:{key}_remove")
    def a_row(everybody):
        return {"row_id": kept(ROWS[key]()).pk}


for _key in ROWS:
    _register(_key)


@makes("rule_key")
def a_rule(everybody):
    return "hss_plunge_most"


@makes("name")
def the_name_of_a_profile(everybody):
    """A control profile of the shop's own, which can be changed and removed."""
    return ControlProfile.objects.create(name="mill-2", title="Mill 2", based_on="calculator").name
