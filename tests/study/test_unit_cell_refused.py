"""Studies that change what a solid cell was solved for refuse it; the others use it."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell import write_unit_cell
from gridshell.define.tables.design import Case, with_values
from gridshell.define.tables.scatter import Scatter, ScatterInput
from gridshell.explore.controls import controls_of
from gridshell.study.compare import compare_walls
from gridshell.study.scatter.run import scatter_designs
from gridshell.study.size.run import size_tube
from gridshell.study.sweep.plan import make_plan
from gridshell.tube.assess import assess_tube


@pytest.fixture
def stated(tmp_path, make_design, make_properties, make_unit_cell):
    design = make_design("isogrid", folder=tmp_path, case=(Case(name="a", compression=1e3),))
    write_unit_cell(make_unit_cell(design, make_properties()), tmp_path / "cell.toml")
    return with_values(design, {"ribs.solid_cell": "cell.toml"})


def refused(design, work, words):
    with pytest.raises(InputError) as error:
        work(design)
    message = str(error.value)
    assert message.startswith("ribs.solid_cell: cell.toml holds for one geometry")
    assert words in message and "\n" not in message
    with_formula = with_values(design, {"ribs.solid_cell": None})
    return with_formula


def test_size(stated):
    refused(stated, size_tube, "a search for a size changes it")


@pytest.mark.parametrize("path", [
    "ribs.height=4mm:5mm:3", "skin.thickness=1mm:2mm:3", "tube.length=500mm:600mm:3",
    "tube.sections=1:3:3", "ribs.pattern=isogrid,orthogrid", "material.poisson=0.3:0.4:3",
])
def test_sweep_of_geometry(stated, path):
    plain = refused(stated, lambda design: make_plan(design, [path]), path.partition("=")[0])
    assert make_plan(plain, [path]).rows >= 2


def test_sweep_of_loads_and_modulus(stated):
    plan = make_plan(stated, ["material.modulus=1GPa:2GPa:3", "case.a.compression=1kN:2kN:3"])
    assert plan.rows == 9
    with pytest.raises(InputError, match=r"--vary ribs\.solid_cell: can't be varied"):
        make_plan(stated, ["ribs.solid_cell=cell.toml,other.toml"])


def spread(design, field, amount):
    table = Scatter(draws=200, input=(ScatterInput(field, amount),))
    return dataclasses.replace(design, scatter=table)


@pytest.mark.parametrize(("field", "amount"), [
    ("skin.thickness", "0.1 mm"), ("ribs.height", "2 %"), ("tube.outside_diameter", "1 mm"),
    ("tube.length", "5 mm"), ("material.poisson", "0.01"),
])
def test_scatter_of_geometry(stated, field, amount):
    refused(spread(stated, field, amount), lambda d: scatter_designs(d, workers=1), field)


def test_scatter_of_the_material(stated):
    result = scatter_designs(spread(stated, "material.modulus", "5 %"), workers=1)
    assert float(result.nominal.stiffness.EI) == float(assess_tube(stated).stiffness.EI)


def test_explore(stated):
    controls_of(refused(stated, controls_of, "the sliders change it"))


def test_compare_uses_it_for_the_grid_alone(stated):
    found = compare_walls(stated)
    assert found.contenders[0].tube.wall.unit_cell is not None
    assert all(c.tube.wall.unit_cell is None for c in found.contenders[1:])
    assert np.isfinite(found.contenders[0].buckling_load)
