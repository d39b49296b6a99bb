"""`gridshell prove` and the solid cell on the command line: options, files, tables, labels."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from gridshell.cli import main
from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.define.files.unit_cell import read_unit_cell, write_unit_cell
from gridshell.material.resolve import properties
from gridshell.proof.cell import compare as compare_module
from gridshell.proof.cell.geometry import Resolution
from gridshell.proof.maps.cells import SHAPE, difference, errors, read
from gridshell.proof.waves.run import TubeRow
from gridshell.report.jobs import prove as prove_job
from gridshell.report.page import page as report
from gridshell.report.plots.proof import whole_tube as whole_tube_plot
from gridshell.wall.assess import assess_wall


def run(capsys, *arguments):
    code = main([str(argument) for argument in arguments])
    captured = capsys.readouterr()
    assert code == 0, captured.err
    return captured.out


def refused(capsys, *arguments):
    assert main([str(argument) for argument in arguments]) == 2
    captured = capsys.readouterr()
    assert not captured.out and captured.err.count("\n") == 1, captured.err
    return captured.err


@pytest.fixture
def example(examples):
    return next(path for path in examples if path.stem == "lake-probe")


@pytest.fixture
def cell(tmp_path, example, make_unit_cell):
    """File of a solid cell of the example, made from the formula."""
    design = read_design(example)
    target = tmp_path / "cell.toml"
    write_unit_cell(
        make_unit_cell(design, properties(design.material, design.folder)), target)
    return target


@pytest.fixture(scope="module")
def solved():
    """What was solved: by design and mesh."""
    return {}


@pytest.fixture
def quick(monkeypatch, solved):
    """A mesh hardly finer than the coarse one stands in for the medium one, and a cell that was
    solved already for itself."""
    pytest.importorskip("skfem")
    monkeypatch.setitem(compare_module.RESOLUTIONS, "medium", Resolution(2, 2, 1, 1, 1, 1, 3))

    def once(design, known, mesh):
        key = repr((dataclasses.replace(design, folder=Path()), mesh))
        if key not in solved:
            solved[key] = compare_module.run_cell(design, known, mesh)
        return solved[key]

    monkeypatch.setattr(prove_job, "run_cell", once)


def test_save_then_use(capsys, tmp_path, example, quick):
    target = tmp_path / "cell.toml"
    found = json.loads(run(capsys, "prove", example, "--save", target, "--json"))
    assert found["saved"] == str(target) and found["pictures"] == []
    cell, design = read_unit_cell(target), read_design(example)
    assert cell.title == design.title and cell.mesh == "medium" and 0 < cell.mesh_error < 0.05
    modulus = float(properties(design.material, design.folder).modulus)
    for name, matrix in zip("ABD", cell.matrices(), strict=True):
        solid = np.array(found["solid"][name])
        np.testing.assert_allclose(modulus * matrix, (solid + solid.T) / 2, rtol=1e-12)
    by_name = {row["name"]: row["improved"] / row["solid"] - 1 for row in found["cell"]}
    for name, off in cell.formula.items():
        assert off == pytest.approx(by_name[name], abs=6e-5)
    assert {"A11", "D66", "EA", "GJ"} <= set(cell.formula)
    used = json.loads(run(capsys, "wall", example, "--solid-cell", target, "--json"))
    np.testing.assert_allclose(used["A"], modulus * cell.matrices()[0], rtol=1e-12)
    assert "is there already" in refused(capsys, "prove", example, "--save", target)


def test_prove_leaves_a_stated_cell_aside(capsys, tmp_path, monkeypatch, example, cell, quick):
    """Else a wrong one would be proved with itself, and a new one could not be made."""
    seen = []

    def whole(design, known, loads, progress):
        seen.append(design.ribs.solid_cell)
        raise InputError("far enough")

    monkeypatch.setattr(prove_job, "run_whole_tube", whole)
    text = example.read_text().replace("[ribs]", '[ribs]\nsolid_cell = "cell.toml"')
    text = text.replace('height = "7 mm"', 'height = "6.5 mm"')
    (tmp_path / "design.toml").write_text(text)
    assert "ribs.height 7 mm, the design has 6.5 mm" in refused(
        capsys, "tube", tmp_path / "design.toml")
    assert "far enough" in refused(capsys, "prove", tmp_path / "design.toml", "--whole")
    assert seen == [None]
    run(capsys, "prove", tmp_path / "design.toml", "--save", cell, "--force")
    assert "stiffness from the unit cell in cell.toml" in run(
        capsys, "tube", tmp_path / "design.toml")


def test_what_can_not_be_saved(capsys, tmp_path, example):
    target = tmp_path / "cell.toml"
    plain = tmp_path / "plain.toml"
    text = example.read_text()
    plain.write_text(text[:text.index("[ribs]")] + '[ribs]\npattern = "plain"\n')
    for arguments, words in (
        ((example, "--save", target, "--mesh", "coarse"), "not good enough to --save"),
        ((example, "--save", tmp_path / "cell.csv"), "ends in .toml"),
        ((example, "--save", tmp_path / "none" / "cell.toml"), "does not exist; make it first"),
        ((plain, "--save", target), "a plain wall needs no solid cell"),
    ):
        assert words in refused(capsys, "prove", *arguments)
    assert [path.name for path in tmp_path.iterdir()] == ["plain.toml"]


@pytest.mark.parametrize(("arguments", "words"), [
    ((), "FILE: missing"),
    (("FILE", "--published"), "--published: takes no FILE"),
    (("FILE", "--map"), "--map: takes no FILE"),
    (("--map", "--whole"), "--map: takes no --whole"),
    (("--published", "--solve", "x.csv"), "--published: takes no --solve"),
    (("--published", "--plot", "x.jpeg"), "is not a picture"),
    (("FILE", "--solve", "x.csv"), "--solve: solves the cells of the map"),
    (("FILE", "--loads", "compresion"), "did you mean 'compression'?"),
    (("FILE", "--loads", "torsion,torsion"), "names a load twice"),
    (("FILE", "--loads", ""), "is not a load; known: compression, bending"),
])
def test_options_that_do_not_go_together(capsys, example, arguments, words):
    given = [example if word == "FILE" else word for word in arguments]
    assert words in refused(capsys, "prove", *given)


def test_labels_beside_the_numbers(capsys, tmp_path, example, cell, make_unit_cell):
    design = read_design(example)
    known = properties(design.material, design.folder)
    shown = run(capsys, "wall", example, "--solid-cell", cell)
    # 1/1.02 and 1/0.96 of what the fixture took for solid
    assert ("stiffness from the unit cell in cell.toml; by the formula alone: A11 -2.0 %, "
            "A22 -2.0 %, A66 -2.0 %, D11 +4.2 %, D22 +4.2 %, D66 +4.2 %") in shown
    assert "the finite-width formula and the handbook's thin-rib formula" in shown
    found = json.loads(run(capsys, "wall", example, "--solid-cell", cell, "--json"))
    built = assess_wall(design, known)
    np.testing.assert_allclose(found["solid_cell"]["formula"]["D"], built.D, rtol=1e-12)
    np.testing.assert_allclose(found["D"], 0.96 * built.D, rtol=1e-9)

    old, new = (json.loads(run(capsys, "tube", example, "--json", *more))
                for more in ((), ("--solid-cell", cell)))
    assert old["solid_cell"] is None
    assert new["solid_cell"]["formula"]["EA"] == pytest.approx(old["EA"])
    off = 100 * (old["EI"] / new["EI"] - 1)
    label = "stiffness from the unit cell in cell.toml; by the formula alone: EA"
    lines = run(capsys, "tube", example, "--solid-cell", cell).splitlines()
    line = next(text for text in lines if text.startswith(label))
    assert f"EI {off:+.1f} %" in line
    assert abs(lines.index(line) - next(
        i for i, text in enumerate(lines) if text.startswith("bending stiffness EI"))) < 8
    assert f"grid: {label}" in run(capsys, "compare", example, "--solid-cell", cell)
    # Poisson's ratio of this material changes with temperature.
    soft = tmp_path / "soft.toml"
    soft.write_text(example.read_text().replace("epoxy-casting", "hot-melt-eva"))
    design = read_design(soft)
    own = tmp_path / "own.toml"
    write_unit_cell(make_unit_cell(design, properties(design.material, design.folder)), own)
    said = refused(capsys, "tube", soft, "--solid-cell", own, "--over-temperature")
    assert "Poisson's ratio" in said and "at its temperature" in said
    for command in ("wall", "tube"):
        assert "from solid cell" not in run(capsys, command, example)


def test_pictures_and_page_are_labeled(capsys, tmp_path, example, cell, monkeypatch):
    label = "stiffness from the unit cell in cell.toml"
    for command in ("wall", "tube", "compare"):
        target = tmp_path / f"{command}.svg"
        run(capsys, command, example, "--solid-cell", cell, "--plot", target)
        assert label in target.read_text()  # matplotlib keeps the text as a comment
    page = tmp_path / "page.html"
    monkeypatch.setattr(report, "picture", lambda draw, words: f"<p>{words}</p>")
    run(capsys, "report", example, "--solid-cell", cell, "--out", page)
    text = page.read_text()
    assert label in text and "by the formula, without the solid cell" in text


def test_over_temperature_of_a_material_of_one_poisson_ratio(capsys, tmp_path, examples,
                                                             make_unit_cell):
    barrel = next(path for path in examples if path.stem == "gauge-housing-inch")
    design = read_design(barrel)
    target = tmp_path / "cell.toml"
    write_unit_cell(
        make_unit_cell(design, properties(design.material, design.folder)), target)
    found = run(capsys, "tube", barrel, "--solid-cell", target, "--over-temperature")
    assert "stiffness from the unit cell in cell.toml; by the formula alone: EA" in found


def test_a_path_of_the_file_is_from_beside_it(capsys, tmp_path, monkeypatch, example, cell):
    text = example.read_text().replace("[ribs]", '[ribs]\nsolid_cell = "cell.toml"')
    (tmp_path / "design.toml").write_text(text)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    assert "from the unit cell in cell.toml" in run(capsys, "tube", "../design.toml")
    run(capsys, "tube", example, "--solid-cell", "../cell.toml")
    assert "can't be read" in refused(capsys, "tube", example, "--solid-cell", "cell.toml")


def test_chilling_goes_on_by_the_formula(capsys, tmp_path, examples, cell):
    """Poisson's ratio of the hot melt changes on the way."""
    chilled = next(path for path in examples if path.stem == "pipe-liner")
    text = chilled.read_text().replace("[ribs]", '[ribs]\nsolid_cell = "cell.toml"')
    (tmp_path / "design.toml").write_text(text)
    plain, noted = run(capsys, "chill", chilled), run(capsys, "chill", tmp_path / "design.toml")
    assert noted.startswith(plain.rstrip()) and "note: margins by the formula" in noted


def test_a_measured_wall_is_another_wall(capsys, tmp_path, example, cell, examples):
    test = example.parent / "sounding-body-bend.csv"
    told = "\n".join(line for line in test.read_text().splitlines() if "skin_thickness" not in line)
    (tmp_path / "test.csv").write_text(told.replace("span: 700 mm", "span: 500 mm"))
    whole = test.read_text().replace("span: 700 mm", "span: 500 mm")
    test = tmp_path / "whole.csv"
    test.write_text(whole)
    run(capsys, "tube", example, "--solid-cell", cell, "--measured", tmp_path / "test.csv")
    assert "the test's skin_thickness changes it" in refused(
        capsys, "tube", example, "--solid-cell", cell, "--measured", test)


def test_whole_tube_pictures(capsys, tmp_path, monkeypatch, example, quick):
    asked = {}

    def whole(design, known, loads, progress):
        asked["loads"] = loads
        return SimpleNamespace(
            modes={"compression": 1, "local, compression": 2}, lowest="general instability",
            notes=("a note",), rows=(TubeRow("EA", "N", 2.0, 4.0, ("pinned",)),),
            to_dict=lambda: {"rows": []},
        )

    monkeypatch.setattr(prove_job, "run_whole_tube", whole)
    monkeypatch.setattr(whole_tube_plot, "draw_mode", lambda r, name, path: path.write_text(name))
    monkeypatch.setattr(whole_tube_plot, "draw_ratios", lambda r, path: path.write_text("ratios"))
    shown = run(capsys, "prove", example, "--whole", "--plot", tmp_path / "p.png")
    assert asked["loads"] == ("compression", "lateral", "hydrostatic", "torsion")
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "p-compression.png", "p-local-compression.png", "p-ratios.png", "p.png"]
    assert (tmp_path / "p-local-compression.png").read_text() == "local, compression"
    assert (tmp_path / "p.png").read_bytes().startswith(b"\x89PNG")
    assert "EA  N           2      4          0.500  pinned" in shown
    assert "p-ratios.png" in shown and "first in compression: general instability" in shown
    found = json.loads(run(capsys, "prove", example, "--loads", "bending, torsion", "--json"))
    assert asked["loads"] == ("bending", "torsion") and found["whole_tube"] == {"rows": []}


def test_published(capsys, tmp_path):
    from gridshell.proof.published.compare import published_comparison

    result = published_comparison()
    shown = run(capsys, "prove", "--published", "--plot", tmp_path / "p.png")
    for row in result.rows:
        assert row.name in shown and row.source in shown
    assert (tmp_path / "p.png").read_bytes().startswith(b"\x89PNG")
    found = json.loads(run(capsys, "prove", "--published", "--json"))
    assert len(found["rows"]) == len(result.rows)


def test_map(capsys, tmp_path):
    cells = read()
    improved = errors(cells)[1]
    shown = run(capsys, "prove", "--map", "--plot", tmp_path / "m.png")
    assert f"at most {100 * improved.worst.max():.1f} % off" in shown
    assert (tmp_path / "m.png").stat().st_size > 50_000
    found = json.loads(run(capsys, "prove", "--map", "--json"))
    assert len(found["cells"]) == len(cells.pattern) and found["solved_again"] is None
    for i in (0, 40, 92):
        values = improved.B[i]
        assert abs(found["cells"][i]["improved"]["B"]) == pytest.approx(np.abs(values).max())
    # Whole tubes are told of too.
    assert "36 whole tubes" in shown
    assert {path.name for path in tmp_path.iterdir()} == {"m.png", "m-tubes.png"}
    tubes = found["tubes"]
    assert len(tubes) == 36
    worst = {kind: max(abs(v) for tube in tubes for v in tube[kind].values())
             for kind in ("improved", "handbook")}
    assert worst["improved"] < 0.1 < 0.2 < worst["handbook"]


def test_map_solved_again(capsys, tmp_path, monkeypatch):
    """Every cell goes to the solver and its answer to the file; the kept cells stand in for it."""
    pytest.importorskip("skfem")
    from gridshell.proof.cell import homogenize

    kept, asked = read(), []

    def solved(cell, modulus, poisson):
        i = len(asked)
        asked.append(cell)
        assert cell.pattern == kept.pattern[i]
        assert cell.width == pytest.approx(kept.shape["width"][i], rel=1e-5)

        def matrix(name):
            e11, e22, e12, e66 = kept.solid[name][i] * (1.001 if i == 50 else 1.0)
            return np.array([[e11, e12, 0], [e12, e22, 0], [0, 0, e66]])

        return SimpleNamespace(A=matrix("A"), B=matrix("B"), D=matrix("D")), 0.0

    monkeypatch.setattr(homogenize, "converged", solved)
    target = tmp_path / "cells.csv"
    shown = run(capsys, "prove", "--map", "--solve", target)
    assert len(asked) == len(kept.pattern)
    assert "within 0.1 % of the cells kept with the code" in shown
    again = read(target)
    assert again.pattern == kept.pattern and set(again.pattern) == set(CELL_PATTERNS)
    for name in SHAPE:
        np.testing.assert_allclose(again.shape[name], kept.shape[name], rtol=1e-5)
    assert difference(again, kept) == pytest.approx(1e-3, rel=0.01)
    assert difference(again, again) == 0
    assert "is there already" in refused(capsys, "prove", "--map", "--solve", target)


def test_one_mesh_is_asked_for_with_its_ends(capsys, example, monkeypatch):
    assert "--full" in refused(capsys, "prove", example, "--ends", "round")
    assert "clamped" in refused(capsys, "prove", example, "--full", "--ends", "oval")
    assert "takes no --full" in refused(capsys, "prove", "--published", "--full")
    monkeypatch.setenv("PATH", "/nonexistent")
    assert "calculix-ccx" in refused(capsys, "prove", example, "--full")


SMALL = """
title = "Invented: a short tube with few cells"
[material]
name = "test"
modulus = "2 GPa"
poisson = 0.35
density = "1000 kg/m^3"
strength = "30 MPa"
[tube]
outside_diameter = "60 mm"
length = "60 mm"
[skin]
thickness = "2 mm"
[ribs]
pattern = "orthogrid"
height = "3 mm"
width = "2 mm"
spacing = "30 mm"
hoop_spacing = "30 mm"
"""


def test_a_solver_that_gives_up_is_said_in_one_line(capsys, tmp_path, quick, monkeypatch):
    from gridshell.proof.mesh.deck import SolverFailed

    def fail(*args, **kwargs):
        raise SolverFailed("ccx gave no answer: ended by signal 9; short of memory?")

    source = tmp_path / "small.toml"
    source.write_text(SMALL)
    monkeypatch.setattr(prove_job, "run_full_model", fail)
    monkeypatch.setattr(prove_job, "solver", lambda: "ccx")
    assert "short of memory" in refused(capsys, "prove", source, "--full")


def test_one_mesh(capsys, tmp_path, quick):
    import shutil

    if shutil.which("ccx") is None:
        pytest.skip("the solver (Debian package calculix-ccx) is not installed")
    source = tmp_path / "small.toml"
    source.write_text(SMALL)
    picture = tmp_path / "small.png"
    said = run(capsys, "prove", source, "--full", "--loads", "compression", "--ends", "clamped",
               "--plot", picture, "--json")
    found = json.loads(said)
    rows = {row["name"]: row for row in found["one_mesh"]["rows"]}
    assert found["whole_tube"] is None
    assert rows["EA"]["ratio"] == pytest.approx(1.0, abs=0.05)
    assert {path.name for path in tmp_path.glob("*.png")} == {
        "small.png", "small-full-compression-clamped.png"}


def test_two_jobs_for_tube_and_an_empty_cell_name_are_refused(capsys, example):
    with pytest.raises(SystemExit, match="2"):
        main(["tube", str(example), "--over-temperature", "--measured", "test.csv"])
    assert "not allowed with" in capsys.readouterr().err
    assert "ribs.solid_cell" in refused(capsys, "tube", example, "--solid-cell", "")
    assert refused(capsys, "tube", example, "--measured", "")
