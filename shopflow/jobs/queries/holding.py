"""What holds the part in a setup, as solids that nothing may touch; and the blank's sizes as a range."""

from __future__ import annotations

from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.measure import NotALength, parse
from shopflow.core.planning.placement import turned_box
from shopflow.core.solid import Reading
from shopflow.core.stock.blanks import BlankForm
from shopflow.core.stock.holding import Solid, Vise, table, vise_solids
from shopflow.core.stock.shapes import Hole
from shopflow.core.types import Box, Placement, Vector
from shopflow.jobs.models import Setup
from shopflow.jobs.queries.blank_model import blank_mesh_key
from shopflow.jobs.queries.zero import blank_of, placement_of

MOST_SOLIDS = 40
BED_HEIGHT_MM = 70.0
"""Of a vise's bed over the table while the plan does not say (common practice, no source: 70 to 80 mm are usual)."""


def holding_of(setup: Setup, reading: Reading) -> tuple[Solid, ...]:
    """Everything that holds the part in a setup, in its own coordinates; none where `why_not_held` says why."""
    stock = stock_box(setup, reading)
    if stock is None or why_not_held(setup):
        return ()
    own = own_solids(setup.solids)
    held = vise_solids(_vise(setup), stock) if setup.held_by == Setup.HeldBy.VISE else ()
    return (*held, table(stock, _under_mm(setup)), *own)


def _under_mm(setup: Setup) -> float:
    """How high the blank stands over the machine's table."""
    under = setup.parallel_height.mm if setup.parallel_height else 0.0
    if setup.held_by == Setup.HeldBy.VISE:
        under += setup.bed_height.mm if setup.bed_height else BED_HEIGHT_MM
    return under


def table_taken(setup: Setup) -> str:
    """In words, what is taken for granted about where the table lies; "" where the plan says it."""
    if setup.held_by == Setup.HeldBy.VISE and not setup.bed_height:
        return _("The table is taken to lie %d mm under the bed of the vise: the plan does not say.") % BED_HEIGHT_MM
    if setup.held_by == Setup.HeldBy.CLAMPS and not setup.parallel_height:
        return _("The blank is taken to lie on the table itself: the plan says no height of parallels under it.")
    return ""


def why_not_held(setup: Setup) -> str:
    """In words, what the plan does not say about the workholding; "" where it says enough."""
    if not setup.held_by:
        return _("The plan does not say whether a vise or clamps hold the part.")
    if setup.is_aslant and setup.held_by == Setup.HeldBy.VISE:
        return _("The part stands at an angle, and so do jaws that hold it: type what holds it as boxes.")
    if setup.held_by == Setup.HeldBy.CLAMPS:
        return "" if setup.solids.strip() else _("The plan does not say where the clamps are.")
    asked = {"grip": _("the grip"), "jaw_length": _("the length of the jaws"), "jaw_thick": _("their thickness")}
    lacks = [words for name, words in asked.items() if not getattr(setup, name)]
    return _("The plan does not say %s.") % ", ".join(lacks) if lacks else ""


def own_solids(text: str) -> tuple[Solid, ...]:
    """Boxes as a person typed them, one a line: a name, then the lowest and the highest corner from the part zero.

    "clamp 1: -60 -10 -5, -40 10 12", in millimetres, or inches where a number says so ("1/2in"). Raises NotPossible
    with the line that is none.
    """
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_SOLIDS:
        raise NotPossible(_("At most %d boxes.") % MOST_SOLIDS)
    return tuple(_own_solid(line) for line in lines)


def own_holes(text: str) -> tuple[Hole, ...]:
    """Holes as a person typed them, one a line: axis, place along the two other axes, diameter, "Z 30 15 20".

    In millimetres, or inches where a number says so. Raises NotPossible with the line that is none.
    """
    return tuple(_own_hole(line.strip()) for line in text.splitlines() if line.strip())


def blank_form(setup: Setup) -> BlankForm:
    """Whether the blank is round, and the holes it comes with; or the name in the cache of the solid that it is."""
    if setup.blank_file:
        return BlankForm(model=blank_mesh_key(setup))
    return BlankForm("XYZ".index(setup.blank_round) if setup.blank_round else -1, own_holes(setup.blank_holes))


def stock_box(setup: Setup, reading: Reading) -> Box | None:
    """The blank as it stands in the setup's coordinates; None while it or the part zero is not known in numbers."""
    placement, blank = placement_of(setup), blank_of(setup, reading)
    return _seen(placement, blank) if placement and blank else None


def blank_range_of(setup: Setup, reading: Reading) -> tuple[Box, Box] | None:
    """The largest and the smallest blank, in the model's coordinates; None while the blank is not known.

    A blank stands on the same parallels whatever its size, so that all of its height differs on top; sideways half of
    the difference lies on each side, since both jaws or the pick-up share it.
    """
    blank = blank_of(setup, reading)
    if blank is None:
        return None
    if setup.blank_file:
        if setup.vary_x or setup.vary_y or setup.vary_z:
            raise NotPossible(_("The blank is given by a model and has one size: take the ± of its sizes away."))
        return blank, blank
    up, sign = "XYZ".index(setup.up[1]), 1.0 if setup.up[0] == "+" else -1.0
    typed = (setup.vary_x, setup.vary_y, setup.vary_z)
    vary = [measure.mm if measure else 0.0 for measure in typed]
    return _grown(blank, vary, up, sign), _grown(blank, [-one for one in vary], up, sign)


def _grown(box: Box, by: list[float], up: int, sign: float) -> Box:
    low, high = list(box[0]), list(box[1])
    for axis, more in enumerate(by):
        if axis == up:
            high[axis], low[axis] = (high[axis] + more, low[axis]) if sign > 0.0 else (high[axis], low[axis] - more)
        else:
            low[axis], high[axis] = low[axis] - more / 2.0, high[axis] + more / 2.0
    if any(a >= b for a, b in zip(low, high, strict=True)):
        raise NotPossible(_("A blank cannot be smaller by more than its size."))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _seen(placement: Placement, box: Box) -> Box:
    low, high = turned_box(placement.rotation, box)
    return _moved(low, placement.origin_mm), _moved(high, placement.origin_mm)


def _moved(point: Vector, by: Vector) -> Vector:
    return point[0] + by[0], point[1] + by[1], point[2] + by[2]


def _vise(setup: Setup) -> Vise:
    assert setup.grip and setup.jaw_length and setup.jaw_thick
    return Vise(
        jaws_along="XY".index(setup.jaws_along),
        grip_mm=setup.grip.mm,
        jaw_length_mm=setup.jaw_length.mm,
        jaw_thick_mm=setup.jaw_thick.mm,
        parallel_height_mm=setup.parallel_height.mm if setup.parallel_height else 0.0,
        parallel_thick_mm=setup.parallel_thick.mm if setup.parallel_thick else 0.0,
    )


def _own_hole(line: str) -> Hole:
    axis, *words = line.replace(",", " ").split()
    try:
        first, second, diameter = (parse(word, default_unit="mm").mm for word in words)
        if axis.upper() not in ("X", "Y", "Z") or diameter <= 0.0:
            raise ValueError(axis)
    except (NotALength, ValueError) as error:
        raise NotPossible(
            _("“%s” is no hole. Type its axis, its place along the two other axes and its diameter: Z 30 15 20.") % line
        ) from error
    return Hole("XYZ".index(axis.upper()), (first, second), diameter)


def _own_solid(line: str) -> Solid:
    name, colon, numbers = line.rpartition(":")
    words = numbers.replace(",", " ").split()
    try:
        x0, y0, z0, x1, y1, z1 = (parse(word, default_unit="mm").mm for word in words)
    except (NotALength, ValueError) as error:
        raise NotPossible(
            _("“%s” is no box. Type a name, a colon, the lowest corner and the highest: clamp: -60 -10 -5, -40 10 12.")
            % line
        ) from error
    if x0 >= x1 or y0 >= y1 or z0 >= z1:
        raise NotPossible(_("“%s” is no box: its second corner must lie above the first in X, Y and Z.") % line)
    return Solid(name.strip() if colon else _("clamp"), ((x0, y0, z0), (x1, y1, z1)))
