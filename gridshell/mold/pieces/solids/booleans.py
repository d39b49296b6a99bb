"""Booleans of plain solids with few tools, and the sub-shapes of a solid.

Features of the flanges are few, so the kernel's boolean engine cuts them while the block is still
plain. The pocketed surface does not go through it where that can be helped.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any


def combined(operation: str, body: Any, tools: Iterable[Any]) -> Any:
    """One boolean of a plain body with few tools: ``cut``, ``fuse`` or ``common``.

    Args:
        operation: ``cut``, ``fuse`` or ``common``.
        body: a plain solid.
        tools: the other solids.
    """
    tools = list(tools)
    return only_solid(_boolean(operation, body, tools).Shape()) if tools else body


def _boolean(operation: str, body: Any, tools: list[Any]) -> Any:
    """The engine after the work, which knows what became of each face."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
    from OCP.TopTools import TopTools_ListOfShape

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
    return engine


def cut_out(body: Any, tools: Iterable[Any]) -> Any:
    """The body less every tool, each seen to have cut.

    The boolean engine can leave a tool out without a word where surfaces touch. A tool that has
    left a face in the result has cut. Of any other, the middle must lie outside the result if it
    lay in the body (a search in the whole solid, slow); if one does not, the tools are tried one
    by one.

    Args:
        body: a plain solid.
        tools: solids to take off.

    Raises:
        RuntimeError: a tool would not cut.
    """
    tools = list(tools)
    if not tools:
        return body
    engine = _boolean("cut", body, tools)
    result = only_solid(engine.Shape())
    traceless = _traceless(engine, result, tools)
    if traceless and _uncut(body, result, traceless):
        result = body
        for tool in tools:
            result = combined("cut", result, [tool])
        if _uncut(body, result, tools):
            raise RuntimeError("the kernel left out a hole or slot of a block")
    return result


def _traceless(engine: Any, result: Any, tools: list[Any]) -> list[Any]:
    """Tools of which no face, whole or cut, is a face of the result."""
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    there = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(result, TopAbs_ShapeEnum.TopAbs_FACE, there)
    return [tool for tool in tools if not any(
        there.Contains(left) for face in walk(tool, "face")
        for left in (face, *engine.Modified(face)))]


def _uncut(body: Any, result: Any, tools: list[Any]) -> bool:
    """Whether the middle of a tool lay in the body and still does."""
    return bool(_lying_in(result, _lying_in(body, list(map(_middle, tools)))))


def _middle(solid: Any) -> Any:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, found)
    return found.CentreOfMass()


def _lying_in(solid: Any, points: list[Any]) -> list[Any]:
    """Those points that lie inside a solid; its search tree is built once for all of them."""
    from OCP.BRepClass3d import BRepClass3d_SolidClassifier
    from OCP.TopAbs import TopAbs_State

    classifier = BRepClass3d_SolidClassifier(solid)
    found = []
    for point in points:
        classifier.Perform(point, 1e-6)
        if classifier.State() == TopAbs_State.TopAbs_IN:
            found.append(point)
    return found


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
