"""STEP text of our own: what the kernel reads back is the solid, in less room than its own file.

The reference is the kernel's own reader with all its repairs, as other programs that use it read.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import small

from gridshell.define.tables.mold import Mold
from gridshell.mold.files import step_text
from gridshell.mold.files.alike import kinds_hold, representatives
from gridshell.mold.files.shape_records import UnknownShapeError, records_of
from gridshell.mold.files.solids import face_count, is_closed, is_valid, solid_volume
from gridshell.mold.files.step import write_by_kernel, write_step
from gridshell.mold.files.step_product import Member, piece_lines, write_joined
from gridshell.mold.pieces.build import build_molds
from gridshell.mold.pieces.halves import part_solid
from gridshell.mold.pieces.layout import layout
from gridshell.mold.pieces.mold_set import MoldPiece
from gridshell.mold.pieces.solids.booleans import combined, walk
from gridshell.mold.pieces.solids.joining import solid_of
from gridshell.mold.pieces.solids.plain import box, funnel, pin
from gridshell.mold.relief.ribbing import islands, ribbing
from gridshell.wall.geometry.lattice import lattice


def read(path: Path) -> Any:
    """As the kernel reads it when nothing is told about repairs."""
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.STEPControl import STEPControl_Reader

    reader = STEPControl_Reader()
    assert reader.ReadFile(str(path)) == IFSelect_ReturnStatus.IFSelect_RetDone
    reader.TransferRoots()
    return reader.OneShape()


def middle(shape: Any) -> Any:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    return np.array([found.CentreOfMass().X(), found.CentreOfMass().Y(), found.CentreOfMass().Z()])


def test_molds_are_read_back_as_they_are(tmp_path: Path) -> None:
    """Part with fillets, core with letters, cavity with cones and funnels, ring, mandrel."""
    design = replace(small(spacing=24e-3), title="Invented")  # a few letters show what many do
    for piece in build_molds(design).pieces:
        ours, theirs = tmp_path / "ours.step", tmp_path / "theirs.step"
        piece_lines(piece)  # nothing in it is unknown
        write_step(piece, ours)
        write_by_kernel(piece, theirs)
        back = read(ours)
        assert is_valid(back) and is_closed(back), piece.name
        assert face_count(back) == face_count(piece.solid)
        assert solid_volume(back) == pytest.approx(solid_volume(piece.solid), rel=1e-6)
        assert middle(back) == pytest.approx(middle(piece.solid), abs=1e-5)
        # 0.45 to 0.65 of it where there are curved faces, 0.75 of a plain ring.
        ratio = ours.stat().st_size / theirs.stat().st_size
        assert ratio < (0.68 if piece.role in ("part", "core", "cavity") else 0.8), piece.name


def torus() -> Any:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeTorus

    return BRepPrimAPI_MakeTorus(8.0, 2.0).Shape()


def cone(first: float, second: float) -> Any:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone

    return BRepPrimAPI_MakeCone(first, second, 7.0).Shape()


def slanted() -> Any:
    """A bar cut across at a slant: an ellipse."""
    return combined("cut", pin((0, 0, 0), (20, 0, 0), 6.0), [turned(box((-9, 6, -9), (60, 40, 9)))])


def turned(shape: Any) -> Any:
    return moved(shape, (0.1, 0.2, 0.9), 0.6, (1.0, 2.0, 3.0))


def moved(shape: Any, axis: Any, angle: float, shift: Any) -> Any:
    """A shape in another place, by reference: its points stay as they were stored."""
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
    from OCP.TopLoc import TopLoc_Location

    turn, move = gp_Trsf(), gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*axis)), angle)
    move.SetTranslation(gp_Vec(*shift))
    return shape.Moved(TopLoc_Location(move.Multiplied(turn)))


def mirrored(shape: Any) -> Any:
    """Turned into its mirror image, with frames that are left-handed."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf

    mirror = gp_Trsf()
    mirror.SetMirror(gp_Ax2(gp_Pnt(1, 2, 3), gp_Dir(0.3, 0.5, 0.7)))
    return BRepBuilderAPI_Transform(shape, mirror, True).Shape()


SHAPES = {
    "box": lambda: box((0, 0, 0), (3, 4, 5)), "pin": lambda: pin((0, 0, 0), (9, 2, 1), 3.0),
    "tube": lambda: combined(
        "cut", pin((0, 0, 0), (9, 0, 0), 8.0), [pin((-1, 0, 0), (10, 0, 0), 5.0)]),
    "cone": lambda: cone(2.0, 5.0), "cone that narrows": lambda: cone(5.0, 2.0), "torus": torus,
    "funnel": lambda: funnel((0, 0, 0), 3.0, (8, 1, 2), 6.0), "slanted": slanted,
    "mirrored": lambda: mirrored(slanted()), "mirrored cone": lambda: mirrored(cone(5.0, 2.0)),
}
angles = st.floats(-3.0, 3.0)


@settings(max_examples=30, deadline=None)
@given(name=st.sampled_from(sorted(SHAPES)), axis=st.tuples(angles, angles, angles), angle=angles,
       shift=st.tuples(angles, angles, angles))
def test_plain_shapes_anywhere(
    tmp_path_factory: pytest.TempPathFactory, name: str, axis: Any, angle: float, shift: Any
) -> None:
    if sum(x * x for x in axis) < 1e-3:
        axis = (0.0, 0.0, 1.0)
    shape = moved(SHAPES[name](), axis, angle, shift)
    path = tmp_path_factory.mktemp("step") / "it.step"
    piece = MoldPiece(name, "core", shape, 1)
    piece_lines(piece)
    write_step(piece, path)
    back = read(path)
    assert is_valid(back) and is_closed(back)
    assert solid_volume(back) == pytest.approx(solid_volume(shape), rel=1e-6)
    assert middle(back) == pytest.approx(middle(shape), abs=1e-5)


def test_the_kernel_writes_what_is_not_known(tmp_path: Path) -> None:
    """The poles of a ball are edges without a curve."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeSphere

    piece = MoldPiece("ball", "core", BRepPrimAPI_MakeSphere(4.0).Shape(), 1)
    with pytest.raises(UnknownShapeError):
        piece_lines(piece)
    write_step(piece, tmp_path / "ball.step")
    assert solid_volume(read(tmp_path / "ball.step")) == pytest.approx(4 / 3 * np.pi * 64, rel=1e-6)


def test_names_are_read_back_letter_by_letter(tmp_path: Path) -> None:
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDF import TDF_LabelSequence
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    name = "it's a \\ 5 \u00b5m \u00d8"
    path = tmp_path / "it.step"
    piece = MoldPiece("a", "core", box((0, 0, 0), (1, 1, 1)), 1)
    write_step(piece, tmp_path / "a.step")
    write_joined([Member("a", 0, 10_000, (0, 0, 0))], path, name)
    Interface_Static.SetCVal_s("read.step.codepage", "UTF8")
    reader = STEPCAFControl_Reader()
    assert reader.ReadFile(str(path)) == IFSelect_ReturnStatus.IFSelect_RetDone
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    assert reader.Transfer(document)
    whole = TDF_LabelSequence()
    XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).GetFreeShapes(whole)
    found = TDataStd_Name()
    assert whole.Value(1).FindAttribute(TDataStd_Name.GetID_s(), found)
    assert found.Get().ToExtString() == name


def test_a_wrong_side_would_be_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check can fail: faces turned round, the volume is off or the solid faulty."""
    piece = MoldPiece("pin", "core", SHAPES["tube"](), 1)
    monkeypatch.setattr(step_text, "flag", lambda yes: ".T.")
    write_step(piece, tmp_path / "it.step")
    back = read(tmp_path / "it.step")
    assert not (is_valid(back) and is_closed(back) and solid_volume(back) == pytest.approx(
        solid_volume(piece.solid), rel=1e-3))


def area(face: Any) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.SurfaceProperties_s(face, found)
    return float(found.Mass())


def test_of_many_alike_faces_some_of_each_kind_are_checked() -> None:
    """The same verdict as the kernel's on every face; open, turned and crossing faces are found."""
    design = small(spacing=11e-3)
    grid, plan = lattice(design), layout(design, Mold(), 1e3)
    laid = islands(design, grid, ribbing(design, grid), 1e3, through=True)
    solid = part_solid(plan, laid, Mold())
    records = records_of(solid)
    shell = records.links[records.root[0]][0][0]
    chosen = representatives(records, shell)
    faces = list(walk(solid, "face"))
    assert len(faces) == len(records.links[shell]) and len(chosen) < 0.4 * len(faces)
    assert kinds_hold(solid, records) == (is_valid(solid), is_closed(solid)) == (True, True)
    # Records and kernel count the faces alike: every size of face is among those chosen.
    areas = [round(area(face), 3) for face in faces]
    assert {areas[i] for i in chosen} == set(areas)
    lacking = solid_of(faces[:-1])
    assert kinds_hold(lacking, records_of(lacking)) == (True, False)
    wrong = solid_of([*faces[:-1], faces[-1].Reversed()])
    assert not kinds_hold(wrong, records_of(wrong))[1]
    # Pockets wider than the pieces of base that they lie in: their outlines cross the frames'.
    crossing = [replace(island, cells=island.cells + 0.3 * (
        island.cells.mean(axis=1, keepdims=True) - island.cells)) for island in laid]
    wrong = part_solid(plan, crossing, Mold())
    assert not is_valid(wrong) and not kinds_hold(wrong, records_of(wrong))[0]
