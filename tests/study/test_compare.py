"""The grid beside plain walls."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.tables.design import Case, with_values
from gridshell.study.compare import compare_walls, first_buckling, plain_design, unit_buckling
from gridshell.tube.assess import assess_tube

NAMES = ("plain wall, equal mass", "plain wall, equal EI", "plain wall, equal buckling load")


@pytest.fixture(scope="module", params=["isogrid", "orthogrid", "diagonal"])
def compared(request, make_design, make_properties):
    design = with_values(make_design(request.param), {
        "case": (Case(name="pushed", compression=100.0),)})
    return compare_walls(design, make_properties())


def test_each_plain_wall_is_equal_in_what_it_says(compared):
    grid, *plain = compared.contenders
    assert tuple(c.name for c in plain) == NAMES and not compared.missing
    mass, stiff, strong = plain
    assert float(mass.tube.mass) == pytest.approx(float(grid.tube.mass), rel=1e-6)
    assert float(stiff.tube.stiffness.EI) == pytest.approx(
        float(grid.tube.stiffness.EI), rel=1e-6)
    assert strong.buckling_load == pytest.approx(grid.buckling_load, rel=1e-4)
    outside = grid.tube.design.tube.outside_diameter
    for contender in plain:
        assert contender.tube.design.tube.outside_diameter == outside
        assert not contender.tube.design.has_ribs
        assert float(contender.tube.wall.depth) == pytest.approx(contender.thickness)


def test_mass_by_hand(compared):
    grid, plain = compared.contenders[:2]
    outer = float(grid.tube.design.tube.outside_diameter) / 2
    t = float(plain.thickness)
    volume = np.pi * (outer**2 - (outer - t) ** 2) * float(grid.tube.design.tube.length)
    assert 1000 * volume == pytest.approx(float(grid.tube.mass), rel=1e-6)


def test_verdict_says_the_ratios(compared):
    grid, plain = compared.contenders[:2]
    assert f"{grid.buckling_load / plain.buckling_load:.2f} times the buckling" in compared.verdict
    assert f"{float(grid.wall_bending / plain.wall_bending):.2f} times the" in compared.verdict


def test_first_buckling_is_where_the_worst_margin_is_zero(make_design, make_properties):
    design = make_design("isogrid")
    worst = first_buckling(design, make_properties())
    loaded = with_values(design, {
        "case": (Case(name="at it", compression=worst.allowable, factor=1.0),),
        "tube.straightness": 0.0})
    checks = assess_tube(loaded, make_properties()).cases[0].checks
    margins = {c.name: float(c.margin) for c in checks if c.subject == "stability"}
    # The same of a tube that is assessed already, under cases of its own and with a bow.
    again, _ = unit_buckling(assess_tube(design, make_properties()))
    assert again.allowable == pytest.approx(worst.allowable, rel=1e-12)
    assert again.name == worst.name
    assert min(margins.values()) == pytest.approx(0, abs=1e-9)
    assert min(margins, key=margins.get) == worst.name


def test_the_column_is_held_as_in_the_load_cases(make_design, make_properties):
    # A clamped foot has a quarter of the pinned column load (Euler), less what shear takes.
    slender = {"tube__length": 6.0, "tube__outside_diameter": 0.06, "skin__thickness": 3e-3}
    pinned = make_design("plain", **slender)
    mast = with_values(pinned, {"case": (
        Case(name="level", moment=1.0, support="simply-supported"),
        Case(name="wind", compression=5.0, support="cantilever"),)})
    free, held = (first_buckling(one, make_properties()) for one in (pinned, mast))
    assert free.name == "column buckling, pinned at both ends"
    assert held.name == "column buckling, fixed at one end"
    assert free.allowable / held.allowable == pytest.approx(4.0, rel=2e-3)
    found = compare_walls(mast, make_properties())
    assert all(c.buckling_mode == held.name for c in found.contenders)


def test_pressure_is_that_of_the_wall_alone(make_design, make_properties):
    design = make_design("isogrid")
    _, check = unit_buckling(assess_tube(design, make_properties()))
    loads = assess_tube(design, make_properties(), needed=("lateral",)).buckling
    assert float(check.allowable) == pytest.approx(0.75 * float(loads.lateral.load))


def test_pressure_is_a_pressure_where_a_rib_goes_first(make_design, make_properties):
    """Not the stress at which the rib cripples, which was once shown as a pressure 80 times it."""
    design = make_design("isogrid", skin__thickness=0.6e-3, ribs__height=12e-3, ribs__width=0.8e-3)
    _, check = unit_buckling(assess_tube(design, make_properties()))
    assert check.name != "general instability under external pressure"
    loads = assess_tube(design, make_properties(), needed=("lateral",)).buckling
    assert float(check.allowable) < 0.75 * float(loads.lateral.load)
    held = dataclasses.replace(design, case=(Case(
        name="at it", pressure=float(check.allowable), pressure_on_ends=False, factor=1.0),))
    margins = [float(c.margin) for c in assess_tube(held, make_properties()).cases[0].checks
               if c.subject == "stability"]
    assert min(margins) == pytest.approx(0.0, abs=1e-6)


def test_a_plain_wall_compares_with_itself(make_design, make_properties):
    found = compare_walls(make_design("plain"), make_properties())
    for contender in found.contenders:
        assert contender.thickness == pytest.approx(1.5e-3, rel=1e-4)
    assert found.contenders[0].name == "as defined"


def test_what_no_plain_wall_reaches_is_said(make_design, make_properties):
    # A deep grid on a small tube: the plain wall of equal buckling load would fill the bore.
    design = make_design("isogrid", tube__outside_diameter=0.07, ribs__height=12e-3,
                         ribs__width=5e-3, ribs__spacing=18e-3, skin__thickness=3e-3)
    found = compare_walls(design, make_properties())
    assert len(found.contenders) + len(found.missing) == 4
    for line in found.missing:
        assert "none" in line


def test_plain_design_keeps_everything_else(make_design):
    design = make_design("orthogrid", tube__length=0.7)
    plain = plain_design(design, 2e-3)
    assert plain.skin.thickness == 2e-3 and plain.ribs.pattern == "plain"
    assert plain.tube == design.tube and plain.material == design.material
