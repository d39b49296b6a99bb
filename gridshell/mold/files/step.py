"""STEP files: one piece or an assembly, named and colored; reading one back to check it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from gridshell.mold.files.solids import face_count, solid_volume
from gridshell.mold.pieces.mold_set import MoldPiece


def _quiet() -> None:
    """Keep the kernel's progress chatter off the standard output."""
    from OCP.Message import Message, Message_Gravity

    for printer in Message.DefaultMessenger_s().Printers():
        printer.SetTraceLevel(Message_Gravity.Message_Fail)


def write_step(
    pieces: Sequence[MoldPiece], path: Path, title: str,
    offsets: Sequence[tuple[float, float, float]] | None = None,
) -> None:
    """Write pieces as named, colored solids (mm); several become one assembly.

    Args:
        pieces: in the order of the file.
        path: of the file.
        title: name of the assembly.
        offsets: (x, y, z) that each piece is moved by, mm.

    Raises:
        OSError: the file could not be written.
    """
    from OCP.gp import gp_Trsf, gp_Vec
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_Controller, STEPControl_StepModelType
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool

    _quiet()
    STEPControl_Controller.Init_s()
    # Curves in the parameters of the surfaces follow from those in space. With them a file of
    # ribs is half as large again, one of letters more than twice, and read only a third faster.
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)
    Interface_Static.SetCVal_s("write.step.product.name", title[:60])
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colors = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    root = shapes.NewShape() if len(pieces) > 1 else None
    if root is not None:
        TDataStd_Name.Set_s(root, TCollection_ExtendedString(title))
    for index, piece in enumerate(pieces):
        label = shapes.AddShape(piece.solid, False)
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(piece.name))
        color = Quantity_Color(*piece.color, Quantity_TypeOfColor.Quantity_TOC_sRGB)
        colors.SetColor(label, color, XCAFDoc_ColorType.XCAFDoc_ColorGen)
        if root is not None:
            move = gp_Trsf()
            if offsets is not None:
                move.SetTranslation(gp_Vec(*offsets[index]))
            placed = shapes.AddComponent(root, label, TopLoc_Location(move))
            TDataStd_Name.Set_s(placed, TCollection_ExtendedString(piece.name))
    shapes.UpdateAssemblies()
    writer = STEPCAFControl_Writer()
    writer.SetColorMode(True)
    writer.SetNameMode(True)
    writer.Transfer(document, STEPControl_StepModelType.STEPControl_AsIs)
    if writer.Write(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone or not _complete(path):
        raise OSError(f"{path.name}: could not be written (is the disk full?)")


def _complete(path: Path) -> bool:
    """Whether the file ends as a STEP file does (a full disk cuts it short)."""
    with path.open("rb") as file:
        file.seek(0, 2)
        file.seek(max(0, file.tell() - 64))
        return b"END-ISO-10303-21" in file.read()


def read_step(path: Path) -> Any:
    """All shapes of a STEP file as one kernel shape, mm.

    Args:
        path: of the file.

    Raises:
        OSError: not readable.
    """
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.STEPControl import STEPControl_Reader

    _quiet()
    reader = STEPControl_Reader()
    if reader.ReadFile(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise OSError(f"{path.name}: can't be read back")
    _few_repairs(reader)
    reader.TransferRoots()
    return reader.OneShape()


def _few_repairs(reader: Any) -> None:
    """Leave out the repairs that shapes of our own don't need; they take half of the time.

    Seams of full cylinders are never written, so wires and faces must still be mended.
    """
    if not hasattr(reader, "SetShapeFixParameters"):
        return  # kernels before 7.9 always repair everything
    from OCP.Resource import Resource_DataMapOfAsciiStringAsciiString
    from OCP.TCollection import TCollection_AsciiString

    off = Resource_DataMapOfAsciiStringAsciiString()
    for repair in (
        "FreeShell", "FreeFace", "FreeWire", "SameParameter", "ShellOrientation", "Orientation",
        "SplitFace",
    ):
        off.Bind(
            TCollection_AsciiString(f"FixShape.Fix{repair}Mode"), TCollection_AsciiString("0")
        )
    reader.SetShapeFixParameters(off)


def measure_step(path: Path) -> tuple[float, int]:
    """Volume (mm3) and number of faces of a STEP file read back.

    Args:
        path: of the file.
    """
    shape = read_step(path)
    return solid_volume(shape), face_count(shape)
