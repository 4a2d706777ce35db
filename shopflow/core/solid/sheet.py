"""Sets all views of a part on one sheet at one scale, as SVG: third-angle projection (ISO 5456-2), or in a column.

In third angle each view stands on the side of the front view that it is seen from: the top view above it, the right
view to its right. The isometric view stands at the upper right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from shopflow.core.solid.drawing import Drawing
from shopflow.core.solid.svg import LETTERS, Balloon, Pointed, hole_balloons, view_parts
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
    pointed: Mapping[str, Sequence[Pointed]] | None = None,
) -> str:
    """The STANDARD drawings as one SVG element. across: in projection, for a page; else for a narrow screen.

    groups: equal holes; group n gets balloon n on the first view into which one of them opens. names: what each view
    is called. pointed: balloons that a person placed, by view. Everything that is shown is escaped here.
    """
    by_name = {drawing.view.name: drawing for drawing in drawings}
    placed, scale = _placed(by_name, across)
    balloons = _balloons(by_name, groups)
    parts = [_view(one, scale, unit, balloons, names or {}, pointed or {}) for one in placed]
    width, height = _extent(placed, scale)
    box = f"{-EDGE * scale:.3f} {-EDGE * scale:.3f} {width:.3f} {height:.3f}"
    head = f"<title>{escape(title)}</title>" if title else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" viewBox="{box}" '
        f'font-family="{LETTERS}">{head}{"".join(parts)}</svg>'
    )


def _placed(by_name: Mapping[str, Drawing], across: bool) -> tuple[list[_Placed], float]:
    sizes = {name: _size(drawing) for name, drawing in by_name.items()}
    scale = _scale(sizes, across)
    return (_in_projection(by_name, sizes, scale) if across else _in_column(by_name, sizes, scale)), scale


def _extent(placed: Sequence[_Placed], scale: float) -> tuple[float, float]:
    """Width and height of the whole sheet with its edges."""
    right = max(one.x + _size(one.drawing)[0] for one in placed) + EDGE * scale
    foot = max(one.y + _size(one.drawing)[1] for one in placed) + FOOT * scale
    return right + EDGE * scale, foot + EDGE * scale


def height_over_width(drawings: Sequence[Drawing], *, across: bool = True) -> float:
    """The shape of the sheet."""
    placed, scale = _placed({drawing.view.name: drawing for drawing in drawings}, across)
    width, height = _extent(placed, scale)
    return height / width


def view_at(drawings: Sequence[Drawing], x: float, y: float, *, across: bool = True) -> tuple[str, float, float] | None:
    """The view at a place of the sheet, and where in the view: both places as shares from the upper left.

    A place just beside a view counts as on its edge; None where no view is near.
    """
    placed, scale = _placed({drawing.view.name: drawing for drawing in drawings}, across)
    wide, high = _extent(placed, scale)
    at_x, at_y = x * wide - EDGE * scale, y * high - EDGE * scale
    one = min(placed, key=lambda one: _gap(one, at_x, at_y))
    if _gap(one, at_x, at_y) > GAP * scale / 3:
        return None
    width, height = _size(one.drawing)
    return one.drawing.view.name, _share(at_x - one.x, width), _share(at_y - one.y, height)


def _gap(one: _Placed, x: float, y: float) -> float:
    """How far a place lies outside a view; 0 in it."""
    width, height = _size(one.drawing)
    return max(0.0, one.x - x, x - one.x - width, one.y - y, y - one.y - height)


def _share(part: float, whole: float) -> float:
    return min(1.0, max(0.0, part / whole)) if whole else 0.0


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
    one: _Placed,
    scale: float,
    unit: str,
    balloons: Mapping[str, Sequence[Balloon]],
    names: Mapping[str, str],
    pointed: Mapping[str, Sequence[Pointed]],
) -> str:
    name = one.drawing.view.name
    shows, is_square = SIZES.get(name, ()), one.drawing.view.is_square
    parts = view_parts(
        one.drawing,
        scale=scale,
        unit=unit,
        balloons=balloons.get(name, ()),
        sizes=shows,
        show_hidden=is_square,
        pointed=pointed.get(name, ()),
    )
    width, height = _size(one.drawing)
    below = height + (17.0 if "width" in shows else 6.5) * scale
    caption = (
        f'<text x="{width / 2:.3f}" y="{below:.3f}" font-size="{3.4 * scale:.3f}" text-anchor="middle" '
        f'fill="currentColor">{escape(names.get(name, name))}</text>'
    )
    return f'<g transform="translate({one.x:.3f} {one.y:.3f})">{"".join(parts)}{caption}</g>'
