"""The unit cell that a command solves for itself: kept by geometry, never half there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("skfem")

from gridshell.define.errors import InputError
from gridshell.define.files.cache_folder import cache_folder
from gridshell.define.files.unit_cell import read_unit_cell
from gridshell.define.tables.design import with_values
from gridshell.proof.cell import compare, solved
from gridshell.proof.cell.geometry import COARSE, Cell, Resolution
from gridshell.proof.cell.homogenize import homogenize
from gridshell.proof.cell.solved import solved_cell_file, unsolvable, with_solved_cell
from gridshell.wall.assess import assess_wall


@pytest.fixture
def cache(tmp_path, monkeypatch):
    monkeypatch.setattr(solved, "cache_folder", lambda kind: tmp_path / "cache")
    # A mesh between coarse and medium: the file, not the accuracy, is tested here.
    monkeypatch.setitem(compare.RESOLUTIONS, "medium", Resolution(2, 2, 1, 1, 1, 1, 3))
    return tmp_path / "cache"


def test_solved_once_and_found_again(cache, make_design, make_properties):
    design, told = make_design(), []
    first = solved_cell_file(design, make_properties(), told.append)
    assert first.parent == cache and len(told) == 1
    # Young's modulus only scales a cell, and the tube's length is no part of it.
    stiffer = replace(make_properties(), modulus=2 * make_properties().modulus)
    assert solved_cell_file(design, stiffer, told.append) == first and len(told) == 1
    other = with_values(design, {"skin.thickness": 1.02 * design.skin.thickness})
    assert solved_cell_file(other, make_properties(), told.append) != first and len(told) == 2


def test_the_wall_takes_it(cache, make_design, make_properties):
    design = make_design()
    built = assess_wall(with_solved_cell(design, make_properties()), make_properties())
    plain = assess_wall(design, make_properties())
    kept = read_unit_cell(next(cache.iterdir()))
    assert built.A == pytest.approx(make_properties().modulus * kept.matrices()[0])
    assert built.A[0, 0] == pytest.approx(plain.A[0, 0], rel=0.05)
    assert np.abs(built.A[0, 0] / plain.A[0, 0] - 1) > 1e-6


def test_a_spoiled_file_is_solved_again(cache, make_design, make_properties):
    first = solved_cell_file(make_design(), make_properties())
    whole = first.read_text()
    first.write_text(whole[:200])
    assert solved_cell_file(make_design(), make_properties()) == first
    assert first.read_text() == whole


def test_no_place_to_keep_it(monkeypatch, tmp_path, cache, make_design, make_properties):
    (tmp_path / "cache").write_text("a file where the folder should be")
    path, told = solved_cell_file(make_design(), make_properties()), []
    assert read_unit_cell(path).poisson == make_properties().poisson
    assert solved_cell_file(make_design(), make_properties(), told.append) == path and not told


def test_what_has_no_cell_says_why(make_design, make_properties):
    assert "plain" in unsolvable(make_design("plain"))
    assert unsolvable(make_design()) is None
    with pytest.raises(InputError, match="unit cell: a plain wall"):
        solved_cell_file(make_design("plain"), make_properties())
    wide = with_values(make_design(), {"ribs.corner_radius": 1.0})
    assert "leaves no" in unsolvable(wide)


@pytest.mark.parametrize(("environment", "platform", "folder"), [
    ({}, "linux", Path.home() / ".cache/gridshell/unit-cells"),
    ({"XDG_CACHE_HOME": "relative"}, "linux", Path.home() / ".cache/gridshell/unit-cells"),
    ({}, "darwin", Path.home() / "Library/Caches/gridshell/unit-cells"),
    ({"LOCALAPPDATA": "/data"}, "win32", Path("/data/gridshell/unit-cells")),
])
def test_cache_of_each_platform(environment, platform, folder):
    assert cache_folder("unit-cells", environment, platform) == folder


# Corners of the accepted range where a closed form may turn indefinite: ribs wide and low, drafts
# near 45 deg, skins far thinner or thicker than the ribs.
@pytest.mark.parametrize("cell", [
    Cell("isogrid", 3**0.5, 1.0, 0.004, 0.005, 0.3),
    Cell("orthogrid", 1.0, 1.0, 0.01, 0.25, 0.05, np.radians(44.9)),
    Cell("diagonal", 2.0, 1.2, 0.05, 0.003, 0.2, np.radians(30), 0.1),
    Cell("orthogrid", 0.3, 1.0, 0.4, 0.02, 0.01),
    Cell("isogrid", 3**0.5, 1.0, 0.005, 0.9, 0.02),
], ids=["wide and low", "draft", "shallow", "thick skin", "tall"])
def test_bounded_at_the_edges_of_the_accepted_range(cell):
    """Between the skin alone and its Voigt bound (Hill 1963: mean stiffness, from memory), and
    positive definite: one mesh is an upper bound, so it may pass neither."""
    poisson = 0.4
    found = homogenize(cell, 1.0, poisson, COARSE)
    whole = np.block([[found.A, found.B], [found.B.T, found.D]])
    scale = 1 / np.sqrt(np.diag(whole))
    assert np.linalg.eigvalsh(whole * np.outer(scale, scale))[0] > 1e-3
    share = np.array([1, 1, (1 - poisson) / 2]) / (1 - poisson**2)
    assert (np.diag(found.A) >= 0.999 * cell.thickness * share).all()
    assert (np.diag(found.A) <= 1.001 * found.volume * share).all()
    assert (np.diag(found.D) >= 0.999 * cell.thickness**3 / 12 * share).all()
