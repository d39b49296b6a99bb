"""Whole mold sets: pieces, splits, cut-outs, engraving, files, and what is refused."""

from __future__ import annotations

import dataclasses
import math
import os
import pickle
import re
import signal
import time
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from shapes import small

import gridshell.mold.files.write as files_module
from gridshell.define.checks import check_design
from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.tables.cutouts import check_cutouts
from gridshell.define.tables.design import with_values
from gridshell.define.tables.mold import Cutout, Mold, read_mold
from gridshell.mold.files import assembly
from gridshell.mold.files.folder import output_folder
from gridshell.mold.files.solids import (
    SolidCheck,
    is_closed,
    is_valid,
    is_watertight,
    joined_mesh,
    mesh_solid,
    read_stl,
    solid_volume,
    write_stl,
)
from gridshell.mold.files.step import faces_in, write_step
from gridshell.mold.files.write import (
    FORMATS,
    planned_names,
    write_piece,
    write_pieces,
)
from gridshell.mold.pieces.build import _Builder, build_molds, piece_names, plan_molds
from gridshell.mold.pieces.cores.mandrel import mandrel_radius
from gridshell.mold.pieces.features.cutouts import cast_segments
from gridshell.mold.pieces.features.lettering import Plate, engraved, letter_loops
from gridshell.mold.pieces.halves import cavity_solid, core_solid, part_solid
from gridshell.mold.pieces.layout import layout
from gridshell.mold.pieces.mold_set import MoldSet
from gridshell.mold.pieces.solids import booleans
from gridshell.mold.pieces.solids.booleans import cut_out
from gridshell.mold.pieces.solids.plain import box, pin, prism
from gridshell.mold.pieces.splitting import spans
from gridshell.mold.relief.base import _apart
from gridshell.mold.relief.ribbing import clean_planes, islands, ribbing
from gridshell.wall.geometry.lattice import lattice
from gridshell.wall.geometry.pattern import panel_pockets

MOLD = Mold(engraving=0.0, shrinkage=0.015, gates=1)
BED = (0.06, 0.11, 0.06)  # the whole mold is 85 mm long, 93 mm wide and 34 mm high


@pytest.fixture(scope="module")
def plain() -> MoldSet:
    return build_molds(small(), MOLD)


def bounds(piece: Any) -> np.ndarray:
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(piece.solid, box)
    return np.array(box.Get()).reshape(2, 3)


def write_molds(
    molds: MoldSet, folder: Path, force: bool = False, formats: tuple[str, ...] = FORMATS
) -> list[SolidCheck]:
    """Every piece into a folder, all or nothing, as the command does."""
    with output_folder(folder, force, planned_names(
            [piece.name for piece in molds.pieces], formats)) as scratch:
        return write_pieces(molds, scratch, formats, workers=1)


def test_every_piece_is_a_valid_closed_solid(plain: MoldSet) -> None:
    assert [p.name for p in plain.pieces] == ["part", "core", "cavity", "mandrel", "end-ring"]
    assert [p.quantity for p in plain.pieces] == [2, 1, 1, 1, 2]
    for piece in plain.pieces:
        assert is_valid(piece.solid) and is_closed(piece.solid), piece.name
        assert solid_volume(piece.solid) > 0, piece.name


def test_mold_is_larger_by_one_over_one_minus_shrinkage(plain: MoldSet) -> None:
    # ISO 294-4 defines molding shrinkage as (mold - part)/mold (from memory).
    assert plain.factor == pytest.approx(1 / 0.985)
    assert plain.plan is not None
    assert plain.plan.length == pytest.approx(60 / 0.985)
    assert plain.plan.outer == pytest.approx(22 / 0.985)
    assert bounds(plain.piece("part"))[1, 0] == pytest.approx(60, abs=1e-3)


def test_mandrel_and_ring_fit_the_finished_part(plain: MoldSet) -> None:
    assert mandrel_radius(plain.design, plain.mold) == pytest.approx(22 - 4.2 - 0.15)
    ring = bounds(plain.piece("end-ring"))
    assert ring[1, 1] == pytest.approx(22 + 6, abs=1e-3)
    # Rings with their outer faces flush with the mandrel's ends stand one section apart.
    length = np.ptp(bounds(plain.piece("mandrel"))[:, 0])
    assert length - 2 * plain.mold.ring_wall * 1e3 == pytest.approx(60, abs=1e-3)
    jack = math.pi / 4 * 6.8**2 * 2.5 * 6.8
    whole = math.pi * 17.65**2 * length
    assert solid_volume(plain.piece("mandrel").solid) == pytest.approx(whole - 2 * jack, rel=1e-6)


def test_flanges_clear_the_part_and_the_halves_meet(plain: MoldSet) -> None:
    core, cavity = bounds(plain.piece("core")), bounds(plain.piece("cavity"))
    assert plain.plan is not None
    assert core[1, 1] == pytest.approx(cavity[1, 1], abs=1e-3)
    assert core[1, 1] > plain.plan.outer + 20
    assert cavity[0, 2] == pytest.approx(plain.plan.parting, abs=1e-3)


def test_every_hole_and_slot_is_cut(plain: MoldSet) -> None:
    # Holes and slots apart from each other: what they take off adds up, by hand.
    assert plain.plan is not None
    plan, mold = plain.plan, dataclasses.replace(
        plain.mold, gates=1, gate_diameter=None, end_draft=0.0)
    bare = solid_volume(core_solid(plan, mold, spans(plan, ())[0], features=False))
    cut = solid_volume(core_solid(plan, mold, spans(plan, ())[0]))
    holes = math.pi / 4 * plan.flange * (3 * 6.0**2 + 3 * 4.5**2)
    grooves = 2 * 2.5 * 1.2 * plan.length
    assert bare - cut == pytest.approx(holes + grooves, rel=1e-6)
    bare = solid_volume(cavity_solid(plan, mold, spans(plan, ())[0], features=False))
    cut = solid_volume(cavity_solid(plan, mold, spans(plan, ())[0]))
    holes = math.pi / 4 * plan.flange * (3 * 6.3**2 + 3 * 4.5**2 + 4 * 6.8**2)
    slots = 4 * 14.0 * 6.0 * 3.0
    gate = 0.6 * 4.2 / 0.985
    straight = math.pi / 4 * gate**2 * plan.end_wall
    vents = 2 * math.pi / 4 * 1.5**2 * plan.end_wall
    at_least, funnel = holes + slots + straight + vents, math.pi * (1.5 * gate) ** 2 * 9
    assert at_least * 0.98 < bare - cut < at_least + funnel
    assert bare - cut > holes + slots + vents + 2 * straight  # the funnel is there too


def test_one_segment_is_refused_with_the_remedy() -> None:
    design = small()
    barrel = dataclasses.replace(design, tube=dataclasses.replace(
        design.tube, segments=1, seam_land=0.0))
    with pytest.raises(InputError, match="segments = 2 or more"):
        build_molds(barrel, MOLD)


# --- splitting ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def split() -> MoldSet:
    return build_molds(small(), dataclasses.replace(MOLD, bed=BED))


def test_split_pieces_fit_the_bed_and_are_as_few_as_can_be(split: MoldSet) -> None:
    names = [p.name for p in split.pieces if p.role in ("core", "cavity")]
    assert names == ["core-1", "core-2", "cavity-1", "cavity-2"]
    for piece in split.pieces:
        assert is_valid(piece.solid) and is_closed(piece.solid), piece.name
        if piece.role in ("core", "cavity"):
            size = np.sort(np.ptp(bounds(piece), axis=0))
            assert np.all(size <= np.sort(BED) * 1e3 + 1e-3), piece.name
    (plane,) = split.planes
    clean = clean_planes(split.ribs[""], 1e3 * split.factor)
    assert np.isclose(clean, plane).any()


def test_split_halves_hold_as_many_pockets_as_the_whole(plain: MoldSet, split: MoldSet) -> None:
    whole = sum(1 for _ in _floors(plain.piece("core")))
    parts = sum(sum(1 for _ in _floors(split.piece(f"core-{i}"))) for i in (1, 2))
    assert parts == whole == plain.ribs[""].count


def _floors(piece: Any) -> list[Any]:
    from gridshell.mold.pieces.solids.booleans import walk
    from gridshell.mold.pieces.solids.joining import cylinder_radius

    radius = 20.8 / 0.985
    return [f for f in walk(piece.solid, "face")
            if abs((cylinder_radius(f) or 0) - radius) < 1e-6]


def test_split_through_pockets_where_no_plane_is_clean() -> None:
    design = small(orientation="axial")
    built = build_molds(design, dataclasses.replace(MOLD, bed=BED))
    assert any("through pockets" in note for note in built.notes)
    for piece in built.pieces:
        assert is_valid(piece.solid) and is_closed(piece.solid), piece.name


def test_pieces_may_lie_any_way_up() -> None:
    planned = plan_molds(small(), dataclasses.replace(MOLD, bed=(0.036, 0.095, 0.09)))
    assert planned.planes == ()


def test_bed_too_small_is_refused() -> None:
    with pytest.raises(InputError, match=r"mold\.bed"):
        build_molds(small(), dataclasses.replace(MOLD, bed=(0.05, 0.05, 0.05)))


# --- cut-outs -------------------------------------------------------------------------------------


def window(**changes: Any) -> Cutout:
    stated: dict[str, Any] = {
        "shape": "round", "position": 0.03, "angle": math.pi / 2, "diameter": 6e-3, "land": 2e-3,
    }
    return Cutout(**(stated | changes))


@pytest.mark.parametrize("side", ["inside", "outside"])
@pytest.mark.parametrize("cut", [
    window(), window(shape="rectangle", diameter=None, width=9e-3, length=5e-3),
    window(diameter=1.5e-3, land=0.2e-3, snap=True),
])
def test_cutouts_go_through_the_part_and_close_in_the_mold(
    side: str, cut: Cutout
) -> None:
    # Two rows of pockets show what four do, in less time.
    design = with_values(small(side=side), {"tube.length": 34e-3})
    built = build_molds(design, dataclasses.replace(MOLD, cutout=(
        dataclasses.replace(cut, position=17e-3),)))
    ribbed = "core" if side == "inside" else "cavity"
    assert {p.name for p in built.pieces} >= {"part", "part-cut-1", ribbed, f"{ribbed}-cut-1"}
    for piece in built.pieces:
        assert is_valid(piece.solid) and is_closed(piece.solid), piece.name
    assert _genus(built.piece("part-cut-1")) == 1
    assert _genus(built.piece("part")) == 0
    assert built.piece("part-cut-1").quantity == 1 and built.piece("part").quantity == 1


def _genus(piece: Any) -> int:
    """Handles of the surface from its mesh: Euler's V - E + F = 2 - 2 g."""
    import tempfile

    mesh_solid(piece.solid, 0.05)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.stl"
        write_stl(piece.solid, path)
        vertices, corners = joined_mesh(read_stl(path))
    assert is_watertight(corners)
    return (2 - (len(vertices) - len(corners) * 3 // 2 + len(corners))) // 2


def test_cutout_volume_is_what_the_part_loses() -> None:
    # A vent in the middle of the end land, where there are no pockets to give way.
    design = small()
    design = dataclasses.replace(design, tube=dataclasses.replace(design.tube, end_land=14e-3))
    vent = window(position=7e-3, diameter=3e-3, land=0.5e-3)
    builder = _Builder(design, dataclasses.replace(MOLD, cutout=(vent,)), None)
    assert builder.ribs["cut-1"].given_way == 0
    parts = {piece.name: solid_volume(piece.solid) for piece in builder.parts()}
    lost = parts["part"] - parts["part-cut-1"]
    wide = 1.5 + 4.2 * math.tan(design.ribs.draft)
    frustum = math.pi / 3 * 4.2 * (1.5**2 + 1.5 * wide + wide**2)
    assert lost == pytest.approx(frustum, rel=0.01)


def test_pockets_in_a_land_give_way() -> None:
    planned = plan_molds(small(), dataclasses.replace(MOLD, cutout=(window(),)))
    assert planned.ribs["cut-1"].given_way > 0
    assert planned.ribs["cut-1"].count + planned.ribs["cut-1"].given_way == planned.ribs[""].count


def test_snapped_vent_keeps_its_pocket_only_if_the_land_asks_for_less() -> None:
    planned = plan_molds(small(), dataclasses.replace(
        MOLD, cutout=(window(snap=True, diameter=1e-3, land=0.0),)))
    assert planned.ribs["cut-1"].given_way == 1  # the one it sits in
    (cut,) = planned.ribs["cut-1"].cutouts
    corners = np.concatenate([g.corners for g in planned.ribs[""].pockets if g.name == "triangle"])
    middle = np.array([cut.hoop, cut.axial])
    assert np.linalg.norm(corners.mean(axis=1) - middle, axis=1).min() < 1.5e-4


@pytest.mark.parametrize("cut,field", [
    (window(angle=0.02), "angle"), (window(position=1e-3), "position"),
    (window(position=0.5), "position"),
])
def test_cutouts_over_a_border_are_refused(cut: Cutout, field: str) -> None:
    with pytest.raises(InputError, match=rf"mold\.cutout\[1\]\.{field}"):
        build_molds(small(), dataclasses.replace(MOLD, cutout=(cut,)))


# --- engraving ------------------------------------------------------------------------------------


def test_engraving_takes_out_the_letters_area_times_depth() -> None:
    block = prism([(-40, -10), (40, -10), (40, 10), (-40, 10)], 0.0, 150.0)
    lines = ["B8 a%Q", "CAVITY 1 of 2 AVTY"]
    loops = letter_loops(lines, 7.0, (140.0, 70.0))
    area = abs(sum(
        float(np.sum(p[:, 0] * np.roll(p[:, 1], -1) - p[:, 1] * np.roll(p[:, 0], -1))) / 2
        for p in loops
    ))  # holes in letters run the other way in the font
    for sign in (1, -1):
        plate = Plate(2, sign, sign * 10.0, (75.0, 0.0, sign * 10.0), (1, 0, 0), (0, sign, 0),
                      (140.0, 70.0))
        marked = engraved(block, plate, lines, 7.0, 0.6)
        assert is_valid(marked) and is_closed(marked)
        assert solid_volume(block) - solid_volume(marked) == pytest.approx(area * 0.6, rel=1e-6)


def test_text_shrinks_to_its_room_or_is_left_out() -> None:
    loops = letter_loops(["A RATHER LONG LINE OF TEXT"], 7.0, (80.0, 70.0))
    every = np.concatenate(loops)
    assert np.ptp(every[:, 0]) <= 80.0 + 1e-9
    assert letter_loops(["A RATHER LONG LINE OF TEXT"], 7.0, (10.0, 70.0)) == []


# --- files ----------------------------------------------------------------------------------------


def test_files_are_checked_and_agree_with_independent_readers(
    plain: MoldSet, tmp_path: Path
) -> None:
    import trimesh

    folder = tmp_path / "out"
    checks = write_molds(plain, folder)
    assert [check.faults for check in checks] == [[]] * len(plain.pieces)
    for check in checks:
        mesh = trimesh.load(folder / f"{check.name}.stl")
        assert mesh.is_watertight and mesh.is_winding_consistent, check.name
        assert mesh.volume * 1e-9 == pytest.approx(check.volume, rel=5e-3)
        assert check.step_faces == check.faces
        with zipfile.ZipFile(folder / f"{check.name}.3mf") as archive:
            model = ElementTree.fromstring(archive.read("3D/3dmodel.model"))
        name = {"m": "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"}
        assert model.attrib["unit"] == "millimeter"
        assert len(model.findall(".//m:triangle", name)) == check.triangles
        assert (folder / f"{check.name}.png").stat().st_size > 10_000
        text = (folder / f"{check.name}.step").read_text(errors="replace")
        assert "COLOUR_RGB" in text and "'Author'" not in text
        assert faces_in(folder / f"{check.name}.step") == check.faces
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out"]


@pytest.mark.parametrize("way", ["joined", "compressed", "referred to", "by the kernel"])
def test_the_assembly_places_every_piece(
    way: str, plain: MoldSet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read by the kernel's own reader, which finds files that are referred to beside it."""
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDF import TDF_LabelSequence
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    roles = ("part", "mandrel", "ring") if way == "joined" else ("mandrel", "ring")
    pieces = [piece for piece in plain.pieces if piece.role in roles]
    if way in ("compressed", "referred to"):
        monkeypatch.setattr(assembly, "MOST_FACES", 0)
    members = assembly.members_of(plain, pieces)
    for piece, member in zip(pieces, members, strict=True):
        write_step(piece, tmp_path / f"{piece.name}.step",
                   before=member.before + (way == "by the kernel"))  # an unforeseen number
        assert assembly.is_joinable(member, tmp_path) == (way != "by the kernel")
    title = "Invented scenario: whole"
    for task in assembly.assembly_steps(pieces, members, tmp_path, title):
        pickle.loads(pickle.dumps(task))()
    path = tmp_path / "assembly.step"
    assert (b"MANIFOLD_SOLID_BREP" in path.read_bytes()) == (way in ("joined", "by the kernel"))
    if way == "compressed":
        assert (tmp_path / "assembly.stpz").stat().st_size < 0.4 * sum(
            (tmp_path / f"{piece.name}.step").stat().st_size for piece in pieces)
        with zipfile.ZipFile(tmp_path / "assembly.stpz") as archive:
            (inner,) = archive.namelist()
            path.write_bytes(archive.read(inner))
    reader = STEPCAFControl_Reader()
    assert reader.ReadFile(str(path)) == IFSelect_ReturnStatus.IFSelect_RetDone
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    assert reader.Transfer(document)
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    whole, parts = TDF_LabelSequence(), TDF_LabelSequence()
    shapes.GetFreeShapes(whole)
    assert whole.Length() == 1
    shape = shapes.GetShape_s(whole.Value(1))
    assert solid_volume(shape) == pytest.approx(
        sum(solid_volume(piece.solid) for piece in pieces), rel=1e-6)
    offsets = np.array([member.offset for member in members])
    weights = np.array([solid_volume(piece.solid) for piece in pieces])
    middles = np.array([middle(piece.solid) for piece in pieces]) + offsets
    assert middle(shape) == pytest.approx(weights @ middles / weights.sum(), abs=1e-4)
    shapes.GetComponents_s(whole.Value(1), parts)
    names = []
    for number in range(1, parts.Length() + 1):
        found = TDataStd_Name()
        assert parts.Value(number).FindAttribute(TDataStd_Name.GetID_s(), found)
        names.append(found.Get().ToExtString())
    if way != "referred to":  # where the names are those of the other files
        assert names == [piece.name for piece in pieces]


def middle(shape: Any) -> np.ndarray:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    at = found.CentreOfMass()
    return np.array([at.X(), at.Y(), at.Z()])


def test_old_files_stay_unless_forced_and_after_a_failure(
    plain: MoldSet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "core.stl").write_text("old")
    with pytest.raises(InputError, match=r"core\.stl already"):
        write_molds(plain, folder, formats=("stl",))

    def full(*_: Any) -> None:
        raise OSError("No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(files_module, "write_stl", full)
        with pytest.raises(InputError, match="No space"):
            write_molds(plain, folder, force=True, formats=("stl",))
    assert (folder / "core.stl").read_text() == "old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out"]
    write_molds(plain, folder, force=True, formats=("stl",))
    assert (folder / "core.stl").stat().st_size > 1000


def test_being_asked_to_end_leaves_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    with pytest.raises(KeyboardInterrupt), output_folder(folder, False) as scratch:
        (scratch / "core.stl").write_text("half")
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(1.0)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_place_of_a_file_is_found_before_the_work(tmp_path: Path) -> None:
    (tmp_path / "core.stl").mkdir()
    (tmp_path / "holes.csv").symlink_to(tmp_path / "gone")
    with pytest.raises(InputError, match=r"core\.stl is a folder"), output_folder(
            tmp_path, True, ["core.stl"]):
        raise AssertionError("no work may begin")
    with pytest.raises(InputError, match=r"holes\.csv already"), output_folder(
            tmp_path, False, ["holes.csv"]):
        raise AssertionError("no work may begin")


def test_scratch_files_lie_on_the_disk_of_the_folder(tmp_path: Path) -> None:
    """A folder that is a mount point has its neighbors on another disk."""
    folder = tmp_path / "out"
    with output_folder(folder, False) as scratch:
        assert scratch.parent == folder
        (scratch / "core.stl").write_text("whole")
    assert [path.name for path in folder.iterdir()] == ["core.stl"]


def test_a_faulty_piece_does_not_take_the_good_ones_along(
    plain: MoldSet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = files_module.check_solid
    monkeypatch.setattr(files_module, "check_solid", lambda piece, *more: dataclasses.replace(
        usual(piece, *more), valid=piece.name != "end-ring"))
    checks = write_molds(plain, tmp_path / "out", formats=("stl", "step"))
    assert [check.name for check in checks if check.faults] == ["end-ring"]
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"core.stl", "core.step", "part.stl", "assembly.step"} <= names
    assert not any(name.startswith("end-ring") for name in names)
    assert "end-ring" not in (tmp_path / "out" / "assembly.step").read_text(errors="replace")


def test_a_piece_that_the_kernel_cannot_make_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: Any) -> None:
        raise RuntimeError("it will not")

    monkeypatch.setattr("gridshell.mold.pieces.build.ring_solid", fails)
    molds = build_molds(small("plain"), MOLD)
    assert molds.failed == {"end-ring": "it will not"}
    assert [piece.name for piece in molds.pieces] == ["part", "core", "cavity", "mandrel"]
    assert piece_names(small("plain"), MOLD) == [*(p.name for p in molds.pieces), "end-ring"]


def test_mesh_of_a_large_thin_casting_keeps_its_volume(tmp_path: Path) -> None:
    """At 0.05 mm chords alone would take 1.4 % off a skin of 2.4 mm."""
    design = with_values(small("plain"), {
        "tube.outside_diameter": 0.4, "tube.length": 0.12, "skin.thickness": 1.2e-3})
    molds = build_molds(design, MOLD)
    check = write_piece(molds, molds.piece("part"), tmp_path, ("stl",))
    assert check.faults == []


# Where pockets given up for windows leave kept ones that touch at one corner only.
PINCHED = [
    Cutout(shape="round", position=x, angle=math.radians(a), diameter=4e-3, land=land)
    for x, a, land in ((0.024, 80.0, 1e-3), (0.030, 95.0, 4e-3), (0.036, 100.0, 7e-3),
                       (0.030, 70.0, 6e-3))
]


@pytest.mark.parametrize("pattern", ["isogrid", "orthogrid", "diagonal"])
@pytest.mark.parametrize("cut", PINCHED, ids=str)
def test_a_cutout_anywhere_gives_valid_solids(pattern: str, cut: Cutout) -> None:
    design = small(pattern, spacing=9e-3, width=1.0e-3) if pattern != "orthogrid" else small(
        pattern, spacing=9e-3, hoop_spacing=8e-3, width=1.0e-3)
    mold = dataclasses.replace(MOLD, cutout=(cut,))
    grid = lattice(design)
    kinds = cast_segments(design, grid, mold.cutout, panel_pockets(grid))
    found = ribbing(design, grid, kinds[-1].cutouts)
    laid = islands(design, grid, found, 1e3, through=True)
    solid = part_solid(layout(design, mold, 1e3), laid, mold)
    assert is_valid(solid) and is_closed(solid)


def test_kept_pockets_that_touch_at_a_corner_are_told_apart() -> None:
    """Four squares round a point, two of them kept: each has a corner of its own, inside itself."""
    points = np.array([[0.0, 0], [1, 0], [2, 0], [0, 1], [1, 1], [2, 1], [0, 2], [1, 2], [2, 2]])
    groups = [np.array([[0, 1, 4, 3], [4, 5, 8, 7]])]
    moved, apart = _apart(points, groups, 0.1, 1.0)
    assert len(moved) == 11 and len({*apart[0][0], *apart[0][1]}) == 8
    first, second = moved[apart[0][0, 2]], moved[apart[0][1, 0]]
    assert first == pytest.approx([1 - 0.1 / math.sqrt(2)] * 2)
    assert second == pytest.approx([1 + 0.1 / math.sqrt(2)] * 2)


@pytest.mark.parametrize(("field", "value"), [
    ("pry_depth", 13e-3), ("fastener_pitch", 5e-3), ("flash_gap", 19e-3),
    ("flange_thickness", 0.6e-3), ("clearance", 5e-3), ("wall", 0.5e-3), ("end_wall", 1e-3),
    ("key_length", 0.2e-3),
])
def test_fields_that_contradict_each_other_are_refused_by_name(field: str, value: float) -> None:
    with pytest.raises(DefinitionError, match=rf"mold\.{field}: .*must be"):
        read_mold(dataclasses.replace(Mold(flange_width=40e-3), **{field: value}))


@pytest.mark.parametrize(("field", "value"), [("angle", 8.0), ("angle", 172.0), ("position", 4e-3)])
def test_a_cutout_over_a_seam_is_refused_when_it_is_read(field: str, value: float) -> None:
    """With the nearest value that is accepted; one that looks for a pocket finds one with room."""
    stated: dict[str, Any] = {"position": 30e-3, "angle": 90.0} | {field: value}
    cut = Cutout("round", diameter=12e-3, **stated | {"angle": math.radians(stated["angle"])})
    (problem,) = check_design(dataclasses.replace(small(), mold=Mold(cutout=(cut,))))
    assert problem.path == f"mold.cutout[1].{field}"
    found = re.search(r"accepted is ([-.\d]+) (deg|mm)", problem.message)
    assert found is not None
    nearest = float(found[1]) * (math.pi / 180 if found[2] == "deg" else 1e-3)
    for step, fits in ((0.0, True), (1e-3, False)):
        away = step if field == "angle" and value > 90 else -step
        other = dataclasses.replace(cut, **{field: nearest + away})
        assert (check_cutouts(small(), Mold(cutout=(other,))) == []) == fits
    snapped = dataclasses.replace(cut, snap=True, diameter=6e-3)
    design = dataclasses.replace(small(), mold=Mold(cutout=(snapped,)))
    assert check_design(design) == []
    grid = lattice(design)
    kinds = cast_segments(design, grid, (snapped,), panel_pockets(grid))
    assert sum(len(kind.cutouts) for kind in kinds) == 1


def test_overlapping_cutouts_are_refused() -> None:
    cuts = tuple(Cutout(shape="round", position=x, angle=math.radians(90.0), diameter=8e-3)
                 for x in (0.025, 0.031))
    with pytest.raises(InputError, match=r"mold\.cutout\[2\]\.position.*one larger"):
        build_molds(small(), dataclasses.replace(MOLD, cutout=cuts))


def test_a_gate_or_vent_that_the_wall_does_not_hold_is_said() -> None:
    molds = build_molds(small("plain"), dataclasses.replace(MOLD, gate_diameter=4e-3))
    notes = " ".join(molds.notes)
    assert "mold.gate_diameter: 4 mm" in notes and "0.96 mm is made" in notes
    assert "mold.vent_diameter: 1.5 mm" in notes


def test_a_full_disk_is_noticed_by_the_writers(plain: MoldSet) -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no /dev/full here")
    mesh_solid(plain.piece("end-ring").solid, 0.05)
    with pytest.raises(OSError):
        write_stl(plain.piece("end-ring").solid, full)
        read_stl(full)


def test_a_tool_that_does_not_cut_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    block = box((0, 0, 0), (20, 20, 20))
    tools = [pin((-1, 5, 5), (21, 5, 5), 4), pin((-1, 15, 15), (21, 15, 15), 4),
             pin((30, 0, 0), (40, 0, 0), 4)]
    whole = solid_volume(cut_out(block, tools))
    assert whole == pytest.approx(8000 - 2 * 20 * math.pi * 4, rel=1e-9)
    real = booleans._boolean

    def forgetful(operation: str, body: Any, given: list[Any]) -> Any:
        """Leaves out the last tool where there are several."""
        return real(operation, body, given[:-1] or given)

    monkeypatch.setattr(booleans, "_boolean", forgetful)
    assert solid_volume(cut_out(block, tools[:2])) == pytest.approx(whole, rel=1e-9)
    monkeypatch.setattr(booleans, "_boolean", lambda op, body, given: real(op, body, tools[2:]))
    with pytest.raises(RuntimeError, match="left out a hole"):
        cut_out(block, tools[:2])


# --- the table ------------------------------------------------------------------------------------


def test_mold_table_reads_defaults_and_reports_every_problem() -> None:
    assert read_mold({}).process == "print"
    assert read_mold({"shrinkage": "1.2 %"}).shrinkage == pytest.approx(0.012)
    with pytest.raises(DefinitionError) as caught:
        read_mold({
            "proces": "print", "bed": ["1 mm"], "flange_width": 3,
            "cutout": [{"shape": "round", "position": "3 mm"}],
        })
    message = str(caught.value)
    for path in ("mold.proces", "mold.bed", "mold.flange_width"):
        assert path in message
    with pytest.raises(DefinitionError, match=r"mold\.cutout\[1\]\.diameter: missing"):
        read_mold({"cutout": [{"shape": "round", "position": "3 mm"}]})
    with pytest.raises(DefinitionError, match=r"mold\.flange_width"):
        read_mold({"flange_width": "5 mm"})
