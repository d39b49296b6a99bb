"""A tube of shells with cut-outs: whole, against the formula; then what openings take from it."""

from __future__ import annotations

import json

import numpy as np
import pytest

pytest.importorskip("pyfe3d")

from gridshell.cli import main
from gridshell.define.errors import InputError
from gridshell.define.tables.mold import Cutout
from gridshell.proof.shells import openings as openings_module
from gridshell.proof.shells.element import strain_at_center
from gridshell.proof.shells.openings import OpenTube, mesh_of, openings
from gridshell.proof.shells.tube import ShellWall
from gridshell.tube.buckling.wave_stiffness import wave_stiffness
from gridshell.tube.buckling.waves import lowest_wave
from gridshell.wall.stiffness.smeared import skin_stiffness

R, LENGTH, THICKNESS, FACETS = 0.05, 0.06, 4e-3, (16, 80)
A, D = skin_stiffness(1e9, 0.3, THICKNESS)
SHEAR = 5 / 6 * 1e9 / 2.6 * THICKNESS
WALL = ShellWall((A, 0 * A, D), (SHEAR, SHEAR), 1.0)


def hole(size):
    return Cutout(shape="round", position=LENGTH / 2, angle=np.pi / 3, diameter=size)


def test_strains_in_the_middle_of_a_facet():
    sides = (2e-3, 0.05)
    moved = np.zeros((4, 6))
    moved[:, 2] = 1.0  # grown by w: hoop strain w/R
    strain = strain_at_center(R, sides) @ moved.ravel()
    assert strain[1] == pytest.approx(1 / R, rel=1e-3)
    moved = np.zeros((4, 6))
    moved[1:3, 0] = 2e-3  # stretched along by 1
    moved[1:3, 4] = 4e-3  # and bent: rotation about the hoop direction grows along
    strain = strain_at_center(R, sides) @ moved.ravel()
    assert strain[[0, 3]] == pytest.approx([1.0, 2.0], rel=1e-3)
    assert strain[[1, 2, 4, 5]] == pytest.approx(np.zeros(4), abs=1e-9)


def test_facets_in_a_hole_are_counted():
    gone = openings([hole(0.03)], R, LENGTH, FACETS)
    facet = LENGTH / 16 * 2 * np.pi * R / 80
    assert gone.sum() * facet == pytest.approx(np.pi * 0.015**2, rel=0.1)
    _, around = np.nonzero(gone)
    assert np.mean(around + 0.5) * 2 * np.pi / 80 == pytest.approx(np.pi / 3, rel=0.03)
    window = Cutout(shape="rectangle", position=LENGTH / 2, width=0.03, length=0.0262)
    assert openings([window], R, LENGTH, FACETS).sum() == 8 * 6  # 7.6 facets wide, 7 long
    with pytest.raises(InputError, match="less than 6 facets"):
        openings([hole(0.01)], R, LENGTH, FACETS)
    with pytest.raises(InputError, match="more than the 16000"):
        mesh_of(200, 40, R, LENGTH, [hole(0.03)])
    assert mesh_of(3, 6, R, LENGTH, [hole(0.03)]) == (24, 126)


def test_whole_it_is_the_formula_and_holes_take_from_it():
    free = lowest_wave("compression", wave_stiffness(A, 0 * A, D, R, shear=WALL.shear), LENGTH)
    loads = [OpenTube(WALL, R, LENGTH, gone).compression() for gone in (
        np.zeros(FACETS, dtype=bool), openings([hole(0.024)], R, LENGTH, FACETS),
        openings([hole(0.034)], R, LENGTH, FACETS))]
    assert loads[0] == pytest.approx(float(free.load) * 2 * np.pi * R, rel=0.05)
    assert loads[0] > 1.3 * loads[1] > 1.3 * loads[2]


def test_the_command(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(openings_module, "mesh_of", lambda *_: FACETS)  # coarser, and quicker
    path = tmp_path / "tube.toml"
    text = """title = "Invented scenario: a vented collar"
[material]
name = "stuff"
modulus = "1 GPa"
poisson = 0.3
density = "1000 kg/m^3"
[tube]
outside_diameter = "104 mm"
length = "60 mm"
segments = 2
[skin]
thickness = "4 mm"
[ribs]
pattern = "plain"
"""
    path.write_text(text, encoding="utf-8")
    assert main(["prove", str(path), "--cut-outs"]) == 2
    assert "add [[mold.cutout]]" in capsys.readouterr().err
    path.write_text(text + """[[mold.cutout]]
shape = "round"
position = "30 mm"
angle = "90 deg"
diameter = "34 mm"
""", encoding="utf-8")
    assert main(["prove", str(path), "--cut-outs", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["left"] == pytest.approx(found["open_load"] / found["closed_load"])
    assert 0.1 < found["left"] < 0.7 and found["safe"] == (
        found["rule"] * found["knockdown"] <= found["left"])
    assert main(["prove", str(path), "--cut-outs", "--whole"]) == 2
    assert "takes no --whole" in capsys.readouterr().err
