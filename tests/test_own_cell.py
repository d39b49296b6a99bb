"""Outside the range of the formula a command solves the unit cell of its design itself."""

from __future__ import annotations

import json

import pytest

import gridshell.proof.cell.solved as solved
from gridshell.cli import main
from gridshell.define.files.reading import read_design
from gridshell.define.files.unit_cell import write_unit_cell
from gridshell.material.resolve import properties
from gridshell.wall.assess import assess_wall


@pytest.fixture
def outside(tmp_path, examples):
    """A file whose ribs are lower than those the formula was held to."""
    text = next(f for f in examples if f.stem == "lake-probe").read_text(encoding="utf-8")
    path = tmp_path / "low.toml"
    path.write_text("\n".join(
        'height = "0.4 mm"' if line.startswith("height") else
        'root_fillet = "0.2 mm"' if line.startswith("root_fillet") else line
        for line in text.splitlines()), encoding="utf-8")
    return path


@pytest.fixture
def cell(tmp_path, monkeypatch, make_unit_cell, outside):
    """The unit cell's file, as if finite elements had solved it; counts how often it was asked."""
    design = read_design(outside)
    known = properties(design.material, design.folder)
    target, asked = tmp_path / "cell.toml", []
    write_unit_cell(make_unit_cell(design, known), target)

    def file(design, properties, progress):
        asked.append(design)
        progress("unit cell by finite elements")
        return target

    monkeypatch.setattr(solved, "solved_cell_file", file)
    return asked


@pytest.mark.parametrize("command", ["wall", "tube"])
def test_it_is_solved_and_used(capsys, outside, cell, command):
    assert main([command, str(outside), "--json"]) == 0
    found = capsys.readouterr()
    assert len(cell) == 1 and "unit cell by finite elements" in found.err
    assert json.loads(found.out)["solid_cell"]["file"].endswith("cell.toml")


@pytest.mark.parametrize("options", [["--no-cell"], ["--over-temperature"]])
def test_it_can_be_refused_and_is_not_solved_over_temperature(capsys, outside, cell, options):
    main(["tube", str(outside), *options, "--json"])
    assert cell == [] and "unit cell" not in capsys.readouterr().err


def test_inside_the_range_the_formula_stays(capsys, examples, cell):
    inside = next(f for f in examples if f.stem == "lake-probe")
    assert main(["wall", str(inside), "--json"]) == 0
    assert cell == [] and json.loads(capsys.readouterr().out)["solid_cell"] is None


def test_what_lies_outside(make_design, make_properties):
    assert not assess_wall(make_design("isogrid"), make_properties()).unverified
    assert assess_wall(make_design("isogrid", ribs__height=0.4e-3), make_properties()).unverified
    for wall in ("plain", "families"):
        low = assess_wall(make_design(wall, ribs__height=0.4e-3), make_properties())
        assert not low.unverified
