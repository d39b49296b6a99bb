"""The definition file: every field read, every problem reported, all at once."""

from __future__ import annotations

import copy
import dataclasses
import tomllib

import numpy as np
import pytest

from gridshell.define.constants import PATTERNS
from gridshell.define.errors import DefinitionError
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.tables.design import Case, Design, Ribs, Skin, Tube, with_values

GOOD = tomllib.loads("""
title = "Invented scenario: for the tests"
units = "inch"
[material]
name = "own"
temperature = "5 degC"
load_duration = "2 h"
modulus = "2.5 GPa"
poisson = 0.4
density = "1100 kg/m^3"
strength = "40 MPa"
[tube]
outside_diameter = "100 mm"
length = "0.9 m"
sections = 3
segments = 2
seam_land = "8 mm"
end_land = "10 mm"
straightness = 0.004
[skin]
thickness = "1.5 mm"
[ribs]
pattern = "isogrid"
orientation = "axial"
side = "outside"
height = "5 mm"
width = "2 mm"
draft = "3 deg"
spacing = "26 mm"
corner_radius = "2 mm"
root_fillet = "0.8 mm"
smallest_pocket = "40 mm^2"
formula = "thin"
[[case]]
name = "one"
compression = "100 N"
moment = "2 N m"
shear = "3 N"
torque = "4 N m"
pressure = "5 kPa"
pressure_on_ends = false
support = "cantilever"
transverse = "6 N"
acceleration = "7 m/s^2"
factor = 1.25
duration = "3 h"
[[case]]
name = "two"
compression = "-20 lbf"
""")


def changed(path, value):
    """The good definition with one value set, or removed if `value` is None."""
    content = copy.deepcopy(GOOD)
    *tables, key = path.split(".")
    table = content
    for name in tables:
        table = table[int(name)] if name.isdigit() else table[name]
    if value is None:
        del table[key]
    else:
        table[key] = value
    return content


def problems(content):
    with pytest.raises(DefinitionError) as error:
        design_from_table(content, "file.toml")
    return error.value.problems


def only(content):
    found = problems(content)
    assert len(found) == 1, found
    return str(found[0])


def test_every_field_is_read():
    design = design_from_table(GOOD)
    assert (design.title, design.units) == ("Invented scenario: for the tests", "inch")
    material = design.material
    assert (material.name, material.temperature, material.load_duration) == (
        "own", pytest.approx(278.15), 7200.0)
    assert (material.modulus, material.poisson, material.density, material.strength) == (
        pytest.approx(2.5e9), 0.4, 1100.0, pytest.approx(40e6))
    *tube, ends, straightness = dataclasses.astuple(design.tube)
    assert tube == pytest.approx([0.1, 0.9, 3, 2, 8e-3, 10e-3])
    assert (ends, straightness) == ("simply-supported", 0.004)
    assert design.skin == Skin(thickness=pytest.approx(1.5e-3))
    ribs = design.ribs
    assert (ribs.pattern, ribs.orientation, ribs.side, ribs.formula) == (
        "isogrid", "axial", "outside", "thin")
    assert [ribs.height, ribs.width, ribs.draft, ribs.spacing, ribs.corner_radius,
            ribs.root_fillet, ribs.smallest_pocket] == pytest.approx(
        [5e-3, 2e-3, np.deg2rad(3), 26e-3, 2e-3, 0.8e-3, 40e-6])
    one, two = design.case
    assert [one.compression, one.moment, one.shear, one.torque, one.pressure, one.transverse,
            one.acceleration, one.factor, one.duration] == pytest.approx(
        [100, 2, 3, 4, 5000, 6, 7, 1.25, 10800])
    assert one.pressure_on_ends is False and one.support == "cantilever"
    assert two.compression == pytest.approx(-20 * 4.4482216152605)


def test_defaults_are_stated():
    minimal = {"title": "x", "material": {"name": "pla"}, "skin": {"thickness": "2 mm"},
               "tube": {"outside_diameter": "80 mm", "length": "300 mm"},
               "ribs": {"pattern": "plain"}}
    design = design_from_table(minimal)
    assert design.units == "metric" and design.case == () and design.mold is None
    assert design.material.temperature == 294.15
    assert (design.tube.sections, design.tube.segments, design.tube.end_land) == (1, 1, 0.0)
    assert Case(name="a").factor == 1.4 and Case(name="a").support == "none"
    assert not design.has_ribs and design.rib_height == 0.0


@pytest.mark.parametrize("pattern", PATTERNS)
def test_every_pattern(pattern, make_design):
    assert make_design(pattern).ribs.pattern == pattern


def test_own_families(make_design):
    family = make_design("families").ribs.family
    assert [f.angle for f in family] == pytest.approx(np.deg2rad([0, 60, -60]))
    assert all(f.height is None and f.spacing == pytest.approx(30e-3) for f in family)


def test_skin_radius_and_section_length(make_design):
    inside, outside = (make_design("isogrid", ribs__side=side) for side in ("inside", "outside"))
    assert inside.skin_radius == pytest.approx(0.1 - 0.75e-3)
    assert outside.skin_radius == pytest.approx(0.1 - 5e-3 - 0.75e-3)
    assert make_design("isogrid", tube__sections=3).section_length == pytest.approx(0.2)


def test_tallest_own_family_sets_the_radius_of_the_skin(make_design):
    design = make_design("families", ribs__side="outside")
    family = dataclasses.replace(design.ribs.family[0], height=9e-3)
    taller = with_values(design, {"ribs.family": (family, *design.ribs.family[1:])})
    assert taller.rib_height == 9e-3
    assert taller.skin_radius == pytest.approx(0.1 - 9e-3 - 0.75e-3)


def test_with_values_sets_numbers_arrays_and_words(make_design):
    design = make_design("isogrid")
    other = with_values(design, {"skin.thickness": np.array([1e-3, 2e-3]), "ribs.side": "outside",
                                 "title": "y"})
    assert other.skin.thickness.tolist() == [1e-3, 2e-3]
    assert other.ribs.side == "outside" and other.title == "y"
    assert design.ribs.side == "inside"  # the first is untouched


# --- refused ------------------------------------------------------------------------------------


@pytest.mark.parametrize("path, nearest", [
    ("ribs.hieght", "height"), ("tube.lenght", "length"), ("tub", "tube"),
    ("case.0.momment", "moment"), ("skin.thicknes", "thickness"), ("material.modulos", "modulus"),
])
def test_unknown_keys_name_the_nearest(path, nearest):
    message = only(changed(path, "5 mm"))
    assert "unknown key" in message and f"did you mean {nearest!r}" in message


def test_far_unknown_key_lists_what_is_known():
    message = only(changed("skin.zzz", 1))
    assert "known: thickness" in message


REQUIRED = ["title", "material", "tube", "skin", "ribs", "material.name", "tube.length",
            "tube.outside_diameter", "skin.thickness", "ribs.pattern", "case.0.name"]


@pytest.mark.parametrize("path", REQUIRED)
def test_missing(path):
    message = only(changed(path, None))
    shown = path.replace("case.0", "case[1]")
    assert message.startswith(f"{shown}: missing")


@pytest.mark.parametrize("path", ["ribs.height", "ribs.width", "ribs.spacing"])
def test_missing_for_the_pattern(path):
    assert only(changed(path, None)).startswith(f"{path}: missing")


QUANTITIES = {
    "tube.outside_diameter": "kg", "tube.length": "deg", "tube.seam_land": "N",
    "tube.end_land": "s", "skin.thickness": "kPa", "ribs.height": "N m", "ribs.width": "K",
    "ribs.draft": "mm", "ribs.spacing": "mm^2", "ribs.corner_radius": "J", "ribs.root_fillet": "g",
    "ribs.smallest_pocket": "mm", "material.modulus": "N", "material.density": "kg",
    "material.strength": "mm", "material.temperature": "mm", "material.load_duration": "m",
    "case.0.compression": "kPa", "case.0.moment": "N", "case.0.shear": "N m",
    "case.0.torque": "Pa", "case.0.pressure": "N", "case.0.transverse": "kg",
    "case.0.acceleration": "m/s",
}


@pytest.mark.parametrize("path", QUANTITIES)
@pytest.mark.parametrize("value", ["wrong", 3.5, 7, True, [1], {}, "", "5", "nan mm", "inf mm",
                                   float("nan"), float("inf"), 10**400])
def test_values_that_are_no_quantity_of_the_kind(path, value):
    given = f"3 {QUANTITIES[path]}" if value == "wrong" else value
    message = only(changed(path, given))
    assert message.startswith(path.replace("case.0", "case[1]"))
    assert len(message) < 250 and "\n" not in message


@pytest.mark.parametrize("path, value", [
    ("tube.outside_diameter", "0 mm"), ("tube.length", "-1 mm"), ("skin.thickness", "0 mm"),
    ("ribs.height", "-5 mm"), ("ribs.width", "0 mm"), ("ribs.height", "0 mm"),
    ("ribs.spacing", "0 mm"), ("ribs.draft", "-1 deg"), ("ribs.draft", "50 deg"),
    ("case.0.moment", "-1 N m"), ("case.0.factor", 0), ("case.0.factor", -1.5),
    ("material.poisson", 0.5), ("material.poisson", 0.7), ("material.modulus", "0 GPa"),
    ("material.density", "-1 kg/m^3"), ("material.temperature", "-400 degC"),
    ("tube.sections", 0), ("tube.sections", 2.5), ("tube.sections", 10**30),
    ("tube.segments", -1), ("tube.segments", "2"), ("tube.seam_land", "-1 mm"),
    ("ribs.corner_radius", "-1 mm"), ("ribs.pattern", "honeycomb"), ("ribs.side", "both"),
    ("ribs.orientation", 5), ("case.0.support", "glued"), ("case.0.pressure_on_ends", "yes"),
    ("units", "furlong"), ("title", ""), ("title", "a\nb"), ("title", "x" * 300),
    ("tube.length", "1e-300 m"), ("skin.thickness", "1e-12 mm"), ("tube.length", "1e9 km"),
    ("case.0.compression", "1e200 N"), ("case.0.name", 5), ("material.name", ["a"]),
])
def test_out_of_bounds(path, value):
    message = only(changed(path, value))
    assert message.startswith(path.replace("case.0", "case[1]") + ": ")


@pytest.mark.parametrize("path, value, words", [
    ("ribs.width", "20 mm", "close the pockets"),  # rib wider than its pocket
    ("ribs.draft", "44 deg", "does not fit the pocket"),
    ("ribs.height", "60 mm", "fills the outside radius"),  # height over radius
    ("ribs.height", "30 mm", "is not a shell"),
    ("ribs.spacing", "150 mm", "too wide"),  # spacing over circumference
    ("ribs.spacing", "0.05 mm", "close the pockets"),
    ("ribs.corner_radius", "12 mm", "does not fit the pocket"),
    ("ribs.root_fillet", "5.5 mm", "taller than the rib"),
    ("skin.thickness", "60 mm", "leaves no bore"),
    ("tube.end_land", "160 mm", "leave nothing of a section"),
    ("tube.seam_land", "100 mm", "cover half of the circumference"),
    ("ribs.hoop_spacing", "20 mm", "does not use it"),
    ("ribs.angle", "20 deg", "does not use it"),
    ("case.0.support", "none", "needs one of"),
    ("case.1.name", "one", "used twice"),
    ("tube.length", "40 mm", "leave nothing"),
    ("tube.length", "70 mm", "but a panel between lands only"),
    ("tube.length", "150 m", "too long"),
    ("skin.thickness", "1 um", "too thin"),
])
def test_values_that_contradict_each_other(path, value, words):
    found = problems(changed(path, value))
    assert any(words in problem.message for problem in found), found
    for problem in found:
        assert problem.path and "\n" not in problem.message


def test_absurd_numbers_of_cells():
    content = changed("ribs.spacing", "0.4 mm")
    content["ribs"].update(width="0.01 mm", draft="0 deg", corner_radius="0 mm",
                           root_fillet="0 mm")
    assert "cells" in only(content)


def test_own_families_are_checked_one_by_one():
    content = changed("ribs", {
        "pattern": "families", "family": [
            {"angle": "0 deg", "spacing": "20 mm", "height": "4 mm", "width": "2 mm"},
            {"angle": "60 deg", "spacing": "3 mm", "height": "4 mm", "width": "5 mm"},
            {"angle": "90 deg", "spacing": "20 mm", "height": "4 mm"},
        ]})
    assert only(content).startswith("ribs.family[3].width: missing")
    content["ribs"]["family"][2]["width"] = "2 mm"
    assert only(content).startswith("ribs.family[2].width: ribs 5 mm wide at the root")
    content["ribs"]["family"][1].update(spacing="20 mm", height="70 mm")
    assert "fills the outside radius" in only(content)


def test_all_problems_of_a_file_come_at_once(tmp_path):
    content = changed("tube.length", "3 kg")
    content["ribs"]["hieght"] = "2 mm"
    content["skin"] = {}
    content["case"][0]["factor"] = "x"
    content["case"][1]["moment"] = 4
    found = [problem.path for problem in problems(content)]
    assert sorted(found) == sorted(
        ["tube.length", "ribs.hieght", "skin.thickness", "case[1].factor", "case[2].moment"])
    with pytest.raises(DefinitionError) as error:
        design_from_table(content, "file.toml")
    assert len(str(error.value).splitlines()) == 5
    assert all(line.startswith("file.toml: ") for line in str(error.value).splitlines())


@pytest.mark.parametrize("value", [5, "x", [], [1], True])
@pytest.mark.parametrize("path", ["tube", "ribs", "skin", "material"])
def test_a_table_must_be_a_table(path, value):
    assert "is not a table" in only(changed(path, value))


@pytest.mark.parametrize("value", [{}, {"name": "x"}, 3, "x"])
def test_repeated_tables_must_be_repeated(value):
    assert "[[case]]" in only(changed("case", value))


def test_examples_are_good_and_say_that_they_are_invented(examples):
    assert len(examples) >= 3
    for path in examples:
        design = read_design(path)
        assert "nvented" in design.title, path
        assert isinstance(design, Design) and isinstance(design.tube, Tube)
        assert isinstance(design.ribs, Ribs) and design.folder == path.parent
