"""Value types that all parts of the core share.

Frozen dataclasses; arrays inside them are never changed after they are made. Millimetres, degrees, seconds,
revolutions a minute and millimetres a minute throughout; screens convert at the border.
"""

from shopflow.core.types.control import ControlMacro, ControlProfile, DecimalRule, MacroEnd
from shopflow.core.types.machine import Machine, Material
from shopflow.core.types.motions import Coolant, MotionKind, Motions
from shopflow.core.types.space import Box, Placement, Vector
from shopflow.core.types.tools import Holder, Tool, ToolCoating, ToolMaterial, ToolShape, ToolUse

__all__ = [
    "Box",
    "ControlMacro",
    "ControlProfile",
    "Coolant",
    "DecimalRule",
    "Holder",
    "Machine",
    "MacroEnd",
    "Material",
    "MotionKind",
    "Motions",
    "Placement",
    "Tool",
    "ToolCoating",
    "ToolMaterial",
    "ToolShape",
    "ToolUse",
    "Vector",
]
