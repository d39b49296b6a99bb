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
    middles = _lying_in(body, list(map(_middle, tools)))
    result = combined("cut", body, tools)
    if _lying_in(result, middles):
        result = body
        for tool in tools:
            result = combined("cut", result, [tool])
        if _lying_in(result, middles):
            raise RuntimeError("the kernel left out a hole or slot of a block")
    return result


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
