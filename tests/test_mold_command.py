"""`gridshell mold` as a user runs it: files, JSON, and nothing touched when it can't be done."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from gridshell.cli import main
from gridshell.define.files.reading import read_design
from gridshell.define.tables.mold import mold_of
from gridshell.report.jobs.mold import planned_files

SMALL = """
title = "Invented scenario: short tube for the test of the mold command"
[material]
name = "hot-melt-eva"
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
side = "inside"
height = "3 mm"
width = "2 mm"
draft = "4 deg"
spacing = "26 mm"
hoop_spacing = "24 mm"
corner_radius = "2 mm"
[mold]
process = "print"
engraving = "0 mm"
"""


def test_all_files_or_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = tmp_path / "short.toml"
    source.write_text(SMALL, encoding="utf-8")
    out = tmp_path / "molds"
    arguments = ["mold", str(source), "--out", str(out), "--formats", "step,stl", "--json"]
    assert main(arguments) == 0
    answer = json.loads(capsys.readouterr().out)
    assert sorted(path.name for path in out.iterdir()) == answer["files"]
    for name in ("assembly.step", "core.step", "core.stl", "cavity.stl", "part.step",
                 "unrolled.dxf", "unrolled-mold.dxf", "sheet-core.pdf",
                 "sheet-joining.pdf", "holes-core.pdf", "holes.csv", "pour-sheet.txt",
                 "check-undercut.png"):
        assert name in answer["files"]
    assert not any(name.endswith(".3mf") for name in answer["files"])
    for solid in answer["solids"]:
        assert solid["valid"] and solid["closed"] and solid["watertight"]
        assert solid["step_volume"] == pytest.approx(solid["volume"], rel=1e-6)
        assert solid["step_faces"] == solid["faces"]
        assert solid["mesh_volume"] == pytest.approx(solid["volume"], rel=5e-3)
    volume = next(c for c in answer["checks"] if c["name"] == "solids against the wall's mass")
    assert abs(volume["value"]) < 0.01
    assert answer["pour_mass"] > answer["part_volume"] * 1000
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []

    # Every file was foreseen, so that a clash is found before the work.
    design = read_design(source)
    assert set(answer["files"]) <= set(planned_files(design, mold_of(design), ("step", "stl")))

    kept = {path.name: path.stat().st_mtime_ns for path in out.iterdir()}
    assert main(arguments) == 2
    assert "already" in capsys.readouterr().err
    assert kept == {path.name: path.stat().st_mtime_ns for path in out.iterdir()}


def test_unknown_format_is_refused_before_any_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "short.toml"
    source.write_text(SMALL, encoding="utf-8")
    assert main(["mold", str(source), "--out", str(tmp_path / "m"), "--formats", "obj"]) == 2
    assert "step, stl, 3mf, png" in capsys.readouterr().err
    assert not (tmp_path / "m").exists()
