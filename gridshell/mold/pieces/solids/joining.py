"""Joining a laid sheet to a block: one cylinder face goes, the laid faces come in its place.

The pocketed surface never goes through the boolean engine: `with_sheet` takes one cylinder face off
the finished block; block and laid faces share its border edges.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from gridshell.mold.pieces.solids.booleans import walk
from gridshell.mold.pieces.solids.plain import MATCH
from gridshell.mold.relief.faces import Sheet


def cylinder_radius(face: Any) -> float | None:
    """Radius of a face that lies on a cylinder about the x axis, else None.

    Args:
        face: a kernel face.
    """
    from OCP.BRep import BRep_Tool
    from OCP.Geom import Geom_CylindricalSurface

    surface = BRep_Tool.Surface_s(face)
    if not isinstance(surface, Geom_CylindricalSurface):
        return None
    axis = surface.Cylinder().Axis()
    along, place = axis.Direction(), axis.Location()
    if abs(abs(along.X()) - 1) > 1e-9 or math.hypot(place.Y(), place.Z()) > MATCH:
        return None
    return float(surface.Cylinder().Radius())


def plane_height(face: Any, axis: int, sign: int) -> float | None:
    """Position along an axis (0, 1, 2 for x, y, z) of a planar face that looks along
    ``sign`` times that axis, else None.

    Args:
        face: a kernel face.
        axis: 0, 1, 2 for x, y, z.
        sign: 1 or -1.
    """
    from OCP.BRep import BRep_Tool
    from OCP.Geom import Geom_Plane
    from OCP.TopAbs import TopAbs_Orientation

    surface = BRep_Tool.Surface_s(face)
    if not isinstance(surface, Geom_Plane):
        return None
    plane = surface.Pln()
    normal = plane.Axis().Direction()
    component = (normal.X(), normal.Y(), normal.Z())[axis]
    if not plane.Position().Direct():
        component = -component
    if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
        component = -component
    if abs(component - sign) > 1e-9:
        return None
    place = plane.Location()
    return float((place.X(), place.Y(), place.Z())[axis])


def face_with_holes(face: Any, holes: Sequence[Any], laid_on: Any = None) -> Any:
    """A block's face with further holes.

    Args:
        face: planar, or on a cylinder about the x axis.
        holes: wires of laid edges; clockwise seen along the normal of the plane, or of
            ``laid_on``.
        laid_on: the kernel cylinder that the laid edges have parameter curves on, which then
            carries the new face; None for a planar face.
    """
    from OCP.BRep import BRep_Builder, BRep_Tool
    from OCP.TopAbs import TopAbs_Orientation
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Iterator

    builder = BRep_Builder()
    forward = TopoDS.Face_s(face.Oriented(TopAbs_Orientation.TopAbs_FORWARD))
    mirrored = False
    if laid_on is None:
        result = TopoDS.Face_s(forward.EmptyCopied())
    else:
        result = TopoDS_Face()
        builder.MakeFace(result, laid_on, TopLoc_Location(), BRep_Tool.Tolerance_s(face))
        mirrored = _carry_border(forward, laid_on, builder)
    wires = TopoDS_Iterator(forward)
    while wires.More():
        wire = wires.Value()
        builder.Add(result, wire.Reversed() if mirrored else wire)
        wires.Next()
    for hole in holes:
        builder.Add(result, hole)
    turned = result.Oriented(face.Orientation())
    return turned.Reversed() if mirrored else turned


def _carry_border(face: Any, laid_on: Any, builder: Any) -> bool:
    """Give a block face's border parameter curves on the laid cylinder as well.

    Both count the angle from +y; the block's may start elsewhere along x and count backwards.
    Returns True when it counts backwards, which turns its wires round.
    """
    from OCP.BRep import BRep_Tool
    from OCP.gp import gp_Ax2d, gp_Trsf2d, gp_Vec2d
    from OCP.TopLoc import TopLoc_Location

    frame = BRep_Tool.Surface_s(face).Cylinder().Position()
    across, second, along = frame.XDirection(), frame.YDirection(), frame.Direction()
    if abs(across.Y() - 1) > 1e-9 or abs(second.Z() - 1) > 1e-9:
        raise RuntimeError("a block's cylinder does not count its angle as the laid faces do")
    mirrored = along.X() < 0
    move = gp_Trsf2d()
    move.SetTranslation(gp_Vec2d(0.0, frame.Location().X()))
    if mirrored:
        mirror = gp_Trsf2d()
        mirror.SetMirror(gp_Ax2d())
        move.Multiply(mirror)
    here = TopLoc_Location()
    for edge in walk(face, "edge"):
        first, last = BRep_Tool.Range_s(edge, face)
        curve = BRep_Tool.CurveOnSurface_s(edge, face, 0.0, 1.0).Transformed(move)
        builder.UpdateEdge(edge, curve, laid_on, here, BRep_Tool.Tolerance_s(edge))
        builder.Range(edge, laid_on, here, first, last)
    return bool(mirrored)


def solid_of(faces: Iterable[Any]) -> Any:
    """A solid from faces that already share every edge and look outwards.

    Args:
        faces: kernel faces.
    """
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    builder = BRep_Builder()
    shell, solid = TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    for face in faces:
        builder.Add(shell, face)
    shell.Closed(True)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def with_sheet(block: Any, base_radius: float, far_radius: float, sheet: Sheet) -> Any:
    """The block with its face on the base cylinder replaced by a laid sheet.

    Args:
        block: a plain solid with one face on each of the two cylinders it needs.
        base_radius: of the cylinder that gives way to the sheet, mm.
        far_radius: of the cylinder that cut-outs left open go through to, mm.
        sheet: from `lay_sheet`.
    """
    from OCP.TopAbs import TopAbs_Orientation

    faces, turned = [], None
    opened = not sheet.far_holes
    for face in walk(block, "face"):
        radius = cylinder_radius(face)
        if radius is not None and abs(radius - base_radius) < MATCH and turned is None:
            face = face_with_holes(face, sheet.holes, sheet.base)
            turned = face.Orientation()
        elif radius is not None and abs(radius - far_radius) < MATCH and not opened:
            opened = True
            face = face_with_holes(face, sheet.far_holes, sheet.far)
        faces.append(face)
    if turned is None or not opened:
        raise RuntimeError("the block has no face where the laid faces belong")
    # Laid faces look away from the axis, as the block's cylinder does unless it is a bore.
    reverse = turned == TopAbs_Orientation.TopAbs_REVERSED
    faces += [face.Reversed() if reverse else face for face in sheet.faces]
    return solid_of(faces)
