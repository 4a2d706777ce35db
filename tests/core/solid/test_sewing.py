"""Surfaces without a solid: sewn when they close, refused when they do not."""

import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Trsf, gp_Vec
from OCP.TopAbs import TopAbs_FACE

from shopflow.core.errors import Unreadable
from shopflow.core.solid.occ.load import children
from tests.core.solid import parts


def skin(gap_mm, leave_out=0):
    """The six faces of a block of 30 × 20 × 10 mm as loose surfaces, the first one lifted off by a gap."""
    faces = children(parts.box(30, 20, 10), TopAbs_FACE)[leave_out:]
    lift = gp_Trsf()
    lift.SetTranslation(gp_Vec(-gap_mm, 0, 0))
    return parts.together(BRepBuilderAPI_Transform(faces[0], lift, True).Shape(), *faces[1:])


@pytest.mark.parametrize(("gap_mm", "within"), [(0.0, "0.001"), (0.008, "0.01"), (0.04, "0.05")])
def test_surfaces_that_close_are_sewn_and_the_tolerance_is_said(read_shape, gap_mm, within):
    reading = read_shape(skin(gap_mm))
    assert f"sewn together within {within} mm" in reading.warnings[0]
    assert reading.volume_mm3 == pytest.approx(30 * 20 * 10, rel=0.002)
    assert reading.bbox_mm == pytest.approx((30, 20, 10), abs=0.05)


def test_a_skin_turned_inside_out_still_has_a_positive_volume(read_shape):
    shapes = [face.Reversed() for face in children(parts.box(30, 20, 10), TopAbs_FACE)]
    assert read_shape(parts.together(*shapes)).volume_mm3 == pytest.approx(6000)


@pytest.mark.parametrize(("gap_mm", "leave_out"), [(0.5, 0), (0.0, 1)])
def test_surfaces_that_do_not_close_are_refused(read_shape, gap_mm, leave_out):
    with pytest.raises(Unreadable, match="do not close within 0.05 mm"):
        read_shape(skin(gap_mm, leave_out))
