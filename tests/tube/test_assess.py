"""Assessment of whole designs: checks, margins, combinations, arrays."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.tables.design import Case, with_values
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling.bending import true_bending_load
from gridshell.tube.buckling.local import ovalization_moment, triangle_stress
from gridshell.tube.result import margin_of
from gridshell.tube.strength.local_use import pocket_use

ALL = ("isogrid", "isogrid-axial", "orthogrid", "diagonal", "families", "plain")
EVERY = Case(name="every load", compression=500.0, moment=20.0, shear=30.0, torque=15.0,
             pressure=2e3, factor=1.5)


def of(result, name):
    return next(check for check in result.checks if check.name == name)


@pytest.fixture
def assessed(make_design, make_properties):
    def run(pattern="isogrid", *cases, **values):
        design = make_design(pattern, **values)
        return assess_tube(with_values(design, {"case": tuple(cases)}), make_properties())

    return run


@pytest.mark.parametrize("pattern", ALL)
def test_every_check_says_where_it_comes_from(assessed, pattern):
    tube = assessed(pattern, EVERY)
    case = tube.cases[0]
    names = [check.name for check in case.checks]
    expected = {
        "general instability in compression", "general instability in bending",
        "general instability under external pressure", "general instability in torsion and shear",
        "general instability, loads combined", "column buckling", "ovalization in bending",
        "strength of the skin",
    }
    if pattern != "plain":
        expected |= {"skin pocket buckling", "rib crippling", "strength of the ribs"}
    assert set(names) == expected and len(names) == len(expected)
    for check in case.checks:
        assert check.source
        assert float(check.margin) == pytest.approx(
            float(check.allowable) / (float(check.applied) * 1.5) - 1)
        assert 0 < float(check.knockdown) <= 1
    margins = [float(check.margin) for check in case.checks]
    assert margins == sorted(margins)  # the governing check first
    assert case.governing == names[0] and float(case.margin) == margins[0]
    assert float(tube.margin) == margins[0]


@pytest.mark.parametrize("formula", ["thin", "fat"])
def test_pockets_name_the_formula_that_was_used(assessed, formula):
    tube = assessed("isogrid", EVERY, ribs__formula=formula)
    pocket = next(c for c in tube.cases[0].checks if c.name == "skin pocket buckling")
    assert ("NASA CR-124075, 4.2" in pocket.source) == (formula == "thin")


def test_allowables_are_theory_times_knockdown(assessed):
    # NASA/SP-8007-2020/REV 2, 4.1.2.1 to 4.1.2.4; N 2 pi R, N pi R^2, shear flow T/(2 pi R^2).
    tube = assessed("isogrid", EVERY, tube__straightness=0.0)
    R, case, perfect = float(tube.wall.grid.radius), tube.cases[0], tube.buckling
    for name, expected in [
        ("general instability in compression", 0.65 * perfect.compression.load * 2 * np.pi * R),
        ("general instability in bending", 0.75 * perfect.compression.load * np.pi * R**2),
        ("general instability under external pressure", 0.75 * perfect.hydrostatic.load),
        ("general instability in torsion and shear", 0.67 * perfect.torsion.load),
    ]:
        assert float(of(case, name).allowable) == pytest.approx(float(expected), rel=1e-12)
    assert float(case.shear) >= 30.0
    flow = 15.0 / (2 * np.pi * R**2) + float(case.shear) / (np.pi * R)
    assert float(of(case, "general instability in torsion and shear").applied) == pytest.approx(
        flow)
    # Eq. 41-47: the sum of the ratios.
    ratios = sum(float(check.applied / check.allowable) for check in case.checks
                 if check.name.startswith("general instability") and "combined" not in check.name)
    assert float(of(case, "general instability, loads combined").applied) == pytest.approx(ratios)


def test_ovalization_uses_the_ring_free_to_stretch(assessed):
    found = {}
    for formula in ("thin", "fat"):
        tube = assessed("orthogrid", Case(name="bent", moment=5.0), ribs__formula=formula)
        wall = tube.wall
        A, B, D = wall.curved  # ribs at their own radius
        K = A[0, 0] - A[0, 1] ** 2 / A[1, 1]
        ring = D[1, 1] - B[1, 1] ** 2 / A[1, 1]
        moment = float(of(tube.cases[0], "ovalization in bending").allowable)
        found[formula] = moment / float(ovalization_moment(K, ring, wall.grid.radius))
    assert found["thin"] == pytest.approx(1.0)
    assert 0.85 < found["fat"] < 1.0  # ribs shear, and the skin bows between them


def test_bending_says_how_far_its_rule_is_on_the_safe_side(assessed):
    tube = assessed("isogrid", Case(name="bent", moment=5.0))
    check = of(tube.cases[0], "general instability in bending")
    assert any("a coupled solution gives" in note for note in check.notes)
    true, m = true_bending_load(tube.wall)
    assert true > float(check.allowable) / check.knockdown and m >= 1


def test_strength_of_a_plain_tube(assessed):
    # P/A + M c/I on the compressed side, c the outer radius (Timoshenko, Strength of Materials).
    tube = assessed("plain", Case(name="both", compression=700.0, moment=40.0, factor=1.0))
    R, t = float(tube.wall.grid.radius), 1.5e-3
    moment = float(tube.cases[0].moment)
    assert 40.0 + 700.0 * 0.002 * 0.6 < moment < 1.02 * (40.0 + 700.0 * 0.002 * 0.6)
    outer, inner = R + t / 2, R - t / 2
    along = 700.0 / (2 * np.pi * R * t) + moment * outer / (np.pi / 4 * (outer**4 - inner**4))
    # The shear force of the bent axis is small beside it: von Mises.
    stress = np.hypot(along, 3**0.5 * float(tube.cases[0].shear) / (np.pi * R * t))
    check = of(tube.cases[0], "strength of the skin")
    assert float(check.applied) == pytest.approx(stress, rel=5e-4)
    assert float(check.margin) == pytest.approx(30e6 / float(check.applied) - 1)


def test_torsion_of_a_plain_tube_is_that_of_a_hollow_shaft(assessed):
    # T r/J at the outer face, J = pi (r_o^4 - r_i^4)/2 (Saint-Venant); von Mises.
    tube = assessed("plain", Case(name="twist", torque=25.0, factor=1.0))
    R, t = float(tube.wall.grid.radius), 1.5e-3
    outer, inner = R + t / 2, R - t / 2
    found = float(of(tube.cases[0], "strength of the skin").applied)
    assert found == pytest.approx(
        3**0.5 * 25.0 * outer / (np.pi * (outer**4 - inner**4) / 2), rel=1e-4)


def test_pockets_of_an_isogrid_are_triangles_of_its_spacing(assessed):
    # NASA CR-124075, 4.2: stress 10.2 E (t/h)^2 at v = 1/3, h = sqrt(3)/2 of the spacing.
    wall = assessed("isogrid", ribs__formula="thin").wall
    share, _ = pocket_use(wall, np.array([-1e5, 0.0, 0.0]))
    height = np.sqrt(3) / 2 * float(wall.design.ribs.spacing)
    known = wall.properties
    allowable = triangle_stress(known.modulus, known.poisson, wall.design.skin.thickness, height)
    # whole cells stretch the triangles a little
    assert float(share) == pytest.approx(1e5 / float(allowable), rel=0.06)


def test_vibration_is_short_and_so_is_its_modulus(make_design, make_properties):
    design = make_design("isogrid")
    known = make_properties()
    stated = assess_tube(design, known).frequencies["simply-supported"]
    quick = dataclasses.replace(known, short_time_modulus=1.44 * known.modulus)
    assert assess_tube(design, quick).frequencies["simply-supported"] == pytest.approx(1.2 * stated)


def test_both_sides_of_a_bent_plain_tube_are_stressed_alike(make_design, make_properties):
    design = make_design("plain", case=(Case("bend", moment=30.0),))
    checks = {check.name: check for check in
              assess_tube(design, make_properties()).cases[0].checks}
    radius, thickness = 0.1 - 0.75e-3, 1.5e-3
    # M/(pi R^2 t) in the middle of the wall, and as much more as its faces are farther out
    mean = 30.0 / (np.pi * radius**2 * thickness)
    found = float(checks["strength of the skin"].applied)
    assert mean <= found * (1 + 1e-9) < 1.02 * mean


def test_hoop_stress_of_internal_pressure(assessed):
    # Closed ends: pR/t round, pR/(2t) along: equivalent stress sqrt(3)/2 pR/t. The side that
    # bending would press together is not credited with the pull of the ends: pR/t, on the safe
    # side, with what the thickness adds outside (Lame; less than that inside).
    tube = assessed("plain", Case(name="inside", pressure=-50e3, factor=1.0))
    R, t = float(tube.wall.grid.radius), 1.5e-3
    check = of(tube.cases[0], "strength of the skin")
    assert float(check.applied) == pytest.approx(50e3 * (R + t / 2) ** 2 / R / t, rel=1e-9)
    assert not any("instability" in c.name for c in tube.cases[0].checks)
    free = assessed("plain", Case(name="inside", pressure=-50e3, pressure_on_ends=False))
    assert float(of(free.cases[0], "strength of the skin").applied) == pytest.approx(
        50e3 * (R + t / 2) ** 2 / R / t, rel=1e-9)


def test_relieving_pressure_is_not_factored(assessed):
    # NASA/SP-8007-2020/REV 2, 3.0: a load that relieves is not multiplied by the factor.
    name, check = "pushed", "general instability in compression"
    alone = of(assessed("isogrid", Case(name=name, compression=500.0, factor=2.0)).cases[0], check)
    both = assessed("isogrid", Case(name=name, compression=500.0, pressure=-5e3, factor=2.0))
    R = float(both.wall.grid.radius)
    relief = 5e3 * np.pi * (R - float(both.wall.design.skin.thickness) / 2) ** 2
    demand = float(of(both.cases[0], check).applied) * 2.0
    assert demand == pytest.approx(500.0 * 2.0 - relief)
    assert float(of(both.cases[0], check).margin) > float(alone.margin)


def test_no_load_has_no_finite_margin(assessed):
    tube = assessed("isogrid", Case(name="nothing"))
    assert float(tube.margin) == np.inf
    assert tube.cases[0].governing == "no load"
    assert float(margin_of(3.0, 0.0, 1.5)) == np.inf
    assert float(margin_of(3.0, 1.0, 1.5)) == pytest.approx(1.0)


def test_tension_does_not_buckle(assessed):
    tube = assessed("isogrid", Case(name="pulled", compression=-400.0))
    names = {check.name for check in tube.cases[0].checks if np.isfinite(float(check.margin))}
    assert not any("instability" in name or "column" in name for name in names)
    assert "strength of the skin" in names


def test_factor_only_scales_the_demand(assessed):
    loads = {"moment": 9.0, "torque": 3.0, "shear": 7.0}
    once = assessed("isogrid", Case(name="a", factor=1.0, **loads))
    twice = assessed("isogrid", Case(name="a", factor=2.0, **loads))
    for check in once.cases[0].checks:
        other = of(twice.cases[0], check.name)
        assert 1 + float(other.margin) == pytest.approx((1 + float(check.margin)) / 2)
    # With axial load the moment grows, so the margin falls faster than the factor rises.
    once = assessed("isogrid", Case(name="a", compression=300.0, moment=9.0, factor=1.0))
    twice = assessed("isogrid", Case(name="a", compression=300.0, moment=9.0, factor=2.0))
    for check in once.cases[0].checks:
        other = of(twice.cases[0], check.name)
        assert 1 + float(other.margin) <= (1 + float(check.margin)) / 2 * (1 + 1e-12)


def test_transverse_loads_enter_the_section_forces(assessed):
    tube = assessed("isogrid", Case(name="held", support="cantilever", transverse=4.0,
                                    acceleration=9.81, moment=1.0, shear=2.0))
    case, weight = tube.cases[0], float(tube.mass) * 9.81
    assert float(case.moment) == pytest.approx(1.0 + 4.0 * 0.6 + weight * 0.3)
    assert float(case.shear) == pytest.approx(2.0 + 4.0 + weight)
    assert float(case.beam.deflection) > 0
    assert of(case, "general instability in torsion and shear")


@pytest.mark.parametrize("pattern", ALL)
def test_buckling_and_stiffness_are_linear_in_the_modulus(
    make_design, make_properties, pattern
):
    design = with_values(make_design(pattern), {"case": (EVERY,)})
    once = assess_tube(design, make_properties())
    more = assess_tube(design, make_properties(modulus=10e9))
    for name in ("EA", "EI", "GJ", "GA"):
        assert float(getattr(more.stiffness, name)) == pytest.approx(
            5 * float(getattr(once.stiffness, name)), rel=1e-12)
    for name in ("compression", "hydrostatic", "torsion"):
        assert float(getattr(more.buckling, name).load) == pytest.approx(
            5 * float(getattr(once.buckling, name).load), rel=1e-9)
    for name, frequency in once.frequencies.items():
        assert float(more.frequencies[name]) == pytest.approx(5**0.5 * float(frequency))


@pytest.mark.parametrize("pattern", ALL)
def test_arrays_are_close_to_single_designs(make_design, make_properties, pattern):
    random = np.random.default_rng(3)
    values = {
        "skin.thickness": random.uniform(1e-3, 3e-3, 12),
        "tube.length": random.uniform(0.3, 2.0, 12),
        "tube.outside_diameter": random.uniform(0.15, 0.3, 12),
        "case": (EVERY,),
    }
    if pattern != "plain":
        values["ribs.height"] = random.uniform(3e-3, 7e-3, 12)
    together = assess_tube(with_values(make_design(pattern), values), make_properties())
    for index in range(12):
        picked = {key: value[index] if isinstance(value, np.ndarray) else value
                  for key, value in values.items()}
        alone = assess_tube(with_values(make_design(pattern), picked), make_properties())
        assert float(together.mass[index]) == pytest.approx(float(alone.mass), rel=1e-12)
        for check in together.cases[0].checks:
            single = of(alone.cases[0], check.name)
            margin = np.broadcast_to(check.margin, 12)[index]
            # Every whole wave is searched both ways; an idle check is infinite in both.
            assert margin == pytest.approx(float(single.margin), rel=1e-5, abs=1e-5)
        assert np.asarray(together.cases[0].governing)[index] == alone.cases[0].governing


def test_known_buckling_loads_are_used(make_design, make_properties):
    design = with_values(make_design("isogrid"), {"case": (EVERY,)})
    first = assess_tube(design, make_properties())
    again = assess_tube(design, make_properties(), buckling=first.buckling)
    assert float(again.margin) == float(first.margin)


def test_limits_are_said(assessed):
    short = assessed("isogrid", tube__length=0.2)
    assert not any("diameters" in note for note in assessed("isogrid", tube__length=0.5).notes)
    assert any("diameters" in note for note in short.notes)
    fat = assessed("isogrid", Case(name="a", compression=1.0), ribs__width=4e-3)
    assert any("half its height" in note for note in of(fat.cases[0], "rib crippling").notes)
    thin = assessed("plain", Case(name="a", compression=1.0), skin__thickness=5e-5)
    notes = of(thin.cases[0], "general instability in compression").notes
    assert any("1500" in note for note in notes)
    long = assessed("plain", Case(name="a", compression=1.0), tube__length=1.0)
    notes = of(long.cases[0], "general instability in compression").notes
    assert any("L/r above 5" in note for note in notes)


def test_unbalanced_families_are_noted(make_design, make_properties):
    design = make_design("families")
    one = with_values(design, {"ribs.family": design.ribs.family[1:2]})
    assert any("not balanced" in note for note in assess_tube(one, make_properties()).notes)
