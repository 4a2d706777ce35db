"""What an action needs to know of each kind of row: who may change it, how the ledger calls it, what it touches."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import models

from shopflow.people.access import Act
from shopflow.shop.models import ClosedDay, CuttingData, Fixture, Gauge, Holder, Machine, Material, StockBar, Tool


@dataclass(frozen=True)
class Kind:
    """name: in ledger kinds (tool_changed). key: the field that names a row. bound: a sign-off may depend on it."""

    model: type[models.Model]
    name: str
    key: str
    act: Act = Act.EDIT_SHOP
    bound: bool = True


Tools = Kind(Tool, "tool", "number")
Holders = Kind(Holder, "holder", "name")
Machines = Kind(Machine, "machine", "name")
Materials = Kind(Material, "material", "name")
Cutting = Kind(CuttingData, "cutting_data", "number")
Gauges = Kind(Gauge, "gauge", "number", act=Act.EDIT_GAUGES, bound=False)
Fixtures = Kind(Fixture, "fixture", "number", bound=False)
StockBars = Kind(StockBar, "bar", "number", bound=False)
ClosedDays = Kind(ClosedDay, "closed_day", "name", act=Act.EDIT_RULES, bound=False)

_ALL = (Tools, Holders, Machines, Materials, Cutting, Gauges, StockBars, Fixtures, ClosedDays)
KINDS = {kind.model: kind for kind in _ALL}
