"""STEP files: one piece or an assembly, named and colored; reading one back to check it.

Written as text of our own (`step_text.py`); what that does not know, and assemblies that refer to
other files, the kernel writes.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from gridshell.mold.files.shape_records import Records
from gridshell.mold.files.solids import face_count, solid_volume
from gridshell.mold.files.step_product import Member, piece_lines, write_lines
from gridshell.mold.files.step_text import UnknownShapeError
from gridshell.mold.pieces.mold_set import MoldPiece

STAND_IN = "stand-in-for-"


def _quiet() -> None:
    """Keep the kernel's progress chatter off the standard output."""
    from OCP.Message import Message, Message_Gravity

    for printer in Message.DefaultMessenger_s().Printers():
        printer.SetTraceLevel(Message_Gravity.Message_Fail)


def write_step(
    piece: MoldPiece, path: Path, records: Records | None = None, before: int = 0
) -> None:
    """Write one piece as a named, colored solid, mm.

    Args:
        piece: one piece.
        path: of the file.
        records: of its solid, if they are there.
        before: the number that the first one in the file follows; see `blocks`.

    Raises:
        OSError: the file could not be written.
    """
    try:
        lines = piece_lines(piece, records, before)
    except UnknownShapeError:
        write_by_kernel(piece, path)
        return
    write_lines(lines, path, piece.name)


def write_by_kernel(piece: MoldPiece, path: Path) -> None:
    """The same by the kernel's own writer, which takes several times as long and as much room.

    Raises:
        OSError: the file could not be written.
    """
    document, shapes, colors = _document()
    _add(shapes, colors, piece, piece.solid)
    _write(document, path, piece.name)


def write_references(members: Sequence[Member], path: Path, title: str) -> None:
    """Write an assembly that refers to the files of its pieces, which lie beside it.

    External references of ISO 10303-214, which not every program follows. The kernel writes them
    for stand-ins; those files are thrown away and the real names put in.

    Args:
        members: in the order of the file.
        path: of the file.
        title: name of the assembly.

    Raises:
        OSError: the file could not be written.
    """
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox

    boxes = [MoldPiece(member.name, "part", BRepPrimAPI_MakeBox(1.0, 1.0, 1.0).Shape(), 1)
             for member in members]
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        # Beside a path that is not absolute the kernel leaves them where the program runs.
        stand_in = Path(folder).resolve() / path.name
        _write(_placed(boxes, members, title), stand_in, title, STAND_IN)
        text = stand_in.read_text(encoding="utf-8")
    for member in members:
        text = text.replace(f"{STAND_IN}{member.name}.stp", f"{member.name}.step")
    if STAND_IN in text:
        raise RuntimeError("the assembly still refers to stand-ins")
    path.write_text(text, encoding="utf-8")


def assemble_by_kernel(
    pieces: Sequence[MoldPiece], members: Sequence[Member], path: Path, title: str
) -> None:
    """An assembly of pieces of which the kernel had to write one.

    Args:
        pieces: in the order of the file.
        members: the same without their solids.
        path: of the file.
        title: name of the assembly.

    Raises:
        OSError: the file could not be written.
    """
    _write(_placed(pieces, members, title), path, title)


def _placed(pieces: Sequence[MoldPiece], members: Sequence[Member], title: str) -> Any:
    """A document of pieces, each where it belongs."""
    from OCP.gp import gp_Trsf, gp_Vec
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TopLoc import TopLoc_Location

    document, shapes, colors = _document()
    root = shapes.NewShape()
    TDataStd_Name.Set_s(root, TCollection_ExtendedString(title))
    for piece, member in zip(pieces, members, strict=True):
        label = _add(shapes, colors, piece, piece.solid)
        move = gp_Trsf()
        move.SetTranslation(gp_Vec(*member.offset))
        placed = shapes.AddComponent(root, label, TopLoc_Location(move))
        TDataStd_Name.Set_s(placed, TCollection_ExtendedString(piece.name))
    shapes.UpdateAssemblies()
    return document


def _document() -> tuple[Any, Any, Any]:
    """An empty document, its tool for shapes and its tool for colors."""
    from OCP.STEPControl import STEPControl_Controller
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    _quiet()
    STEPControl_Controller.Init_s()
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    main = document.Main()
    return (
        document, XCAFDoc_DocumentTool.ShapeTool_s(main), XCAFDoc_DocumentTool.ColorTool_s(main))


def _add(shapes: Any, colors: Any, piece: MoldPiece, shape: Any) -> Any:
    """Put a shape into the document under a piece's name and color."""
    from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.XCAFDoc import XCAFDoc_ColorType

    label = shapes.AddShape(shape, False)
    TDataStd_Name.Set_s(label, TCollection_ExtendedString(piece.name))
    color = Quantity_Color(*piece.color, Quantity_TypeOfColor.Quantity_TOC_sRGB)
    colors.SetColor(label, color, XCAFDoc_ColorType.XCAFDoc_ColorGen)
    return label


def _write(document: Any, path: Path, title: str, prefix: str | None = None) -> None:
    """Write a document, its pieces as files of their own if a prefix for them is given."""
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_StepModelType
    from OCP.TCollection import TCollection_HAsciiString

    # Curves in the parameters of the surfaces follow from those in space. With them a file of
    # ribs is half as large again, one of letters more than twice, and read only a third faster.
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)
    Interface_Static.SetCVal_s("write.step.product.name", title[:60])
    writer = STEPCAFControl_Writer()
    writer.SetColorMode(prefix is None)
    writer.SetNameMode(True)
    kind = STEPControl_StepModelType.STEPControl_AsIs
    transferred = writer.Transfer(document, kind) if prefix is None else writer.Transfer(
        document, kind, prefix)
    if transferred:
        # The kernel's placeholders for author and company say nothing of whoever made this.
        header = APIHeaderSection_MakeHeader(writer.ChangeWriter().Model())
        header.SetName(TCollection_HAsciiString(title[:60]))
        header.SetAuthorValue(1, TCollection_HAsciiString(""))
        header.SetOrganizationValue(1, TCollection_HAsciiString(""))
        header.SetOriginatingSystem(TCollection_HAsciiString("gridshell"))
        header.SetAuthorisation(TCollection_HAsciiString(""))
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
    """Volume (mm3) and number of faces of a STEP file read back."""
    shape = read_step(path)
    return solid_volume(shape), face_count(shape)


def faces_in(path: Path) -> int:
    """Number of faces that the text of a STEP file holds."""
    with path.open("rb") as file:
        return sum(block.count(b"ADVANCED_FACE(") for block in file)
