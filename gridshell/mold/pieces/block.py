"""Plain solids under the ribs: prisms from a cross section, holes and slots, and joining a sheet.

Features of the flanges are few, so the kernel's boolean engine cuts them while the block is still
plain. The pocketed surface never goes through it: `with_sheet` takes one cylinder face off the
finished block and puts the laid faces in its place; they share its border edges.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.mold.relief.faces import Sheet

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


def combined(operation: str, body: Any, tools: Iterable[Any]) -> Any:
    """One boolean of a plain body with few tools: ``cut``, ``fuse`` or ``common``.

    Args:
        operation: ``cut``, ``fuse`` or ``common``.
        body: a plain solid.
        tools: the other solids.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
    from OCP.TopTools import TopTools_ListOfShape

    tools = list(tools)
    if not tools:
        return body
    kinds = {"cut": BRepAlgoAPI_Cut, "fuse": BRepAlgoAPI_Fuse, "common": BRepAlgoAPI_Common}
    engine = kinds[operation]()
    arguments, others = TopTools_ListOfShape(), TopTools_ListOfShape()
    arguments.Append(body)
    for tool in tools:
        others.Append(tool)
    engine.SetArguments(arguments)
    engine.SetTools(others)
    engine.Build()
    if not engine.IsDone():
        raise RuntimeError(f"the kernel could not {operation} the features of a block")
    return only_solid(engine.Shape())


def cut_out(body: Any, tools: Iterable[Any]) -> Any:
    """The body less every tool, each seen to have cut.

    The boolean engine can leave a tool out without a word where surfaces touch. The middle of
    each tool that lay in the body must lie outside it afterwards; if one does not, the tools are
    tried one by one.

    Args:
        body: a plain solid.
        tools: solids to take off.

    Raises:
        RuntimeError: a tool would not cut.
    """
    tools = list(tools)
    middles = [point for point in map(_middle, tools) if _lies_in(body, point)]
    result = combined("cut", body, tools)
    if any(_lies_in(result, point) for point in middles):
        result = body
        for tool in tools:
            result = combined("cut", result, [tool])
        if any(_lies_in(result, point) for point in middles):
            raise RuntimeError("the kernel left out a hole or slot of a block")
    return result


def _middle(solid: Any) -> Any:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, found)
    return found.CentreOfMass()


def _lies_in(solid: Any, point: Any) -> bool:
    from OCP.BRepClass3d import BRepClass3d_SolidClassifier
    from OCP.TopAbs import TopAbs_State

    return bool(
        BRepClass3d_SolidClassifier(solid, point, 1e-6).State() == TopAbs_State.TopAbs_IN
    )


def only_solid(shape: Any) -> Any:
    """The one solid of a shape.

    Args:
        shape: a kernel shape.

    Raises:
        RuntimeError: there is none, or more than one.
    """
    solids = list(walk(shape, "solid"))
    if len(solids) != 1:
        raise RuntimeError(f"expected one solid, the kernel made {len(solids)}")
    return solids[0]


def walk(shape: Any, kind: str) -> Iterable[Any]:
    """Sub-shapes of a kind: ``solid``, ``face``, ``edge``, ``wire``, ``vertex``.

    Args:
        shape: a kernel shape.
        kind: ``solid``, ``face``, ``edge``, ``wire`` or ``vertex``.
    """
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    wanted = getattr(TopAbs_ShapeEnum, f"TopAbs_{kind.upper()}")
    cast = getattr(TopoDS, f"{kind.capitalize()}_s")
    explorer = TopExp_Explorer(shape, wanted)
    while explorer.More():
        yield cast(explorer.Current())
        explorer.Next()


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
