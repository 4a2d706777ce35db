"""What was released to the floor, and where its pieces stand: packets, lots, their runs, and what came back."""

from shopflow.floor.models.as_run import AsRun, AsRunTool
from shopflow.floor.models.lots import Lot, Place, Remark, Standing
from shopflow.floor.models.packets import FloorCopy, Packet
from shopflow.floor.models.papers import Paper, Shipment
from shopflow.floor.models.read_backs import ReadBack
from shopflow.floor.models.runs import OpRun, SettingUp

__all__ = [
    "AsRun",
    "AsRunTool",
    "FloorCopy",
    "Lot",
    "OpRun",
    "Packet",
    "Paper",
    "Place",
    "ReadBack",
    "Remark",
    "SettingUp",
    "Shipment",
    "Standing",
]
