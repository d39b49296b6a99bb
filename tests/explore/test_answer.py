"""Numbers of the page against the commands' own code, and the map against single designs."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import with_values
from gridshell.explore.along import along
from gridshell.explore.answer import answer, plain_beside, plain_of_equal_mass, whole_column
from gridshell.explore.axes import axes_of, axis_of, placed
from gridshell.explore.chart import chart, mold_row
from gridshell.explore.controls import controls_of, stated
from gridshell.explore.edits import edited
from gridshell.explore.moves import moves
from gridshell.explore.section import section
from gridshell.material.resolve import properties
from gridshell.report.numbers import shown
from gridshell.report.text.tube.result import tube_json
from gridshell.report.verdict import mold_finding
from gridshell.study.compare import compare_walls
from gridshell.tube.assess import assess_tube, least_margin
from gridshell.wall.assess import assess_wall


@pytest.fixture(scope="module")
def probe(examples):
    return read_design(next(path for path in examples if path.stem == "lake-probe"))


def test_numbers_are_those_of_the_command(probe):
    found = answer(assess_tube(probe), controls_of(probe))
    assert found["tube"] == tube_json(assess_tube(probe))
    assert found["now"]["si"]["margin"] == found["tube"]["margin"]
    assert found["now"]["text"]["mass"] == shown(found["tube"]["mass"], "mass")


def test_plain_wall_is_the_one_of_compare(probe):
    grid, plain = compare_walls(probe).contenders[:2]
    now = whole_column(assess_tube(probe))
    found = {"now": now, **plain_beside(probe, now["si"])}
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


def shown_to_hold(tube):
    """The margin of one tube; by the lower bound of its stiffness where only the formula holds."""
    least = least_margin(tube)
    lower = least is not None and float(tube.margin) >= 0 and not float(least) >= 0
    return float(least if lower else tube.margin)


def axes(design, *paths):
    """The axes of a map of a design."""
    controls = controls_of(design)
    return [axis_of(design, design, controls, path) for path in paths]


@pytest.mark.parametrize(("across", "up"), [
    ("ribs.height", "ribs.spacing"), ("tube.length", "material.temperature"),
    ("skin.thickness", "tube.outside_diameter"),
])
def test_map_agrees_with_single_designs(probe, across, up):
    controls = controls_of(probe)
    found = chart(probe, *axes(probe, across, up), 5)
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
    across, up = axes(probe, "ribs.height", "ribs.spacing")
    words = mold_row(probe, across, up, 3, 1)
    slider = next(s for s in controls.sliders if s.path == "ribs.height")
    wide = next(s for s in controls.sliders if s.path == "ribs.spacing")
    one = with_values(probe, {
        "ribs.height": slider.places(3)[1][2], "ribs.spacing": wide.places(3)[1][1]})
    assert words[2] == mold_finding(one).word
    with pytest.raises(InputError):
        mold_row(probe, across, up, 3, 3)


def test_map_leaves_out_what_cant_be_built(probe):
    controls = controls_of(probe)
    found = chart(stated(probe, controls, {"ribs.width": "4.5 mm", "ribs.draft": "12 deg"}),
                  *axes(probe, "ribs.height", "ribs.spacing"), 9)
    gone = np.array([[mass is None for mass in row] for row in found["mass"]])
    assert gone[0, -1] and not gone[4, 0]  # tall ribs close narrow pockets
    assert found["margin"][0][-1] is None and found["governing"][0][-1] == -1


def test_a_plain_wall_has_a_map_of_what_it_has(probe):
    controls = controls_of(probe)
    plain = stated(probe, controls, {"ribs.pattern": "plain"})
    found = chart(plain, *axes(plain, "skin.thickness", "tube.length"), 3)
    assert found["mass"][0][0] < found["mass"][0][2]
    for pair in (("ribs.height", "ribs.spacing"), ("tube.length", "tube.length"),
                 ("tube.length", "case.factor")):
        with pytest.raises(InputError, match="axis"):
            chart(plain, *axes(plain, *pair), 3)


@pytest.mark.parametrize("name", ["tide-mast", "gauge-housing-inch"])
def test_every_number_of_the_file_is_an_axis_and_agrees_with_a_file_that_states_it(examples, name):
    design = read_design(next(path for path in examples if path.stem == name))
    controls = controls_of(design)
    known = [axis for axis in axes_of(design, design, controls)
             if design.ribs.pattern in axis.patterns]
    paths = {axis.path for axis in known}
    assert {"material.temperature", "tube.length", "tube.sections", "material.modulus",
            "case[1].factor", "case[2].moment", "mold.tool_diameter"} <= paths
    pairs = [pair for pair in zip(known[::2], known[1::2], strict=False)
             if not all(axis.of_mold for axis in pair)]
    for across, up in pairs if name == "tide-mast" else pairs[::4]:
        found = chart(design, across, up, 2)
        texts = {axis.path: f"{found[key]['values'][-1]!r} {axis.unit}".strip()
                 if not axis.whole else str(int(found[key]["values"][-1]))
                 for key, axis in (("across", across), ("up", up))}
        moved = {path: text for path, text in texts.items()
                 if path in {control.path for control in controls.each}}
        try:
            one = stated(edited(design, {p: t for p, t in texts.items() if p not in moved}),
                         controls, moved)
            tube = assess_tube(one)
        except InputError:
            continue  # a file could not state it either
        assert found["mass"][-1][-1] == pytest.approx(float(tube.mass), abs=2e-6), texts
        assert found["margin"][-1][-1] == pytest.approx(shown_to_hold(tube), abs=2e-6), texts


def test_map_takes_the_lower_bound_where_only_the_formula_holds(probe):
    odd = with_values(dataclasses.replace(probe, case=probe.case[:1]), {
        "ribs.draft": 0.24, "ribs.height": 0.012, "ribs.width": 1e-3, "skin.thickness": 1.4e-3,
        "ribs.root_fillet": 0.0, "ribs.corner_radius": 0.0})
    tube = assess_tube(odd)
    between = (float(tube.margin) + float(least_margin(tube))) / 2  # of the formula and the bound
    odd = placed(odd, {"case[1].factor": float(odd.case[0].factor) * (1 + between)})
    tube = assess_tube(odd)
    assert float(tube.margin) > 0 > float(least_margin(tube))
    across, up = axes(odd, "skin.thickness", "ribs.height")
    found = chart(odd, dataclasses.replace(across, low=1.4, high=1.5),
                  dataclasses.replace(up, low=12.0, high=12.5), 2)
    assert found["margin"][0][0] == pytest.approx(float(least_margin(tube)), abs=2e-6)
    # While a slider moves the map goes without the bound, and says so.
    quick = chart(odd, dataclasses.replace(across, low=1.4, high=1.5),
                  dataclasses.replace(up, low=12.0, high=12.5), 2, bound=False)
    assert quick["margin"][0][0] > 0 and quick["formula_only"] and not found["formula_only"]


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


@pytest.mark.filterwarnings("error")
def test_without_a_load_case_the_sliders_go_by_mass(examples):
    collar = read_design(next(path for path in examples if path.stem == "collar"))
    rows = moves(collar, controls_of(collar))
    ways = [[row[way] for way in ("up", "down") if way in row] for row in rows]
    assert all(one["margin"] is None for way in ways for one in way)
    most = [max((abs(one["mass"]) for one in way), default=0.0) for way in ways]
    assert most == sorted(most, reverse=True) and most[0] > 0


@pytest.mark.parametrize(("name", "path"), [
    ("lake-probe", "ribs.height"), ("tide-mast", "ribs.spacing"), ("collar", "skin.thickness"),
])
def test_numbers_along_a_slider_are_those_of_single_designs(examples, name, path):
    design = read_design(next(one for one in examples if one.stem == name))
    controls = controls_of(design)
    found = along(design, controls, path)
    slider = next(one for one in controls.sliders if one.path == path)
    last = found["low"] + (len(found["columns"]) - 1) * found["step"]
    assert last == pytest.approx(slider.high)
    for index in (0, len(found["columns"]) // 2, len(found["columns"]) - 1):
        value = f"{found['low'] + index * found['step']:.10g} {slider.unit}"
        try:
            single = answer(assess_tube(stated(design, controls, {path: value})), controls)["now"]
        except InputError:
            assert found["columns"][index] is None
            continue
        column = found["columns"][index]
        assert column["text"] == single["text"]
        for key, number in single["si"].items():
            assert column["si"][key] == (
                None if number is None else pytest.approx(number, rel=1e-9)), key
    with pytest.raises(InputError, match="no slider"):
        along(design, controls, "ribs.cheese")
