"""Plain solids: prisms from a cross section, boxes, round bars and cones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

Point2 = tuple[float, float]


@dataclass(frozen=True)
class Arc:
    """The next side of a profile is an arc about the tube's axis, through ``middle``.

    Attributes:
        middle: (y, z) of a point on it, mm.
    """

    middle: Point2


Profile = Sequence[Point2 | Arc]
"""Corners (y, z), counterclockwise or not, mm; an `Arc` between two corners bends that side."""

MATCH = 1e-6  # mm, radii and planes closer than this are the same


def at_angle(radius: float, angle: float) -> Point2:
    """The point (y, z) at a radius and an angle from +y.

    Args:
        radius: mm.
        angle: from +y, rad.
    """
    return radius * math.cos(angle), radius * math.sin(angle)


def prism(profile: Profile, start: float, end: float) -> Any:
    """The solid swept along x from a profile in the (y, z) plane.

    Args:
        profile: its cross section, mm.
        start: x where it starts, mm.
        end: x where it ends, mm.
    """
    from OCP.BRepBuilderAPI import (
        BRepBuilderAPI_MakeEdge,
        BRepBuilderAPI_MakeFace,
        BRepBuilderAPI_MakeWire,
    )
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pnt, gp_Vec

    corners: list[Point2] = []
    bends: dict[int, Arc] = {}
    for item in profile:
        if isinstance(item, Arc):
            bends[len(corners) - 1] = item
        elif not corners or math.dist(item, corners[-1]) > MATCH:
            corners.append(item)
    if math.dist(corners[0], corners[-1]) <= MATCH:
        corners.pop()
    wire = BRepBuilderAPI_MakeWire()
    # Arcs are parts of circles framed as the laid cylinders are, so that both count angle alike.
    for index, corner in enumerate(corners):
        after = corners[(index + 1) % len(corners)]
        first, last = (gp_Pnt(start, *point) for point in (corner, after))
        if index in bends:
            radius = math.hypot(*corner)
            circle = gp_Circ(
                gp_Ax2(gp_Pnt(start, 0, 0), gp_Dir(1, 0, 0), gp_Dir(0, 1, 0)), radius
            )
            a, b = math.atan2(corner[1], corner[0]), math.atan2(after[1], after[0])
            middle = math.atan2(bends[index].middle[1], bends[index].middle[0])
            a, b, middle = (angle % (2 * math.pi) for angle in (a, b, middle))
            forward = (middle - a) % (2 * math.pi) < (b - a) % (2 * math.pi)
            edge = (
                BRepBuilderAPI_MakeEdge(circle, first, last) if forward
                else BRepBuilderAPI_MakeEdge(circle, last, first)
            )
        else:
            edge = BRepBuilderAPI_MakeEdge(first, last)
        wire.Add(edge.Edge())
    face = BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(end - start, 0, 0)).Shape()


def box(low: Sequence[float], high: Sequence[float]) -> Any:
    """An upright box between two corners.

    Args:
        low: lower corner, mm.
        high: upper corner, mm.
    """
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
    from OCP.gp import gp_Pnt

    return BRepPrimAPI_MakeBox(gp_Pnt(*low), gp_Pnt(*high)).Shape()


def pin(start: Sequence[float], end: Sequence[float], diameter: float) -> Any:
    """A round bar between two points.

    Args:
        start: (x, y, z) of one end, mm.
        end: (x, y, z) of the other, mm.
        diameter: mm.
    """
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    along = np.subtract(end, start)
    length = float(np.linalg.norm(along))
    axis = gp_Ax2(gp_Pnt(*start), gp_Dir(*(along / length)))
    return BRepPrimAPI_MakeCylinder(axis, diameter / 2, length).Shape()


def half_turned(profile: Sequence[Point2]) -> Any:
    """The solid that a profile sweeps in half a turn about x, from +y over +z.

    Args:
        profile: corners (x, radius), mm; the first and the last lie on the axis.
    """
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt

    outline = BRepBuilderAPI_MakePolygon()
    for x, radius in profile:
        outline.Add(gp_Pnt(x, radius, 0))
    outline.Close()
    face = BRepBuilderAPI_MakeFace(outline.Wire(), True).Face()
    axis = gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0))
    return BRepPrimAPI_MakeRevol(face, axis, math.pi).Shape()


def funnel(start: Sequence[float], start_diameter: float, end: Sequence[float],
           end_diameter: float) -> Any:
    """A cone along x between two circles whose centers need not be in line.

    Args:
        start: (x, y, z) of one circle, mm.
        start_diameter: mm.
        end: (x, y, z) of the other, mm.
        end_diameter: mm.
    """
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
    from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
    from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pnt

    skin = BRepOffsetAPI_ThruSections(True, True)
    for center, diameter in ((start, start_diameter), (end, end_diameter)):
        circle = gp_Circ(gp_Ax2(gp_Pnt(*center), gp_Dir(1, 0, 0)), diameter / 2)
        skin.AddWire(BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(circle).Edge()).Wire())
    return skin.Shape()
