"""One face of Open CASCADE as a plain `Face`: what kind of surface, where its axis is, how much of it is there."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import GeomAbs_Cone, GeomAbs_Cylinder, GeomAbs_Plane, GeomAbs_Sphere, GeomAbs_Torus
from OCP.gp import gp_Cone, gp_Cylinder, gp_Pln, gp_Pnt, gp_Vec
from OCP.ShapeAnalysis import ShapeAnalysis_CanonicalRecognition
from OCP.TopAbs import TopAbs_REVERSED
from OCP.TopoDS import TopoDS

from shopflow.core.solid.graph import Face, Vector, add, cross, dot, minus, norm, sub, unit
from shopflow.core.solid.occ.measure import area_and_centre
from shopflow.core.solid.occ.rims import reach

FIT_SHARE = 2e-5
"""A general surface counts as a plane, cylinder or cone within this share of the model's box …"""
FIT_LARGEST_MM = 1e-3
"""… but never more than this."""

_ACROSS = 24
"""Samples along each parameter line when the covered angle is measured; each step has to turn less than 180 degrees."""


def describe(shape: Any, index: int, solid: int, fit_mm: float) -> Face:
    """The face as plain values. fit_mm: tolerance within which a general surface counts as a simple one."""
    face = TopoDS.Face(shape)
    surface = BRepAdaptor_Surface(face)
    area, centre = area_and_centre(face)
    sign = -1.0 if face.Orientation() == TopAbs_REVERSED else 1.0
    bounds = BRepTools.UVBounds_s(face)
    point, normal = at(surface, (bounds[0] + bounds[1]) / 2, (bounds[2] + bounds[3]) / 2, sign)
    plain = Face(index, solid, "freeform", area, centre, normal)
    exact = _exact(face, surface, plain, bounds)
    found = exact or _fitted(face, surface, plain, bounds, fit_mm)
    return _with_side(found, point) if found else plain


def at(surface: Any, u: float, v: float, sign: float) -> tuple[Vector, Vector]:
    """Point and outward normal of a surface at its parameters; the normal is (0, 0, 0) where there is none."""
    point, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(u, v, point, du, dv)
    normal = cross(xyz(du), xyz(dv))
    length = norm(normal)
    if length < 1e-12:
        return xyz(point), (0.0, 0.0, 0.0)
    return xyz(point), (sign * normal[0] / length, sign * normal[1] / length, sign * normal[2] / length)


def xyz(thing: Any) -> Vector:
    return thing.Coord()  # type: ignore[no-any-return]


def _axis(position: Any) -> tuple[Vector, Vector]:
    return xyz(position.Location()), xyz(position.Direction())


def _exact(face: Any, surface: Any, plain: Face, bounds: Any) -> Face | None:
    """The face when its surface is of a simple kind; None for a general surface."""
    kind, span = surface.GetType(), math.degrees(bounds[1] - bounds[0])
    if kind == GeomAbs_Plane:
        return _plane(plain, surface.Plane())
    if kind == GeomAbs_Cylinder:
        origin, axis = _axis(surface.Cylinder().Axis())
        reached = reach(face, origin, axis, (bounds[2], bounds[3]))
        return _cylinder(plain, origin, axis, surface.Cylinder().Radius(), span, reached)
    if kind == GeomAbs_Cone:
        return _cone(plain, surface.Cone(), span, (bounds[2], bounds[3]))
    if kind == GeomAbs_Sphere:
        origin, axis = _axis(surface.Sphere().Position())
        radius = surface.Sphere().Radius()
        low, high = radius * math.sin(bounds[2]), radius * math.sin(bounds[3])
        return replace(plain, kind="sphere", origin=origin, axis=axis, radius=radius, span_deg=span, low=low, high=high)
    if kind == GeomAbs_Torus:
        origin, axis = _axis(surface.Torus().Axis())
        tube, big = surface.Torus().MinorRadius(), surface.Torus().MajorRadius()
        return _torus(plain, origin, axis, tube, big, span, (bounds[2], bounds[3]))
    return None


def _plane(plain: Face, plane: Any) -> Face:
    return replace(plain, kind="plane", origin=xyz(plane.Location()), axis=plain.normal)


def _cylinder(
    plain: Face, origin: Vector, axis: Vector, radius: float, span: float, reach: tuple[float, float]
) -> Face:
    return replace(
        plain,
        kind="cylinder",
        origin=origin,
        axis=axis,
        radius=radius,
        span_deg=span,
        low=reach[0],
        high=reach[1],
        radius_low=radius,
        radius_high=radius,
    )


def _cone(plain: Face, cone: Any, span: float, along: tuple[float, float]) -> Face:
    """along: extent in the cone's own parameter, which runs on its slope."""
    origin, axis = _axis(cone.Axis())
    slope, radius = cone.SemiAngle(), cone.RefRadius()
    ends = sorted((v * math.cos(slope), radius + v * math.sin(slope)) for v in along)
    return replace(
        plain,
        kind="cone",
        origin=origin,
        axis=axis,
        span_deg=span,
        low=ends[0][0],
        high=ends[1][0],
        radius_low=abs(ends[0][1]),
        radius_high=abs(ends[1][1]),
        half_angle_deg=math.degrees(abs(slope)),
    )


def _torus(
    plain: Face, origin: Vector, axis: Vector, tube: float, big: float, span: float, around: tuple[float, float]
) -> Face:
    ends = sorted((tube * math.sin(v), big + tube * math.cos(v)) for v in around)
    return replace(
        plain,
        kind="torus",
        origin=origin,
        axis=axis,
        radius=tube,
        big_radius=big,
        span_deg=span,
        low=ends[0][0],
        high=ends[1][0],
        radius_low=ends[0][1],
        radius_high=ends[1][1],
    )


def _fitted(face: Any, surface: Any, plain: Face, bounds: Any, fit_mm: float) -> Face | None:
    """The face when a plane, cylinder or cone fits its general surface: some exporters write nothing else."""
    recognition = ShapeAnalysis_CanonicalRecognition(face)
    plane, cylinder, cone = gp_Pln(), gp_Cylinder(), gp_Cone()
    if recognition.IsPlane(fit_mm, plane):
        return replace(_plane(plain, plane), recognised=True)
    if recognition.IsCylinder(fit_mm, cylinder):
        origin, axis = _axis(cylinder.Axis())
        span, low, high = _covered(surface, bounds, origin, axis)
        return replace(_cylinder(plain, origin, axis, cylinder.Radius(), span, (low, high)), recognised=True)
    if recognition.IsCone(fit_mm, cone):
        origin, axis = _axis(cone.Axis())
        span, low, high = _covered(surface, bounds, origin, axis)
        slope = math.cos(cone.SemiAngle())
        return replace(_cone(plain, cone, span, (low / slope, high / slope)), recognised=True)
    return None


def _covered(surface: Any, bounds: Any, origin: Vector, axis: Vector) -> tuple[float, float, float]:
    """Angle around an axis that a face covers, and its extent along the axis, from samples on its parameter lines."""
    helper = (1.0, 0.0, 0.0) if abs(axis[0]) < 0.9 else (0.0, 1.0, 0.0)
    first = unit(cross(axis, helper))
    second = cross(axis, first)
    heights: list[float] = []

    def turned(line: list[tuple[float, float]]) -> float:
        angles = []
        for u, v in line:
            out = sub(xyz(surface.Value(u, v)), origin)
            heights.append(dot(out, axis))
            angles.append(math.atan2(dot(out, second), dot(out, first)))
        steps = (b - a for a, b in zip(angles, angles[1:], strict=False))
        return abs(sum((step + math.pi) % (2 * math.pi) - math.pi for step in steps))

    us = [bounds[0] + (bounds[1] - bounds[0]) * i / _ACROSS for i in range(_ACROSS + 1)]
    vs = [bounds[2] + (bounds[3] - bounds[2]) * i / _ACROSS for i in range(_ACROSS + 1)]
    lines = [[(u, v) for u in us] for v in (vs[0], vs[_ACROSS // 2], vs[-1])]
    lines += [[(u, v) for v in vs] for u in (us[0], us[_ACROSS // 2], us[-1])]
    span = max(turned(line) for line in lines)
    return math.degrees(span), min(heights), max(heights)


def _with_side(face: Face, point: Vector) -> Face:
    """The face with concave set: whether its outward normal, at a point of it, looks to its axis or centre."""
    if face.kind == "plane":
        return face
    return replace(face, concave=dot(_outwards(face, point), face.normal) < 0)


def _outwards(face: Face, point: Vector) -> Vector:
    """From the axis, the centre of a sphere or the middle of a torus' tube to the point."""
    out = sub(point, face.origin)
    if face.kind == "sphere":
        return out
    radial = add(out, face.axis, -dot(out, face.axis))
    if face.kind == "torus":
        return sub(out, add((0.0, 0.0, 0.0), unit(radial), face.big_radius))
    return radial


__all__ = ["FIT_LARGEST_MM", "FIT_SHARE", "at", "describe", "minus", "xyz"]
