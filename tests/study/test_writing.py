"""Definitions written back: every design read again equals the one written."""

from __future__ import annotations

import dataclasses
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.files.writing import definition_text, quantity_text, write_definition
from gridshell.define.tables.design import Case, with_values
from gridshell.define.units import KINDS, parse_quantity

from .conftest import make

EXAMPLES = sorted(Path("examples").glob("*.toml"))
UNITS = {"length": "mm", "angle": "deg", "temperature": "degC", "pressure": "MPa", "mass": "g",
         "moment": "N m", "force": "N", "stiffness": "N m^2", "density": "kg/m^3", "area": "mm^2"}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_survive(path, tmp_path):
    try:
        design = read_design(path)
    except InputError:
        pytest.skip("not a tube's definition")
    again = design_from_table(tomllib.loads(definition_text(design)), folder=design.folder)
    assert definition_text(again) == definition_text(design, folder=again.folder)


@settings(max_examples=300, deadline=None)
@given(value=st.floats(1e-9, 1e9), kind=st.sampled_from(sorted(UNITS)))
def test_every_quantity_reads_back_but_for_its_last_bits(value, kind):
    again = parse_quantity(quantity_text(value, kind, UNITS[kind]), kind)
    # sums of a zero of another place (degC) lose what a kelvin has beyond its last bit
    assert again == pytest.approx(value, rel=4e-15, abs=2e-13 if kind == "temperature" else 0.0)


@settings(max_examples=60, deadline=None)
@given(
    height=st.floats(2e-3, 8e-3), width=st.floats(0.5e-3, 3e-3), skin=st.floats(0.5e-3, 5e-3),
    draft=st.floats(0.0, 0.1), force=st.floats(-1e6, 1e6), factor=st.floats(0.01, 100.0),
    title=st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), min_size=1)
    .filter(lambda text: text.strip() and text.isprintable()),
)
def test_random_designs_survive(height, width, skin, draft, force, factor, title):
    design = with_values(make(cases=(Case(name='a "b" \\ c', compression=force, factor=factor),)), {
        "ribs.height": height, "ribs.width": width, "skin.thickness": skin, "ribs.draft": draft,
        "title": title[:200],
    })
    again = design_from_table(tomllib.loads(definition_text(design, "a comment\nof two lines")))
    assert again.title == design.title and again.case[0].name == design.case[0].name
    kept = (again.ribs.height, again.ribs.width, again.skin.thickness, again.ribs.draft,
            again.case[0].compression, again.case[0].factor)
    assert kept == pytest.approx((height, width, skin, draft, force, factor), rel=4e-15, abs=0.0)


def test_plain_numbers_stay_plain():
    """Few digits, the declared unit: what a person would have written."""
    text = definition_text(make())
    assert 'height = "4 mm"' in text and 'modulus = "3 GPa"' in text and 'spacing = "30 mm"' in text
    assert "smallest_pocket" not in text  # at its default


def test_material_file_is_named_from_the_new_folder(tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "out").mkdir()
    design = make()
    design = dataclasses.replace(
        design, folder=tmp_path / "in",
        material=dataclasses.replace(design.material, file="wax.toml"))
    write_definition(design, tmp_path / "out" / "new.toml")
    assert 'file = "../in/wax.toml"' in (tmp_path / "out" / "new.toml").read_text()


def test_arrays_and_old_files_are_refused(tmp_path):
    array = with_values(make(), {"ribs.height": np.array([1e-3, 2e-3])})
    with pytest.raises(InputError, match=r"ribs.height: is an array"):
        definition_text(array)
    path = tmp_path / "old.toml"
    path.write_text("old")
    with pytest.raises(InputError, match="there already"):
        write_definition(make(), path)
    assert path.read_text() == "old"
    write_definition(make(), path, force=True)
    assert read_design(path).title == make().title
    with pytest.raises(InputError, match=r"ends in \.toml"):
        write_definition(make(), tmp_path / "new.txt")


def test_units_of_this_test_are_the_declared_kinds():
    assert set(UNITS) <= set(KINDS)
