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


@dataclass(frozen=True)
class Balloon:
    """A number in a ring with a line to a point of the part."""

    label: str
    point_mm: Vector


def hole_balloons(holes: Sequence[Hole], view: View) -> list[Balloon]:
    """One balloon for each kind of hole that opens towards the eye, numbered in the order of the list of holes."""
    numbers: dict[tuple[object, ...], int] = {}
    balloons: dict[int, Balloon] = {}
    for hole in holes:
        sizes = (hole.diameter_mm, hole.depth_mm, hole.through, hole.countersink_mm, hole.counterbore_mm)
        number = numbers.setdefault(tuple(round(s, 2) if isinstance(s, float) else s for s in sizes), len(numbers) + 1)
        if angle_deg(hole.axis, view.towards) < 1.0 or (hole.through and angle_deg(hole.axis, view.towards) > 179.0):
            balloons.setdefault(number, Balloon(str(number), hole.position_mm))
    return [balloons[number] for number in sorted(balloons)]


def svg(
    drawing: Drawing,
    *,
    title: str = "",
    unit: str = "mm",
    balloons: Sequence[Balloon] = (),
    show_hidden: bool = True,
    show_size: bool = True,
) -> str:
    """The drawing as one SVG element. unit: "mm" or "in", for the overall dimensions; title is escaped here."""
    low, high = drawing.box()
    width, height = high[0] - low[0], high[1] - low[1]
    scale = max(width, height, 1e-6) / 100.0
    page = _Page(low, high, scale, unit)
    parts = [_lines("smooth", drawing.smooth, page, 0.18), _lines("seen", drawing.visible, page, 0.45)]
    if show_hidden:
        parts.insert(0, _lines("hidden", drawing.hidden, page, 0.2, dash=f"{1.6 * scale:.3f} {scale:.3f}"))
    if show_size and drawing.view.is_square:
        parts += page.sizes()
    parts += page.balloons([(balloon.label, drawing.view.place(balloon.point_mm)) for balloon in balloons])
    name = escape(title or drawing.view.name)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" viewBox="{page.view_box()}">'
        f"<title>{name}</title>{''.join(parts)}</svg>"
    )


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

    @property
    def width(self) -> float:
        return self.high[0] - self.low[0]

    @property
    def height(self) -> float:
        return self.high[1] - self.low[1]

    def view_box(self) -> str:
        s = self.scale
        return f"{-14 * s:.3f} {-14 * s:.3f} {self.width + 34 * s:.3f} {self.height + 28 * s:.3f}"

    def sizes(self) -> list[str]:
        """Overall width below and overall height to the right."""
        s, below, right = self.scale, self.height + 7 * self.scale, self.width + 7 * self.scale
        across = (
            f"M0 {self.height + 2 * s:.3f}V{below + s:.3f}M{self.width:.3f} {self.height + 2 * s:.3f}V{below + s:.3f}"
            f"M0 {below:.3f}H{self.width:.3f}"
        )
        upward = (
            f"M{self.width + 2 * s:.3f} 0H{right + s:.3f}M{self.width + 2 * s:.3f} {self.height:.3f}H{right + s:.3f}"
            f"M{right:.3f} 0V{self.height:.3f}"
        )
        arrows = self._arrow(0, below, 1, 0) + self._arrow(self.width, below, -1, 0)
        arrows += self._arrow(right, 0, 0, 1) + self._arrow(right, self.height, 0, -1)
        thin = f'class="size" fill="none" stroke="currentColor" stroke-width="{0.15 * s:.3f}"'
        return [
            f'<path {thin} d="{across}{upward}"/><path class="size" fill="currentColor" d="{arrows}"/>',
            self._text(self.width / 2, below + 4.5 * s, self._length(self.width), "middle"),
            self._text(right + 1.5 * s, self.height / 2 + s, self._length(self.height), "start"),
        ]

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
