"""Formula against solid for whole designs: the definition file in, a comparison out."""

import builtins

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table
from gridshell.define.tables.design import with_values
from gridshell.material.resolve import properties
from gridshell.proof.cell.compare import cell_of, run_cell
from gridshell.proof.cell.homogenize import MissingPackage
from gridshell.proof.plates.pocket import local_modes
from gridshell.report.plots.proof.unit_cell import draw_cell


def table(**ribs):
    base = {
        "pattern": "isogrid", "height": "4 mm", "width": "2 mm", "spacing": "24 mm",
        "corner_radius": "1 mm",
    }
    return {
        "title": "Invented: proof of a short tube",
        "material": {"name": "invented", "modulus": "50 MPa", "poisson": 0.4,
                     "density": "980 kg/m^3"},
        "tube": {"outside_diameter": "120 mm", "length": "300 mm"},
        "skin": {"thickness": "1.5 mm"},
        "ribs": {k: v for k, v in (base | ribs).items() if v is not None},
    }


def stated(**ribs):
    design = design_from_table(table(**ribs))
    return design, properties(design.material, design.folder)


def test_cells_follow_the_rounded_grid():
    for ribs, per in (
        ({}, 2), ({"orientation": "axial"}, 2),
        ({"pattern": "orthogrid", "hoop_spacing": "20 mm"}, 1),
        ({"pattern": "diagonal", "angle": "40 deg"}, 1),
    ):
        design, _ = stated(**ribs)
        cell = cell_of(design)
        around = 2 * np.pi * design.skin_radius / cell.round_hoop
        assert around == pytest.approx(round(around))
        along = design.tube.length / cell.along_axis * per
        assert along == pytest.approx(round(along))
        assert cell.radius == pytest.approx(design.skin_radius)
        assert cell.side == -1


def test_run_cell(tmp_path):
    pytest.importorskip("skfem")
    design, material = stated()
    result = run_cell(design, material, "coarse")
    rows = {row.name: row for row in result.rows}
    assert set(rows) == {m + e for m in "ABD" for e in ("11", "22", "12", "66")} | {"EA", "GJ"}
    for name in ("A11", "D11", "EA", "GJ"):
        assert abs(rows[name].improved_ratio - 1) < 0.04
        assert rows[name].handbook_ratio < rows[name].improved_ratio
    assert rows["B11"].solid < 0  # ribs inside
    assert rows["A11"].solid == pytest.approx(result.solid.A[0, 0])
    assert any("coarse mesh" in note for note in result.notes)
    # The wall and the cell must speak of the same formula.
    from gridshell.wall.assess import assess_wall

    assert rows["D11"].improved == pytest.approx(assess_wall(design, material).D[0, 0], rel=1e-9)
    picture = tmp_path / "cell.png"
    draw_cell(result, picture)
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_plain_tube_needs_no_correction():
    pytest.importorskip("skfem")
    design, material = stated(pattern="plain", height=None, width=None, spacing=None,
                              corner_radius=None)
    result = run_cell(design, material, "coarse")
    for row in result.rows:
        # The wall is 1.5 mm on a radius of 59: curvature alone is 2e-4.
        assert row.improved == pytest.approx(row.solid, rel=1e-3)


def test_local_modes_are_ordered():
    for ribs in ({}, {"pattern": "orthogrid", "hoop_spacing": "20 mm"},
                 {"pattern": "diagonal", "angle": "40 deg"}):
        for mode in local_modes(*stated(**ribs)):
            assert 0 < mode.supported < mode.elastic < mode.clamped


def test_bad_requests_say_what_would_do():
    design, material = stated()
    with pytest.raises(InputError, match="coarse, medium, fine"):
        run_cell(design, material, "finest")
    own = with_values(design, {"ribs.pattern": "families"})
    with pytest.raises(InputError, match="isogrid, orthogrid, diagonal"):
        run_cell(own, material)
    with pytest.raises(InputError, match="isogrid, orthogrid, diagonal"):
        local_modes(own, material)


def test_missing_package_says_how_to_get_it(monkeypatch):
    design, material = stated()
    real = builtins.__import__

    def without(name, *rest, **more):
        if name == "skfem":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MissingPackage, match=r"pip install 'gridshell\[proof\]'"):
        run_cell(design, material, "coarse")
