"""Numbers of the page against the commands' own code, and the map against single designs."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import with_values
from gridshell.explore.answer import answer, plain_of_equal_mass
from gridshell.explore.chart import chart, mold_row
from gridshell.explore.controls import controls_of, stated
from gridshell.explore.section import section
from gridshell.material.resolve import properties
from gridshell.mold.checks.result import VERDICTS
from gridshell.mold.checks.run import mold_checks
from gridshell.report.numbers import shown
from gridshell.report.text.tube import tube_json
from gridshell.study.compare import compare_walls
from gridshell.tube.assess import assess_tube
from gridshell.wall.assess import assess_wall


@pytest.fixture(scope="module")
def probe(examples):
    return read_design(next(path for path in examples if path.stem == "lake-probe"))


def test_numbers_are_those_of_the_command(probe):
    found = answer(probe, controls_of(probe))
    assert found["tube"] == tube_json(assess_tube(probe))
    assert found["now"]["si"]["margin"] == found["tube"]["margin"]
    assert found["now"]["text"]["mass"] == shown(found["tube"]["mass"], "mass")


def test_plain_wall_is_the_one_of_compare(probe):
    grid, plain = compare_walls(probe).contenders[:2]
    found = answer(probe, controls_of(probe))
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
    known = make_properties()
    mass = float(assess_wall(heavy, known).tube_mass)
    assert plain_of_equal_mass(heavy, known, mass) is None


@pytest.mark.parametrize(("across", "up"), [
    ("ribs.height", "ribs.spacing"), ("tube.length", "material.temperature"),
    ("skin.thickness", "tube.outside_diameter"),
])
def test_map_agrees_with_single_designs(probe, across, up):
    controls = controls_of(probe)
    found = chart(probe, controls, 5, across, up)
    checked = 0
    for j, i in ((0, 0), (1, 4), (2, 2), (4, 1), (3, 3)):
        if found["mass"][j][i] is None:
            continue
        one = stated(probe, controls, {
            found[axis]["path"]: f"{found[axis]['values'][k]!r} {found[axis]['unit']}"
            for axis, k in (("across", i), ("up", j))
        })
        tube = assess_tube(one)
        assert found["mass"][j][i] == pytest.approx(float(tube.mass), abs=2e-6)
        assert found["margin"][j][i] == pytest.approx(float(tube.margin), abs=2e-3)
        assert found["frequency"][j][i] == pytest.approx(
            float(tube.frequencies["free-free"]), rel=1e-6)
        assert found["stiffness"][j][i] == pytest.approx(
            float(tube.stiffness.EI / tube.mass), rel=1e-6)
        worst = min(tube.cases, key=lambda case: float(case.margin))
        assert found["names"][found["governing"][j][i]] == worst.governing
        checked += 1
    assert checked > 3


def test_map_of_the_mold_says_the_worst_of_its_checks(probe):
    controls = controls_of(probe)
    words = mold_row(probe, controls, 3, 1, "ribs.height", "ribs.spacing")
    slider = next(s for s in controls.sliders if s.path == "ribs.height")
    wide = next(s for s in controls.sliders if s.path == "ribs.spacing")
    one = with_values(probe, {
        "ribs.height": slider.places(3)[1][2], "ribs.spacing": wide.places(3)[1][1]})
    found = [check.verdict for check in mold_checks(one).checks]
    assert words[2] == min(found, key=VERDICTS.index)
    with pytest.raises(InputError):
        mold_row(probe, controls, 3, 3, "ribs.height", "ribs.spacing")


def test_map_leaves_out_what_cant_be_built(probe):
    controls = controls_of(probe)
    found = chart(stated(probe, controls, {"ribs.width": "4.5 mm", "ribs.draft": "12 deg"}),
                  controls, 9)
    gone = np.array([[mass is None for mass in row] for row in found["mass"]])
    assert gone[0, -1] and not gone[4, 0]  # tall ribs close narrow pockets
    assert found["margin"][0][-1] is None and found["governing"][0][-1] == -1


def test_a_plain_wall_has_a_map_of_what_it_has(probe):
    controls = controls_of(probe)
    plain = stated(probe, controls, {"ribs.pattern": "plain"})
    found = chart(plain, controls, 3, "skin.thickness", "tube.length")
    assert found["mass"][0][0] < found["mass"][0][2]
    for axes in (("ribs.height", "ribs.spacing"), ("tube.length", "tube.length"),
                 ("tube.length", "case.factor")):
        with pytest.raises(InputError, match="axis"):
            chart(plain, controls, 3, *axes)


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
