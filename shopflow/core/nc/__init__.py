"""Reads and writes word-address NC programs.

Words to blocks to codes to motions: `text` finds the lines, `blocks` their words, `codes` sorts them by modal group,
`execute` carries them out in the report's order, `run` goes through the file. `read` is the way in.
"""

from shopflow.core.nc import control_values, edits, restart, tool_edits, writing
from shopflow.core.nc.control_files import ControlFile, read_control, write_control
from shopflow.core.nc.controls import CONTROLS, PLAIN
from shopflow.core.nc.cut_apart import Piece, cut_apart
from shopflow.core.nc.differences import Change, ChangeKind, Difference, difference
from shopflow.core.nc.modes import Modes
from shopflow.core.nc.one_file import Within, only, programs_in
from shopflow.core.nc.program import Limits, Program, Stop, Unread
from shopflow.core.nc.read_back import AT_THE_MACHINE, EditKind, Handling, LineChange, ReadBack, read_back
from shopflow.core.nc.read_back_own import without_ours
from shopflow.core.nc.run import read
from shopflow.core.nc.state import offset_name, offset_number

__all__ = [
    "AT_THE_MACHINE",
    "CONTROLS",
    "PLAIN",
    "Change",
    "ChangeKind",
    "ControlFile",
    "Difference",
    "EditKind",
    "Handling",
    "Limits",
    "LineChange",
    "Modes",
    "Piece",
    "Program",
    "ReadBack",
    "Stop",
    "Unread",
    "Within",
    "control_values",
    "cut_apart",
    "difference",
    "edits",
    "offset_name",
    "offset_number",
    "only",
    "programs_in",
    "read",
    "read_back",
    "read_control",
    "restart",
    "tool_edits",
    "without_ours",
    "write_control",
    "writing",
]
