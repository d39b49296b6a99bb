"""Numbers of the page against the commands' own code, and the map against single designs."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import with_values
from gridshell.explore.answer import answer, chart, plain_of_equal_mass, section
from gridshell.explore.controls import controls_of, stated
from gridshell.material.resolve import properties
from gridshell.report.numbers import shown
from gridshell.report.text.tube import tube_json
from gridshell.study.compare import compare_walls
from gridshell.tube.assess import assess_tube
from gridshell.wall.assess import assess_wall


@pytest.fixture(scope="module")
def probe(examples):
    return read_design(next(path for path in examples if path.stem == "lake-probe"))


def test_numbers_are_those_of_the_command(probe):
    found = answer(probe)
    assert found["tube"] == tube_json(assess_tube(probe))
    assert found["now"]["si"]["margin"] == found["tube"]["margin"]
    assert found["now"]["text"]["mass"] == shown(found["tube"]["mass"], "mass")


def test_plain_wall_is_the_one_of_compare(probe):
    grid, plain = compare_walls(probe).contenders[:2]
    found = answer(probe)
    assert found["plain"]["si"]["mass"] == pytest.approx(float(grid.tube.mass), rel=1e-9)
    for key, value in (
        ("EI", plain.tube.stiffness.EI), ("buckling_load", plain.buckling_load),
        ("depth", plain.thickness), ("margin", plain.tube.margin),
    ):
        assert found["plain"]["si"][key] == pytest.approx(float(value), rel=1e-6), key
    assert found["now"]["si"]["buckling_load"] == pytest.approx(float(grid.buckling_load))


def test_no_plain_wall_so_heavy(make_design, make_properties):
    # Ribs that fill nearly all of a deep wall outweigh every plain wall that is still a tube.
    heavy = make_design("orthogrid", ribs__height=0.060, ribs__width=0.0235, ribs__spacing=0.024,
                        ribs__hoop_spacing=0.030, skin__thickness=0.035)
    assert plain_of_equal_mass(heavy, make_properties()) is None


def test_map_agrees_with_single_designs(probe):
    controls = controls_of(probe)
    found = chart(probe, controls, 7)
    checked = 0
    for j in range(0, 7, 2):
        for i in range(0, 7, 3):
            if found["mass"][j][i] is None:
                continue
            one = assess_tube(with_values(probe, {
                "ribs.height": found["heights"][i] * 1e-3,
                "ribs.spacing": found["spacings"][j] * 1e-3,
            }))
            assert found["mass"][j][i] == pytest.approx(float(one.mass), abs=2e-6)
            assert found["margin"][j][i] == pytest.approx(float(one.margin), abs=2e-3)
            worst = min(one.cases, key=lambda case: float(case.margin))
            assert found["names"][found["governing"][j][i]] == worst.governing
            checked += 1
    assert checked > 6


def test_map_leaves_out_what_cant_be_built(probe):
    controls = controls_of(probe)
    found = chart(stated(probe, controls, {"ribs.width": "4.5 mm", "ribs.draft": "12 deg"}),
                  controls, 9)
    gone = np.array([[mass is None for mass in row] for row in found["mass"]])
    assert gone[0, -1] and not gone[4, 0]  # tall ribs close narrow pockets
    assert found["margin"][0][-1] is None and found["governing"][0][-1] == -1


def test_no_map_without_a_grid(probe):
    controls = controls_of(probe)
    with pytest.raises(InputError):
        chart(stated(probe, controls, {"ribs.pattern": "plain"}), controls, 5)


@pytest.mark.parametrize("side", ["inside", "outside"])
def test_section_has_the_area_of_skin_and_rib(probe, side):
    design = stated(probe, controls_of(probe), {"ribs.side": side})
    built = assess_wall(design, properties(design.material, design.folder))
    outline = np.array(section(built)["outline"])
    x, z = outline.T
    area = abs(np.sum(x * np.roll(z, -1) - np.roll(x, -1) * z)) / 2
    pitch = float(built.grid.families[0].pitch)
    wanted = pitch * float(design.skin.thickness) + float(built.sections[0].area)
    assert area == pytest.approx(wanted, rel=2e-3)  # the fillet is a polygon of six chords
    assert np.sign(outline[np.argmax(np.abs(z)), 1]) == (1 if side == "outside" else -1)
