"""What a program leaves of a blank, seen straight down the spindle: a plain field of heights, for the demo's programs.

Independent of the product's own removal of material: only the motions come from it. A field knows one height a column,
which is all there is to see from one side.
"""

import math

import numpy as np
from OCP.gp import gp_Dir, gp_Lin, gp_Pnt
from OCP.IFSelect import IFSelect_RetDone
from OCP.IntCurvesFace import IntCurvesFace_ShapeIntersector
from OCP.STEPControl import STEPControl_Reader

from shopflow.core.types import MotionKind

STEP_MM = 0.5
"""Distance between the places where the tool is put down along a move; walls are off by its square over 8 radii."""


class Field:
    """Heights over a grid that avoids round numbers, so that no column stands on an edge of the part."""

    def __init__(self, size, *, top, pitch=1.31):
        self.x = np.arange(-size[0] / 2 + 0.21, size[0] / 2, pitch)
        self.y = np.arange(-size[1] / 2 + 0.33, size[1] / 2, pitch) + size[2]
        self.height = np.full((len(self.x), len(self.y)), float(top))
        self.hit_by_rapid = []

    def cut(self, motions, tools, work_offset):
        for n in range(len(motions)):
            if motions.work_offset[n] == work_offset and motions.kind[n] != MotionKind.DWELL:
                self._move(motions, n, tools[int(motions.tool[n])])

    def _move(self, motions, n, tool):
        lowest = min(motions.start[n][2], motions.end[n][2])
        if lowest >= self.height.max():
            return
        along = places(motions, n) if motions.start_known[n].all() else [motions.end[n]]
        removed = sum(self._put_down(place, tool) for place in along)
        if motions.kind[n] == MotionKind.RAPID and removed > 1e-6:
            self.hit_by_rapid.append(int(motions.line[n]))

    def _put_down(self, place, tool):
        radius = tool.diameter_mm / 2
        near_x = np.abs(self.x - place[0]) <= radius
        near_y = np.abs(self.y - place[1]) <= radius
        away = np.hypot(self.x[near_x, None] - place[0], self.y[None, near_y] - place[1])
        bottom = np.where(away <= radius, place[2] + above_tip(tool, away), np.inf)
        window = np.ix_(near_x, near_y)
        left = np.minimum(self.height[window], bottom)
        removed = float((self.height[window] - left).sum())
        self.height[window] = left
        return removed


def above_tip(tool, away):
    """How high the cutting end is above the tip at a distance from its axis: flat, or a cone."""
    return away / math.tan(math.radians(tool.point_angle_deg / 2)) if tool.point_angle_deg < 180 else 0 * away


def places(motions, n):
    start, end = motions.start[n], motions.end[n]
    if motions.kind[n] != MotionKind.ARC:
        count = max(2, math.ceil(np.linalg.norm(end - start) / STEP_MM) + 1)
        return [start + (end - start) * t for t in np.linspace(0, 1, count)]
    centre, turn = motions.centre[n], math.radians(motions.turn_deg[n])
    radius, begin = math.hypot(*(start - centre)[:2]), math.atan2(*(start - centre)[1::-1])
    count = max(2, math.ceil(abs(turn) * radius / STEP_MM) + 1)
    return [
        np.array([
            centre[0] + radius * math.cos(begin + turn * t),
            centre[1] + radius * math.sin(begin + turn * t),
            start[2] + (end[2] - start[2]) * t,
        ])
        for t in np.linspace(0, 1, count)
    ]  # fmt: skip


class Part:
    """A STEP file, looked at along an axis. view: a point of the setup to a point of the part."""

    def __init__(self, path, view):
        reader = STEPControl_Reader()
        assert reader.ReadFile(str(path)) == IFSelect_RetDone
        reader.TransferRoots()
        self.rays = IntCurvesFace_ShapeIntersector()
        self.rays.Load(reader.OneShape(), 1e-6)
        self.view = view

    def height(self, x, y):
        """The highest material under a place of the setup, in its coordinates; minus infinity where there is none."""
        above, below = np.array(self.view(x, y, 100.0)), np.array(self.view(x, y, 99.0))
        direction = below - above
        self.rays.Perform(gp_Lin(gp_Pnt(*above), gp_Dir(*direction)), 0.0, 400.0)
        hits = [self.rays.WParameter(n + 1) for n in range(self.rays.NbPnt())]
        return 100.0 - min(hits) if hits else -math.inf

    def is_plain(self, x, y, reach=0.25):
        """Whether no edge is near: round a column beside a wall a field of heights is off by its own grid."""
        around = [self.height(x + dx, y + dy) for dx in (-reach, 0, reach) for dy in (-reach, 0, reach)]
        return max(around) == min(around) or max(around) - min(around) < 0.6


def differences(field, part, *, floor):
    """(left too much, cut too deep) over all columns, in mm; nothing below the floor counts."""
    left, gouged = 0.0, 0.0
    for i, x in enumerate(field.x):
        for j, y in enumerate(field.y):
            wanted = max(part.height(x, y), floor)
            difference = max(field.height[i, j], floor) - wanted
            if abs(difference) > 0.02 and part.is_plain(x, y):
                left, gouged = max(left, difference), max(gouged, -difference)
    return left, gouged
