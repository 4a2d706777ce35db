"""Sets all views of a part on one sheet at one scale, as SVG: third-angle projection (ISO 5456-2), or in a column.

In third angle each view stands on the side of the front view that it is seen from: the top view above it, the right
view to its right. The isometric view stands at the upper right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from shopflow.core.solid.drawing import Drawing
from shopflow.core.solid.svg import LETTERS, Balloon, hole_balloons, view_parts
from shopflow.core.solid.values import Hole

GAP = 30.0
"""Room between views for sizes, balloons and names, in hundredths of the scale's length."""
EDGE = 16.0
FOOT = 10.0
ACROSS_SHARE = 1 / 340
"""Line and letter scale as a share of the sheet's width, so that it reads at the width of a page."""
DOWN_SHARE = 1 / 130
UNDER_ONE_ANOTHER = ("top", "front", "right", "left", "back", "bottom", "isometric")
SIZES = {"front": ("width", "height"), "top": ("height",)}
"""Each overall size once, on the view where one looks for it."""
_BALLOON_ORDER = ("top", "front", "right", "left", "back", "bottom")


@dataclass(frozen=True)
class _Placed:
    drawing: Drawing
    x: float
    y: float


def sheet(
    drawings: Sequence[Drawing],
    *,
    across: bool,
    unit: str = "mm",
    groups: Sequence[Sequence[Hole]] = (),
    names: Mapping[str, str] | None = None,
    title: str = "",
) -> str:
    """The STANDARD drawings as one SVG element. across: in projection, for a page; else for a narrow screen.

    groups: equal holes; group n gets balloon n on the first view into which one of them opens. names: what each view
    is called. Everything that is shown is escaped here.
    """
    by_name = {drawing.view.name: drawing for drawing in drawings}
    sizes = {name: _size(drawing) for name, drawing in by_name.items()}
    scale = _scale(sizes, across)
    placed = _in_projection(by_name, sizes, scale) if across else _in_column(by_name, sizes, scale)
    balloons = _balloons(by_name, groups)
    parts = [_view(one, scale, unit, balloons, names or {}) for one in placed]
    right = max(one.x + _size(one.drawing)[0] for one in placed) + EDGE * scale
    foot = max(one.y + _size(one.drawing)[1] for one in placed) + FOOT * scale
    box = f"{-EDGE * scale:.3f} {-EDGE * scale:.3f} {right + EDGE * scale:.3f} {foot + EDGE * scale:.3f}"
    head = f"<title>{escape(title)}</title>" if title else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" viewBox="{box}" '
        f'font-family="{LETTERS}">{head}{"".join(parts)}</svg>'
    )


def _size(drawing: Drawing) -> tuple[float, float]:
    low, high = drawing.box()
    return high[0] - low[0], high[1] - low[1]


def _scale(sizes: Mapping[str, tuple[float, float]], across: bool) -> float:
    """Millimetres of the part that one hundredth of letter and line sizes stands for."""
    if not across:
        return max(max(width for width, _ in sizes.values()), 1e-6) * DOWN_SHARE / (1 - 2 * EDGE * DOWN_SHARE)
    width = sum(sizes[name][0] for name in ("left", "front", "right", "back"))
    return max(width, 1e-6) * ACROSS_SHARE / (1 - (2 * EDGE + 3 * GAP) * ACROSS_SHARE)


def _in_projection(
    by_name: Mapping[str, Drawing], sizes: Mapping[str, tuple[float, float]], scale: float
) -> list[_Placed]:
    gap = GAP * scale
    left = sizes["left"][0]
    front_x, right_x = left + gap, left + sizes["front"][0] + 2 * gap
    upper = max(sizes["top"][1], sizes["isometric"][1])
    middle = upper + gap
    lower = middle + sizes["front"][1] + gap
    places = {
        "left": (0.0, middle),
        "front": (front_x, middle),
        "right": (right_x, middle),
        "back": (right_x + sizes["right"][0] + gap, middle),
        "top": (front_x, upper - sizes["top"][1]),
        "bottom": (front_x, lower),
        "isometric": (right_x, upper - sizes["isometric"][1]),
    }
    return [_Placed(by_name[name], *places[name]) for name in places]


def _in_column(by_name: Mapping[str, Drawing], sizes: Mapping[str, tuple[float, float]], scale: float) -> list[_Placed]:
    placed, y = [], 0.0
    for name in UNDER_ONE_ANOTHER:
        placed.append(_Placed(by_name[name], 0.0, y))
        y += sizes[name][1] + GAP * scale
    return placed


def _balloons(by_name: Mapping[str, Drawing], groups: Sequence[Sequence[Hole]]) -> dict[str, list[Balloon]]:
    """For each view its balloons; a number stands once on the sheet."""
    shown: set[str] = set()
    found: dict[str, list[Balloon]] = {}
    for name in _BALLOON_ORDER:
        fresh = [one for one in hole_balloons(groups, by_name[name].view) if one.label not in shown]
        shown.update(one.label for one in fresh)
        found[name] = fresh
    return found


def _view(
    one: _Placed, scale: float, unit: str, balloons: Mapping[str, Sequence[Balloon]], names: Mapping[str, str]
) -> str:
    name = one.drawing.view.name
    shows, is_square = SIZES.get(name, ()), one.drawing.view.is_square
    parts = view_parts(
        one.drawing, scale=scale, unit=unit, balloons=balloons.get(name, ()), sizes=shows, show_hidden=is_square
    )
    width, height = _size(one.drawing)
    below = height + (17.0 if "width" in shows else 6.5) * scale
    caption = (
        f'<text x="{width / 2:.3f}" y="{below:.3f}" font-size="{3.4 * scale:.3f}" text-anchor="middle" '
        f'fill="currentColor">{escape(names.get(name, name))}</text>'
    )
    return f'<g transform="translate({one.x:.3f} {one.y:.3f})">{"".join(parts)}{caption}</g>'
