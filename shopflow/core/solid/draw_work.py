"""What a child of the warm parent does for line drawings: reads the model's solids and writes one drawing a view."""

from __future__ import annotations

import json
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

from shopflow.core.solid import aside
from shopflow.core.solid.aside import Aside, AsideFailed
from shopflow.core.solid.drawing import Drawing, View
from shopflow.core.solid.occ import lines, measure
from shopflow.core.solid.request import DRAWINGS_FILE, Request

FINE_SHARE = 1 / 3000
"""Distance between a curve and the pieces it is drawn by, as a share of the box's diagonal."""
AT_ONCE = 2


def perform(request: Request, solids: list[Any], step: Callable[[str], object]) -> None:
    """Draw the views of the request, two at a time, and write DRAWINGS_FILE into its folder."""
    step("drawing")
    boxes = [box for box in map(measure.rough_box, solids) if box]
    fine = max(box.diagonal for box in boxes) * FINE_SHARE
    views = [View(**view) for view in request.views]
    until = time.monotonic() + request.limits.views_s
    drawings: list[Drawing] = []
    running: deque[tuple[View, Aside | None]] = deque()
    while views or running:
        while views and len(running) < AT_ONCE:
            view = views.pop(0)
            running.append((view, _exact_aside(solids, view, fine) if time.monotonic() < until else None))
        drawings.append(_finished(request, solids, *running.popleft(), fine, until))
    data = json.dumps([drawing.to_json() for drawing in drawings], allow_nan=False)
    Path(request.out, DRAWINGS_FILE).write_text(data)


def _exact_aside(solids: list[Any], view: View, fine: float) -> Aside:
    return aside.start(lambda: json.dumps(lines.exact(solids, view, fine).to_json()).encode())


def _finished(
    request: Request, solids: list[Any], view: View, helper: Aside | None, fine: float, until: float
) -> Drawing:
    """The exact drawing, or the quick one when that took too long, stopped, or was not begun for want of time."""
    if helper is None:
        return lines.quick(solids, view, fine)
    deadline = min(time.monotonic() + request.limits.view_s, until)
    try:
        data = helper.result(deadline=deadline, limit_bytes=request.limits.output_bytes)
    except AsideFailed:
        return lines.quick(solids, view, fine)
    return Drawing.from_json(json.loads(data))
