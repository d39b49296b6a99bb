"""Parts made without a mold, and materials that must not be poured."""

from __future__ import annotations

import dataclasses
import functools
import math
from pathlib import Path

import numpy as np
import pytest
from shapes import small

from gridshell.cli import main
from gridshell.define.errors import InputError
from gridshell.define.tables.casting import Casting
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.mold import Cutout, Mold
from gridshell.material.resolve import properties
from gridshell.mold.checks.direct import upward_sides
from gridshell.mold.checks.run import mold_checks
from gridshell.mold.files.solids import is_closed, is_valid, solid_volume
from gridshell.mold.files.write import write_piece
from gridshell.mold.pieces.build import build_molds
from gridshell.mold.pieces.mold_set import MoldSet
from gridshell.mold.relief.ribbing import ribbing
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import lattice

PRINTED, MILLED = Mold(process="print-part"), Mold(process="machine-part", tool_diameter=2e-3)


def of_material(name: str, design: Design | None = None) -> Design:
    return with_values(design or small(), {"material.name": name})


@pytest.mark.parametrize("process", ["print", "mill"])
@pytest.mark.parametrize("name", ["aluminum-6061-t6", "aluminum-2219-t87", "steel-mild"])
@pytest.mark.parametrize("pour", [None, 450.0])
def test_metal_is_never_poured_even_if_a_pour_temperature_is_stated(
    name: str, process: str, pour: float | None
) -> None:
    mold = Mold(process=process, casting=Casting(pour_temperature=pour))
    design = of_material(name)
    with pytest.raises(InputError, match=r"mold\.process.*molten metal is never poured"):
        build_molds(design, mold)
    checks = mold_checks(design, mold)
    assert checks.verdict == "fails" and checks.poured is None
    assert [check.name for check in checks.checks] == ["material can be cast"]


def test_a_material_without_casting_data_is_refused_with_what_would_do() -> None:
    with pytest.raises(InputError, match=r"material\.name: pla has no casting data.*hot-melt-eva"):
        build_molds(of_material("pla"), Mold())
    stated = Mold(casting=Casting(pour_temperature=430.0))
    assert mold_checks(of_material("pla"), stated).poured is not None


def test_melt_is_handled_as_hot_whatever_the_mold_or_the_data() -> None:
    """In a mold as warm as the melt nothing cools, but it burns all the same."""
    warm = Mold(casting=Casting(mold_temperature=448.0))
    assert mold_checks(small(), warm).pouring.hot


@functools.cache
def made(mold: Mold, side: str) -> MoldSet:
    """The part itself; of a milled one two rows of pockets show what four do."""
    design = small(side=side)
    return build_molds(
        design if mold == PRINTED else with_values(design, {"tube.length": 34e-3}), mold)


@pytest.mark.parametrize(("mold", "side", "lowest", "highest"), [
    (PRINTED, "inside", 0.0, 60.0), (MILLED, "inside", 0.0, 22.0), (MILLED, "outside", 0.0, 22.0),
])
def test_parts_stand_at_their_own_size_as_they_are_made(
    mold: Mold, side: str, lowest: float, highest: float, tmp_path: Path
) -> None:
    molds = made(mold, side)
    assert [piece.name for piece in molds.pieces] == ["part"]
    check = write_piece(molds, molds.pieces[0], tmp_path, ("step", "stl", "3mf"))
    assert check.faults == []
    low, high = np.array(check.bounds) * 1e3
    # Chords of a mesh lie inside round faces by as much as its tolerance.
    assert low[2] == pytest.approx(lowest, abs=0.05)
    assert high[2] == pytest.approx(highest, abs=0.05)


def test_milled_ribs_inside_look_up() -> None:
    """The bore is up: the middle of the seam faces lies above the middle of the crown."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    for side, above in (("inside", False), ("outside", True)):
        properties = GProp_GProps()
        BRepGProp.VolumeProperties_s(
            made(MILLED, side).pieces[0].solid, properties)
        # Of a thin half shell the middle of mass lies 2/pi of the radius from the parting.
        assert (properties.CentreOfMass().Z() > 11.0) == above


def test_slope_of_undersides() -> None:
    """By hand: hoop ribs are ceilings but for their draft; a rib at 30 deg slopes by 60 deg."""
    slope, _ = upward_sides(small("orthogrid", draft=0.0), ribbing(
        design := small("orthogrid", draft=0.0), lattice(design)))
    assert slope == pytest.approx(np.zeros(len(slope)), abs=1e-6)
    design = small("diagonal", draft=0.0)
    grid = lattice(design)
    slope, _ = upward_sides(design, ribbing(design, grid))
    steep = slope[slope > 1e-6]  # the rest are edges along the end lands
    angle = max(float(line.angle) for line in grid.families)
    assert steep == pytest.approx(np.full(len(steep), math.pi / 2 - angle), abs=1e-6)


def test_checks_of_direct_making_name_the_field_that_cures() -> None:
    milled = mold_checks(small(), dataclasses.replace(MILLED, tool_diameter=6e-3))
    corner = milled.find("smallest inside radius")
    assert corner.verdict == "fails" and "ribs.corner_radius at least 3.00 mm" in corner.advice
    assert mold_checks(small(), MILLED).find("smallest inside radius").verdict == "ok"
    thin = with_values(small(), {"skin.thickness": 0.5e-3})
    printed = mold_checks(thin, dataclasses.replace(PRINTED, bed=(0.2, 0.2, 0.05)))
    assert printed.find("printed skin").verdict == "fails"
    assert printed.find("fits the bed").verdict == "fails"
    assert "tube.sections" in printed.find("fits the bed").advice


def test_command_of_a_metal_part(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = tmp_path / "barrel.toml"
    source.write_text("""
title = "Invented scenario: short aluminum barrel"
[material]
name = "aluminum-6061-t6"
[tube]
outside_diameter = "60 mm"
length = "60 mm"
segments = 2
seam_land = "6 mm"
end_land = "6 mm"
[skin]
thickness = "1.6 mm"
[ribs]
pattern = "orthogrid"
height = "3 mm"
width = "2 mm"
spacing = "26 mm"
hoop_spacing = "24 mm"
corner_radius = "2 mm"
[mold]
""", encoding="utf-8")
    out = tmp_path / "out"
    assert main(["mold", str(source), "--out", str(out)]) == 2
    assert "molten metal is never poured" in capsys.readouterr().err
    assert not out.exists()
    source.write_text(source.read_text() + 'process = "machine-part"\n', encoding="utf-8")
    assert main(["mold", str(source), "--out", str(out), "--formats", "step,stl,3mf"]) == 0
    said = capsys.readouterr().out
    assert "pour" not in said and "making the part, machine-part" in said
    names = {path.name for path in out.iterdir()}
    assert {"part.step", "part.stl", "part.3mf", "making-sheet.txt", "sheet-part.pdf"} <= names
    assert not any("core" in name or "pour" in name for name in names)
    assert "Metal chips" in (out / "making-sheet.txt").read_text()


@pytest.mark.parametrize(("pattern", "side", "orientation"), [
    ("orthogrid", "inside", "hoop"), ("isogrid", "inside", "hoop"), ("isogrid", "outside", "axial"),
    ("diagonal", "outside", "hoop"), ("plain", "inside", "hoop"),
])
def test_a_tube_in_one_piece_is_a_valid_solid_that_the_wall_weighs(
    pattern: str, side: str, orientation: str
) -> None:
    design = with_values(small(pattern, side, segments=1, orientation=orientation),
                         {"tube.seam_land": 0.0})
    solid = build_molds(design, PRINTED).pieces[0].solid
    assert is_valid(solid) and is_closed(solid)
    bent = assess_wall(design, properties(design.material, design.folder))
    assert solid_volume(solid) == pytest.approx(float(bent.tube_volume) * 1e9, rel=1e-3)


def test_a_tube_in_one_piece_with_what_it_cannot_have_is_refused() -> None:
    design = with_values(small(segments=1), {"tube.seam_land": 4e-3})
    with pytest.raises(InputError, match=r"tube\.seam_land"):
        build_molds(design, PRINTED)
    closed = with_values(design, {"tube.seam_land": 0.0})
    with pytest.raises(InputError, match=r"tube\.segments: 1 with ribs inside can't be milled"):
        build_molds(closed, MILLED)
    cut = Cutout(shape="round", position=0.03, diameter=4e-3)
    with pytest.raises(InputError, match=r"mold\.cutout"):
        build_molds(closed, dataclasses.replace(PRINTED, cutout=(cut,)))
