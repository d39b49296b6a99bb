"""Designs that a hunt of 100,000 found: random, at the ends of what a file may state."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from gridshell.define.files.reading import design_from_table
from gridshell.define.tables.design import Design
from gridshell.tube.assess import assess_tube

# Ribs a thousandth of their spacing wide with corners that fill half of it; families 2.5 deg apart;
# a ring with fewer waves than its built-in ends have constraints.
EDGES = {
    "filled corners": {
        "material": {"modulus": "155 GPa", "poisson": -0.9046, "density": "124 kg/m^3"},
        "tube": {"outside_diameter": "338 mm", "length": "13.27 m", "segments": 3,
                 "seam_land": "2.28 mm"},
        "skin": {"thickness": "0.0148 mm"},
        "ribs": {"pattern": "diagonal", "side": "inside", "height": "0.943 mm",
                 "width": "0.047 mm", "draft": "38.2 deg", "spacing": "65.2 mm",
                 "angle": "3.61 deg", "corner_radius": "31.4 mm"},
    },
    "families all but alike": {
        "material": {"modulus": "0.137 MPa", "poisson": -0.121, "density": "374 kg/m^3"},
        "tube": {"outside_diameter": "19.93 mm", "length": "1676.7 mm", "segments": 1,
                 "end_land": "305 mm"},
        "skin": {"thickness": "0.0524 mm"},
        "ribs": {"pattern": "families", "side": "outside", "height": "1.289 mm",
                 "width": "3.985 mm", "draft": "32.23 deg", "family": [
                     {"angle": "90 deg", "spacing": "4.91 mm", "width": "1.157 mm"},
                     {"angle": "87.49 deg", "spacing": "4.962 mm", "width": "0.0859 mm"}]},
    },
    "ribs half of the radius deep": {
        "material": {"modulus": "1.487 GPa", "poisson": -0.7488, "density": "213 kg/m^3"},
        "tube": {"outside_diameter": "1764.2 mm", "length": "11468.6 mm", "sections": 5,
                 "segments": 2, "seam_land": "498.6 mm", "end_land": "185.7 mm"},
        "skin": {"thickness": "6.13 mm"},
        "ribs": {"pattern": "orthogrid", "side": "outside", "height": "434.9 mm",
                 "width": "9.7 mm", "spacing": "265.6 mm", "hoop_spacing": "366.9 mm",
                 "corner_radius": "22.9 mm", "root_fillet": "36.5 mm"},
    },
    "a short ring built in": {
        "material": {"modulus": "28.06510288991284 MPa", "poisson": 0.24236033912229638,
                     "density": "5.3 kg/m^3"},
        "tube": {"outside_diameter": "11.324349703475264 mm", "length": "1.3986112491605618 mm",
                 "segments": 2, "end_land": "0.07175952811884682 mm", "ends": "clamped"},
        "skin": {"thickness": "0.56378402093152502 mm"},
        "ribs": {"pattern": "families", "side": "inside", "height": "0.13637665590069795 mm",
                 "width": "0.04253440171184438 mm", "draft": "12.931408266529253 deg", "family": [
                     {"angle": "90 deg", "spacing": "4.6959715548084215 mm"}]},
    },
}


def design_of(name: str) -> Design:
    content = {"title": f"Invented: {name}", **EDGES[name], "case": [
        {"name": "one", "compression": "1 N", "moment": "1 N m", "torque": "1 N m"},
        {"name": "two", "pressure": "1 Pa"},
        {"name": "three", "pressure": "1 Pa", "pressure_on_ends": False}]}
    content["material"] = {"name": "invented", **content["material"]}
    return design_from_table(content)


def arrays(table: Any, count: int) -> Any:
    """Every number of a table as an array."""
    if isinstance(table, float):
        return np.full(count, table)
    if isinstance(table, tuple):
        return tuple(arrays(one, count) for one in table)
    if dataclasses.is_dataclass(table) and not isinstance(table, type):
        return dataclasses.replace(table, **{
            field.name: arrays(getattr(table, field.name), count)
            for field in dataclasses.fields(table) if field.init})
    return table


@pytest.mark.parametrize("name", EDGES)
def test_alone_or_among_others_a_design_has_the_same_loads_above_zero(name):
    design = design_of(name)
    many = dataclasses.replace(design, **{
        part: arrays(getattr(design, part), 3) for part in ("tube", "skin", "ribs", "material")})
    with np.errstate(all="ignore"):
        alone, among = assess_tube(design), assess_tube(many)
    for matrix in "ABD":
        one, all_of_them = getattr(alone.wall, matrix), getattr(among.wall, matrix)
        np.testing.assert_allclose(all_of_them[1], one, rtol=1e-9, atol=1e-12 * np.abs(one).max())
    for load in ("compression", "hydrostatic", "lateral", "torsion"):
        one = float(getattr(alone.buckling, load).load)
        assert one > 0
        assert getattr(among.buckling, load).load == pytest.approx(one, rel=1e-6)
