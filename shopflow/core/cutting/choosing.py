"""Which row of cutting data holds for a tool, a material and a use: the shop's own first, then the closest."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from shopflow.core.cutting.groups import names_of
from shopflow.core.cutting.rows import COATED, DataRow, Window
from shopflow.core.types import Material, Tool, ToolCoating, ToolMaterial, ToolUse

Pick = Callable[[DataRow], Window | None]

STAND_INS = {ToolMaterial.COBALT: ToolMaterial.HSS, ToolMaterial.INSERT: ToolMaterial.CARBIDE}
"""Where there is no row for one, the other's holds: cobalt stands a little more, so that this errs to the slow side."""
OWN_REACH = 2.0
"""The shop's own row for one diameter holds from half of it to double (common practice, no source)."""
NO_MATCH = 9


def chosen_window(
    rows: Iterable[DataRow], pick: Pick, material: Material | None, tool: Tool, use: ToolUse
) -> Window | None:
    """The window that `pick` takes from a row, of the closest rows that have one; None where no row fits.

    Closest: the shop's own; then by the material's own name, its group, any; then by tool material; then by coating.
    """
    ranked = _ranked((row for row in rows if pick(row) is not None), material, tool, use)
    each = (_at_diameter(ranked[rank], pick, tool.diameter_mm) for rank in sorted(ranked))
    return next((found for found in each if found is not None), None)


def first_fit(rows: Iterable[DataRow], material: Material | None, tool: Tool, use: ToolUse) -> DataRow | None:
    """The closest row: the shop's own, then by the material's name, then the one for the fewest uses; None if none."""
    near = (row for row in rows if row.diameter_mm is None or _is_near(row.diameter_mm, tool))
    ranked = _ranked(near, material, tool, use)
    fits = [(rank[:2], len(row.uses), rank[2:], row) for rank, several in ranked.items() for row in several]
    return min(fits, key=lambda fit: fit[:3])[3] if fits else None


def _is_near(diameter_mm: float, tool: Tool) -> bool:
    return 1 / OWN_REACH <= tool.diameter_mm / diameter_mm <= OWN_REACH


Rank = tuple[int, int, int, int]


def _ranked(rows: Iterable[DataRow], material: Material | None, tool: Tool, use: ToolUse) -> dict[Rank, list[DataRow]]:
    """Rows that fit, by how close they are."""
    names = names_of(material)
    ranked: dict[Rank, list[DataRow]] = {}
    for row in rows:
        if use in row.uses:
            place = _place(row.group.casefold(), names)
            rank = (int(not row.is_own), place, _material_rank(row, tool), _coat(row, tool))
            if NO_MATCH not in rank[1:]:
                ranked.setdefault(rank, []).append(row)
    return ranked


def _place(name: str, names: Sequence[str]) -> int:
    return names.index(name) if name in names else NO_MATCH


def _material_rank(row: DataRow, tool: Tool) -> int:
    if row.tool_material is None:
        return 2
    if row.tool_material is tool.material:
        return 0
    return 1 if STAND_INS.get(tool.material) is row.tool_material else NO_MATCH


def _coat(row: DataRow, tool: Tool) -> int:
    if not row.coating:
        return 2
    if row.coating == tool.coating:
        return 0
    is_coated = tool.coating not in (ToolCoating.NOT_SAID, ToolCoating.UNCOATED)
    return 1 if row.coating == COATED and is_coated else NO_MATCH


def _at_diameter(rows: Sequence[DataRow], pick: Pick, diameter_mm: float) -> Window | None:
    """Rows of the same kind differ by diameter: those for every diameter hold as they are, others between them."""
    points = sorted((row.diameter_mm, found) for row in rows if row.diameter_mm and (found := pick(row)))
    if rows[0].is_own:
        points = [point for point in points if 1 / OWN_REACH <= diameter_mm / point[0] <= OWN_REACH]
    if not points:
        return next((pick(row) for row in rows if row.diameter_mm is None), None)
    is_speed = pick(rows[0]) is rows[0].speed_m_min
    return _between(points, diameter_mm, scales=not is_speed)


def _between(points: Sequence[tuple[float, Window]], diameter_mm: float, *, scales: bool) -> Window:
    """On the straight line between two diameters. Below the first a feed shrinks with the diameter; above the last it
    is held, since a large cutter's tooth takes no more than that."""
    if diameter_mm <= points[0][0]:
        first = points[0][1]
        return first.times(diameter_mm / points[0][0]) if scales else first
    for (below, low), (above, high) in zip(points, points[1:], strict=False):
        if diameter_mm <= above:
            share = (diameter_mm - below) / (above - below)
            return _mixed(low, high, share)
    return points[-1][1]


def _mixed(low: Window, high: Window, share: float) -> Window:
    nearer = low if share < 0.5 else high
    ends = ((getattr(low, name), getattr(high, name)) for name in ("low", "usual", "high"))
    a, b, c = (first + (second - first) * share for first, second in ends)
    return replace(nearer, low=a, usual=b, high=c)
