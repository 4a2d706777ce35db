"""The shop: crib, machines, materials, rack, gauges, house rules. Each row knows how to become a core value."""

from shopflow.shop.models.bars import StockBar
from shopflow.shop.models.closed_days import ClosedDay
from shopflow.shop.models.controls import ControlProfile, ControlProfileChange
from shopflow.shop.models.cutting import CuttingData
from shopflow.shop.models.fixtures import Fixture
from shopflow.shop.models.gauges import Gauge
from shopflow.shop.models.house_rules import HouseRule, HouseRuleChange
from shopflow.shop.models.machines import Machine
from shopflow.shop.models.materials import Material
from shopflow.shop.models.tools import Edge, Holder, LifeUnit, Tool, ToolCoating, ToolMaterial, ToolShape

__all__ = [
    "ClosedDay",
    "ControlProfile",
    "ControlProfileChange",
    "CuttingData",
    "Edge",
    "Fixture",
    "Gauge",
    "Holder",
    "HouseRule",
    "HouseRuleChange",
    "LifeUnit",
    "Machine",
    "Material",
    "StockBar",
    "Tool",
    "ToolCoating",
    "ToolMaterial",
    "ToolShape",
]
