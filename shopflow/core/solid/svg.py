"""Sets a line drawing as SVG: lines by class, overall dimensions, balloons. Attributes and classes only, no style.

A page or a paper colours the classes: `seen`, `smooth`, `hidden`, `size` (dimension lines), `balloon`; each also has
plain attributes, so that the picture reads without any style sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from shopflow.core.solid.drawing import Drawing, Point, Polyline, View
from shopflow.core.solid.graph import Vector, angle_deg
from shopflow.core.solid.values import Hole

_MM_PER_IN = 25.4
BOTH_SIZES = ("width", "height")
LETTERS = "Plex Mono, DejaVu Sans Mono, monospace"


@dataclass(frozen=True)
class Balloon:
    """A number in a ring with a line to a point of the part."""

    label: str
    point_mm: Vector


@dataclass(frozen=True)
class Pointed:
    """A number in a ring that points at a place of a view: shares of its width and height from the upper left."""

    label: str
    across: float
    down: float


def hole_balloons(groups: Sequence[Sequence[Hole]], view: View) -> list[Balloon]:
    """A balloon for each group of equal holes of which one opens towards the eye, with the group's number from 1."""
    found = []
    for number, holes in enumerate(groups, start=1):
        seen = next((hole for hole in holes if _opens_to(hole, view)), None)
        if seen is not None:
            found.append(Balloon(str(number), seen.position_mm))
    return found


def _opens_to(hole: Hole, view: View) -> bool:
    angle = angle_deg(hole.axis, view.towards)
    return angle < 1.0 or (hole.through and angle > 179.0)


def svg(
    drawing: Drawing,
    *,
    title: str = "",
    unit: str = "mm",
    balloons: Sequence[Balloon] = (),
    show_hidden: bool = True,
    sizes: Sequence[str] = BOTH_SIZES,
) -> str:
    """The drawing as one SVG element. unit: "mm" or "in", for the overall dimensions; title is escaped here."""
    low, high = drawing.box()
    scale = max(high[0] - low[0], high[1] - low[1], 1e-6) / 100.0
    page = _Page(low, high, scale, unit)
    parts = view_parts(drawing, scale=scale, unit=unit, balloons=balloons, show_hidden=show_hidden, sizes=sizes)
    name = escape(title or drawing.view.name)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" viewBox="{page.view_box()}">'
        f"<title>{name}</title>{''.join(parts)}</svg>"
    )


def view_parts(
    drawing: Drawing,
    *,
    scale: float,
    unit: str,
    balloons: Sequence[Balloon] = (),
    show_hidden: bool = True,
    sizes: Sequence[str] = BOTH_SIZES,
    pointed: Sequence[Pointed] = (),
) -> list[str]:
    """The drawing as SVG elements with its upper left corner at the origin. scale: see `_Page`; sizes: which overall
    sizes are written, "width" and "height"; a slanted view has none, they would be the paper's. pointed: balloons that
    a person placed."""
    low, high = drawing.box()
    page = _Page(low, high, scale, unit)
    parts = [_lines("smooth", drawing.smooth, page, 0.18), _lines("seen", drawing.visible, page, 0.45)]
    if show_hidden:
        parts.insert(0, _lines("hidden", drawing.hidden, page, 0.2, dash=f"{1.6 * scale:.3f} {scale:.3f}"))
    if drawing.view.is_square:
        parts += [page.across()] if "width" in sizes else []
        parts += [page.upward()] if "height" in sizes else []
    found = [(balloon.label, drawing.view.place(balloon.point_mm)) for balloon in balloons]
    return parts + page.balloons([*found, *((one.label, page.share(one.across, one.down)) for one in pointed)])


def _lines(name: str, lines: Sequence[Polyline], page: _Page, weight: float, dash: str = "") -> str:
    """All lines of a kind as one path."""
    if not lines:
        return ""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    data = "".join("M" + "L".join(page.at(point) for point in line) for line in lines)
    return (
        f'<path class="{name}" fill="none" stroke="currentColor" stroke-linecap="round" '
        f'stroke-width="{weight * page.scale:.3f}"{dashes} d="{data}"/>'
    )


@dataclass(frozen=True)
class _Page:
    """Paper coordinates: y runs down. scale: a hundredth of the larger side, by which lines and letters are sized."""

    low: Point
    high: Point
    scale: float
    unit: str

    def at(self, point: Point) -> str:
        return f"{point[0] - self.low[0]:.3f} {self.high[1] - point[1]:.3f}"

    def share(self, across: float, down: float) -> Point:
        return self.low[0] + across * self.width, self.high[1] - down * self.height

    @property
    def width(self) -> float:
        return self.high[0] - self.low[0]

    @property
    def height(self) -> float:
        return self.high[1] - self.low[1]

    def view_box(self) -> str:
        s = self.scale
        return f"{-14 * s:.3f} {-14 * s:.3f} {self.width + 34 * s:.3f} {self.height + 28 * s:.3f}"

    def across(self) -> str:
        """Overall width, below."""
        s, below = self.scale, self.height + 7 * self.scale
        lines = (
            f"M0 {self.height + 2 * s:.3f}V{below + s:.3f}M{self.width:.3f} {self.height + 2 * s:.3f}V{below + s:.3f}"
            f"M0 {below:.3f}H{self.width:.3f}"
        )
        arrows = self._arrow(0, below, 1, 0) + self._arrow(self.width, below, -1, 0)
        text = self._text(self.width / 2, below + 4.5 * s, self._length(self.width), "middle")
        return self._dimension(lines, arrows) + text

    def upward(self) -> str:
        """Overall height, to the right."""
        s, right = self.scale, self.width + 7 * self.scale
        lines = (
            f"M{self.width + 2 * s:.3f} 0H{right + s:.3f}M{self.width + 2 * s:.3f} {self.height:.3f}H{right + s:.3f}"
            f"M{right:.3f} 0V{self.height:.3f}"
        )
        arrows = self._arrow(right, 0, 0, 1) + self._arrow(right, self.height, 0, -1)
        text = self._text(right + 1.5 * s, self.height / 2 + s, self._length(self.height), "start")
        return self._dimension(lines, arrows) + text

    def _dimension(self, lines: str, arrows: str) -> str:
        thin = f'class="size" fill="none" stroke="currentColor" stroke-width="{0.15 * self.scale:.3f}"'
        return f'<path {thin} d="{lines}"/><path class="size" fill="currentColor" d="{arrows}"/>'

    def balloons(self, found: Sequence[tuple[str, Point]]) -> list[str]:
        """Rings up and to the right of their points, moved on until they are clear of one another."""
        s, taken, parts = self.scale, list[Point](), list[str]()
        for label, point in found:
            x, y = point[0] - self.low[0], self.high[1] - point[1]
            bx, by = x + 6 * s, y - 6 * s
            while any(abs(bx - tx) < 5.4 * s and abs(by - ty) < 5.4 * s for tx, ty in taken):
                by -= 5.6 * s
            taken.append((bx, by))
            ring = f'cx="{bx:.3f}" cy="{by:.3f}" r="{2.6 * s:.3f}"'
            parts.append(
                f'<g class="balloon"><path fill="none" stroke="currentColor" stroke-width="{0.15 * s:.3f}" '
                f'd="M{x:.3f} {y:.3f}L{bx - 1.84 * s:.3f} {by + 1.84 * s:.3f}"/>'
                f'<circle {ring} fill="#fff" stroke="currentColor" stroke-width="{0.2 * s:.3f}"/>'
                f"{self._text(bx, by + 1.1 * s, label, 'middle')}</g>"
            )
        return parts

    def _arrow(self, x: float, y: float, dx: float, dy: float) -> str:
        length, half = 2.2 * self.scale, 0.5 * self.scale
        bx, by = x + dx * length, y + dy * length
        return f"M{x:.3f} {y:.3f}L{bx + dy * half:.3f} {by + dx * half:.3f}L{bx - dy * half:.3f} {by - dx * half:.3f}Z"

    def _text(self, x: float, y: float, text: str, anchor: str) -> str:
        size = 3.2 * self.scale
        place = f'x="{x:.3f}" y="{y:.3f}" font-size="{size:.3f}" text-anchor="{anchor}"'
        return f'<text {place} fill="currentColor">{escape(text)}</text>'

    def _length(self, length_mm: float) -> str:
        return f"{length_mm / _MM_PER_IN:.3f}" if self.unit == "in" else f"{length_mm:.2f}"
