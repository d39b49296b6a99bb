"""The file of a solid cell: reads back the same, and is refused where it can't be true or fit."""

from __future__ import annotations

import dataclasses
import os
import re

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.files.unit_cell import read_unit_cell, unit_cell_text, write_unit_cell
from gridshell.define.files.unit_cell_match import unit_cell_of
from gridshell.define.files.writing import write_definition
from gridshell.define.tables.design import with_values
from gridshell.wall.geometry.lattice import lattice

PATTERNS = ("isogrid", "isogrid-axial", "orthogrid", "diagonal")


@pytest.fixture
def cell(make_design, make_properties, make_unit_cell):
    return make_unit_cell(make_design("isogrid"), make_properties())


def matched(design, poisson=0.35):
    grid = lattice(design)
    return unit_cell_of(design, grid.cell_height, grid.cell_width, poisson)


@pytest.mark.parametrize("side", ["inside", "outside"])
@pytest.mark.parametrize("pattern", PATTERNS)
def test_reads_back_the_same(tmp_path, make_design, make_properties, make_unit_cell, pattern,
                             side):
    design = make_design(pattern, ribs__side=side, ribs__draft=0.05, ribs__root_fillet=4e-4,
                         ribs__corner_radius=1e-3, folder=tmp_path)
    cell = make_unit_cell(design, make_properties())
    write_unit_cell(cell, tmp_path / "cell.toml")
    again = read_unit_cell(tmp_path / "cell.toml")
    # Files show 15 digits, so that 3.7 mm stays 3.7 mm.
    for name, value in vars(cell.geometry).items():
        written = getattr(again.geometry, name)
        assert written == (value if isinstance(value, str) else pytest.approx(value, rel=4e-15))
    cell = dataclasses.replace(cell, geometry=again.geometry)
    assert again == cell
    stated = with_values(design, {"ribs.solid_cell": "cell.toml"})
    assert matched(stated) == cell
    assert matched(design) is None
    for matrix, units in zip(cell.matrices(), ("m", "m2", "m3"), strict=True):
        assert matrix.shape == (3, 3) and units


def test_does_not_overwrite(tmp_path, cell):
    target = tmp_path / "cell.toml"
    target.write_text("mine")
    with pytest.raises(InputError, match="is there already"):
        write_unit_cell(cell, target)
    assert target.read_text() == "mine" and len(list(tmp_path.iterdir())) == 1
    write_unit_cell(cell, target, force=True)
    assert read_unit_cell(target) == cell
    with pytest.raises(InputError, match=r"ends in \.toml"):
        write_unit_cell(cell, tmp_path / "cell.json")


@pytest.mark.parametrize(("old", "new", "words"), [
    (r"poisson = .*", "poisson = 0.7", r"poisson: 0\.7 is out of range|poisson: .*below 0\.5"),
    (r"mesh = .*", 'mesh = "coarse"', "mesh: 'coarse' is not one of: medium, fine"),
    (r"rib_height = .*", "rib_height = 5", "geometry.rib_height: 5 has no unit"),
    (r"skin_thickness = .*", "", "geometry.skin_thickness: missing"),
    (r"cell_round", "cell_rund", "did you mean 'cell_round'"),
    (r"\nA = .*", "", "stiffness.A: None is not 3 rows of 3 numbers"),
    (r"\nB = .*", "\nB = [[1, 2], [3, 4]]", "stiffness.B: .* is not 3 rows of 3 numbers"),
    (r"\nD = \[\[[^,]*", '\nD = [["stiff"', "stiffness.D: .* is not 3 rows"),
    (r"\nD = \[\[[^,]*", "\nD = [[nan", "stiffness.D: .* is not 3 rows"),
    pytest.param(r"\nD = \[\[[^,]*", f"\nD = [[{10**400}", "stiffness.D: .* is not 3 rows",
                 id="huge"),
    (r"\n\[formula\]\n", "\nC = 3\n\n[formula]\n", "stiffness.C: unknown key; known: A, B, D"),
    (r"A11 = .*", 'A11 = "low"', "formula.A11: 'low' is not a plain number"),
    (r"^[\s\S]*$", 'title = "x"\n[tube]\n', "is a definition file, not a solid cell"),
])
def test_what_can_not_be_read(tmp_path, cell, old, new, words):
    text = unit_cell_text(cell)
    changed = re.sub(old, new, text, count=1)
    assert changed != text
    target = tmp_path / "cell.toml"
    target.write_text(changed)
    with pytest.raises(InputError, match=words) as error:
        read_unit_cell(target)
    assert all(line.startswith(str(target)) for line in str(error.value).splitlines())


@pytest.mark.parametrize(("changes", "words"), [
    # in N/m instead of over the modulus; one entry a hundred times too small
    ({"A": lambda m: m * 2e9}, "stiffness.A: entry 11 .* can't be: the skin alone gives"),
    ({"D": lambda m: m / 100}, "stiffness.D: entry 11 .* can't be"),
    ({"B": lambda m: 9 * m}, "stiffness.B: is too large for A and D"),
    ({"B": lambda m: -m}, "stiffness.B: has the sign of ribs on the other side than 'inside'"),
    ({"A": lambda m: m + np.array([[0, 1e-5, 0], [0, 0, 0], [0, 0, 0]])}, "not symmetric"),
])
def test_what_is_no_wall(tmp_path, cell, changes, words):
    stiffness = {
        name: changes.get(name, lambda m: m)(np.array(rows)).tolist()
        for name, rows in cell.stiffness.items()
    }
    target = tmp_path / "cell.toml"
    write_unit_cell(dataclasses.replace(cell, stiffness=stiffness), target)
    with pytest.raises(InputError, match=words):
        read_unit_cell(target)


@pytest.mark.parametrize(("field", "value", "words"), [
    ("ribs.pattern", "diagonal", "ribs.pattern isogrid, the design has diagonal"),
    ("ribs.orientation", "axial", "ribs.orientation hoop, the design has axial"),
    ("ribs.side", "outside", "ribs.side inside, the design has outside"),
    ("skin.thickness", 1.503e-3, "skin.thickness 1.5 mm, the design has 1.503 mm"),
    ("ribs.height", 4.99e-3, "ribs.height 5 mm, the design has 4.99 mm"),
    ("ribs.width", 2.1e-3, "ribs.width 2 mm, the design has 2.1 mm"),
    ("ribs.draft", 0.01, "ribs.draft 0 deg, the design has 0.572958 deg"),
    ("ribs.corner_radius", 1e-4, "ribs.corner_radius 0 mm, the design has 0.1 mm"),
    ("ribs.root_fillet", 1e-4, "ribs.root_fillet 0 mm, the design has 0.1 mm"),
    ("tube.length", 0.61, "cell along the tube 22.2222 mm, the design has 22.5926 mm"),
    ("ribs.spacing", 20e-3, r"cell (along|round) the tube"),
])
def test_other_geometry_is_refused(tmp_path, make_design, cell, field, value, words):
    write_unit_cell(cell, tmp_path / "cell.toml")
    design = make_design("isogrid", ribs__solid_cell="cell.toml", folder=tmp_path)
    assert matched(design) is not None
    changed = with_values(design, {field: value, "ribs.angle": 0.7})
    with pytest.raises(InputError, match=words) as error:
        matched(changed)
    assert str(error.value).startswith("ribs.solid_cell: cell.toml was solved for")
    assert "\n" not in str(error.value)


def test_tolerances(tmp_path, make_design, cell):
    write_unit_cell(cell, tmp_path / "cell.toml")
    design = make_design("isogrid", ribs__solid_cell="cell.toml", folder=tmp_path)
    for factor, good in ((1.0008, True), (1.0015, False)):
        near = with_values(design, {"ribs.width": 2e-3 * factor})
        if good:
            assert matched(near) is not None
        else:
            with pytest.raises(InputError, match=r"ribs\.width 2 mm.*0\.1% may differ"):
                matched(near)
    assert matched(design, 0.3592) is not None
    assert matched(design, np.array([0.35, 0.342])) is not None
    for poisson in (0.361, np.array([0.35, 0.33])):
        with pytest.raises(InputError, match=r"Poisson's ratio 0\.35, the design has .*0\.01 may"):
            matched(design, poisson)
    many = with_values(design, {"ribs.height": np.array([5e-3, 5.001e-3, 6e-3])})
    with pytest.raises(InputError, match=r"ribs\.height 5 mm, the design has 6 mm"):
        matched(many)


def test_a_file_that_changes_is_read_again(tmp_path, make_design, cell):
    target = tmp_path / "cell.toml"
    write_unit_cell(cell, target)
    design = make_design("isogrid", ribs__solid_cell="cell.toml", folder=tmp_path)
    assert matched(design).title == cell.title
    write_unit_cell(dataclasses.replace(cell, title="another"), target, force=True)
    os.utime(target, ns=(1, 1))
    assert matched(design).title == "another"
    target.unlink()
    with pytest.raises(InputError, match=r"^ribs\.solid_cell: .*cell\.toml: can't be read"):
        matched(design)


def stated(**ribs):
    return {
        "title": "Invented scenario", "material": {"name": "aluminum-6061-t6"},
        "tube": {"outside_diameter": "200 mm", "length": "600 mm"},
        "skin": {"thickness": "1.5 mm"},
        "ribs": {"pattern": "isogrid", "height": "5 mm", "width": "2 mm", "spacing": "26 mm",
                 "solid_cell": "cell.toml"} | ribs,
    }


def test_definition_file(tmp_path):
    design = design_from_table(stated())
    assert design.ribs.solid_cell == "cell.toml"
    for ribs, words in (
        ({"formula": "thin"}, r"ribs\.solid_cell: stands beside ribs\.formula 'thin'"),
        ({"pattern": "families", "spacing": None, "family": [
            {"angle": "0 deg", "spacing": "30 mm"}]},
         r"ribs\.solid_cell: pattern 'families' has no solid cell"),
        ({"pattern": "plain"}, r"ribs\.solid_cell: pattern 'plain' has no solid cell"),
        ({"solid_cell": 3}, r"ribs\.solid_cell: 3 is not a line of text"),
    ):
        content = stated(**ribs)
        content["ribs"] = {k: v for k, v in content["ribs"].items() if v is not None}
        with pytest.raises(InputError, match=words):
            design_from_table(content)


def test_written_elsewhere_it_still_names_the_cell(tmp_path):
    (tmp_path / "below").mkdir()
    design = dataclasses.replace(design_from_table(stated()), folder=tmp_path)
    write_definition(design, tmp_path / "below" / "design.toml")
    found = read_design(tmp_path / "below" / "design.toml")
    assert (found.folder / found.ribs.solid_cell).resolve() == (tmp_path / "cell.toml").resolve()
