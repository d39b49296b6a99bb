"""Laws that the wall of any design must keep, and stress recovery."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gridshell.define.tables.design import RibFamily, with_values
from gridshell.wall.assess import assess_wall
from gridshell.wall.stiffness.equivalent import neutral_bending
from gridshell.wall.stress import principal, strain_of, stress_of, von_mises

ALL = ("isogrid", "isogrid-axial", "orthogrid", "diagonal", "families", "plain")
RIBBED = ALL[:-1]
DETAILS = {"ribs__draft": 0.05, "ribs__corner_radius": 1.5e-3, "ribs__root_fillet": 0.6e-3}


def _random(count, seed=0):
    random = np.random.default_rng(seed)
    return {
        "skin.thickness": random.uniform(0.8e-3, 3e-3, count),
        "ribs.height": random.uniform(2e-3, 9e-3, count),
        "ribs.width": random.uniform(1e-3, 4e-3, count),
        "tube.outside_diameter": random.uniform(0.15, 0.4, count),
        "ribs.draft": random.uniform(0.0, 0.06, count),
    }


@pytest.mark.parametrize("pattern", ALL)
def test_arrays_equal_a_loop_over_single_designs(make_design, make_properties, pattern):
    values = _random(25)
    together = assess_wall(with_values(make_design(pattern), values), make_properties())
    for index in range(25):
        one = with_values(make_design(pattern), {k: v[index] for k, v in values.items()})
        alone = assess_wall(one, make_properties())
        # The last digit may differ: numpy's vector loops round differently from its scalar ones.
        near = {"rtol": 1e-13, "atol": 0.0}
        for name in ("A", "B", "D"):
            matrix = getattr(alone, name)
            np.testing.assert_allclose(
                getattr(together, name)[index], matrix, rtol=1e-12,
                atol=1e-12 * np.abs(matrix).max())
        for name in ("areal_mass", "tube_mass", "depth"):
            np.testing.assert_allclose(
                np.broadcast_to(getattr(together, name), 25)[index], getattr(alone, name), **near)
        np.testing.assert_allclose(together.equivalent.thickness[index],
                                   alone.equivalent.thickness, rtol=1e-11)


@pytest.mark.parametrize("pattern", ALL)
def test_stiffness_is_linear_in_the_modulus_and_mass_in_the_density(
    make_design, make_properties, pattern
):
    design = make_design(pattern, **DETAILS)
    once = assess_wall(design, make_properties())
    more = assess_wall(design, make_properties(modulus=6e9, density=3000.0))
    for name in ("A", "B", "D"):
        np.testing.assert_allclose(getattr(more, name), 3 * getattr(once, name), rtol=1e-12)
    assert float(more.tube_mass) == pytest.approx(3 * float(once.tube_mass), rel=1e-13)
    assert float(more.equivalent.thickness) == pytest.approx(float(once.equivalent.thickness))


@pytest.mark.parametrize("formula", ["thin", "fat"])
@pytest.mark.parametrize("pattern", RIBBED)
def test_ribs_inside_and_outside_differ_in_the_sign_of_coupling_only(
    make_design, make_properties, pattern, formula
):
    inside = make_design(pattern, ribs__side="inside", ribs__formula=formula, **DETAILS)
    # Same radius of the skin's middle surface, hence the same grid.
    outside = with_values(inside, {
        "ribs.side": "outside",
        "tube.outside_diameter": inside.tube.outside_diameter + 2 * inside.ribs.height,
    })
    one, other = (assess_wall(design, make_properties()) for design in (inside, outside))
    np.testing.assert_allclose(one.A, other.A, rtol=1e-12)
    np.testing.assert_allclose(one.D, other.D, rtol=1e-12)
    np.testing.assert_allclose(one.B, -other.B, rtol=1e-12)
    assert one.B[0, 0] < 0 < other.B[0, 0]


@pytest.mark.parametrize("formula", ["thin", "fat"])
@pytest.mark.parametrize("pattern", ALL)
def test_the_law_is_symmetric_and_positive(make_design, make_properties, pattern, formula):
    design = with_values(make_design(pattern), {**_random(40, 4), "ribs.formula": formula})
    built = assess_wall(design, make_properties())
    shape = np.broadcast_shapes(built.A.shape, built.B.shape, built.D.shape)
    A, B, D = (np.broadcast_to(m, shape) for m in (built.A, built.B, built.D))
    whole = np.block([[A, B], [B, D]])
    np.testing.assert_array_equal(whole, np.swapaxes(whole, -1, -2))
    # Scale moments by the depth so that the numbers compare.
    scale = np.concatenate([np.ones(3), np.full(3, 1e3)])
    assert np.all(np.linalg.eigvalsh(whole * scale[:, None] * scale) > 0)


@pytest.mark.parametrize("pattern", RIBBED)
def test_more_material_is_never_softer(make_design, make_properties, pattern):
    base = assess_wall(make_design(pattern), make_properties())
    for key, value in (("skin__thickness", 1.8e-3), ("ribs__height", 6e-3),
                       ("ribs__width", 2.5e-3), ("ribs__root_fillet", 0.8e-3)):
        more = assess_wall(make_design(pattern, **{key: value}), make_properties())
        bend = neutral_bending(more.A, more.B, more.D) - neutral_bending(base.A, base.B, base.D)
        assert np.all(np.linalg.eigvalsh(more.A - base.A) > -1e-3 * base.A[0, 0])
        assert np.all(np.linalg.eigvalsh(bend) > -2e-2 * base.D[0, 0])
        assert float(more.areal_mass) > float(base.areal_mass)


def test_isogrid_has_no_direction_but_for_rounding(make_design, make_properties):
    for pattern in ("isogrid", "isogrid-axial"):
        design = make_design(pattern, tube__outside_diameter=2.0, tube__length=3.0)
        built = assess_wall(design, make_properties())
        assert built.A[0, 0] == pytest.approx(built.A[1, 1], rel=0.01)
        assert built.D[0, 0] == pytest.approx(built.D[1, 1], rel=0.015)
        assert built.A[0, 2] == pytest.approx(0, abs=1e-9 * built.A[0, 0])


def test_node_correction_fades_with_thin_ribs(make_design, make_properties):
    # In the limit of thin ribs the default formula is the handbook's.
    for share, most in ((1.0, 0.12), (0.1, 0.015), (0.01, 0.0015)):
        values = {"ribs__width": 2e-3 * share, "ribs__spacing": 30e-3}
        walls = [assess_wall(make_design("isogrid", ribs__formula=f, **values), make_properties())
                 for f in ("fat", "thin")]
        assert np.max(np.abs(np.diag(walls[0].A) / np.diag(walls[1].A) - 1)) < most


# --- stress -------------------------------------------------------------------------------------


@pytest.mark.parametrize("bent", [False, True])
@pytest.mark.parametrize("pattern", ALL)
def test_skin_and_ribs_together_carry_the_load(make_design, make_properties, pattern, bent):
    # Equilibrium: integrate the recovered stresses over the skin and every family.
    random = np.random.default_rng(8)
    design = make_design(pattern, ribs__formula="thin")
    built = assess_wall(design, make_properties())
    forces, moments = random.normal(size=3) * 1e3, random.normal(size=3)
    strain, curvature = strain_of(built, forces, moments if bent else None)
    state = stress_of(built, strain, curvature)
    t, side = float(design.skin.thickness), built.side
    N = state.skin_middle * t
    # The skin's stress is linear over its thickness.
    M = side * (state.skin_rib_side - state.skin_smooth_side) * t**2 / 12
    shear = built.properties.shear_modulus
    for line, section, ribs, offset in zip(
        built.grid.families, built.sections, state.ribs, built.offsets, strict=True
    ):
        c, s = float(line.cosine), float(line.sine)
        pull = np.array([c * c, s * s, c * s])
        slope = (ribs.tip - ribs.root) / float(section.height) * side  # per z
        at_centroid = ribs.root + (ribs.tip - ribs.root) * float(section.centroid) / float(
            section.height)
        force = at_centroid * float(section.area)
        bending = slope * float(section.inertia)
        twist = shear * float(section.torsion) * np.dot(
            [-c * s, c * s, (c * c - s * s) / 2], curvature)
        N = N + pull * force / float(line.pitch)
        M = M + (pull * (force * float(offset) + bending)
                 + np.array([-c * s, c * s, (c * c - s * s) / 2]) * twist) / float(line.pitch)
    assert pytest.approx(forces, rel=1e-9) == N
    if bent:
        assert pytest.approx(moments, rel=1e-9) == M
    else:
        assert np.all(curvature == 0)


def test_skin_and_ribs_carry_the_load_with_the_default_formula(make_design, make_properties):
    built = assess_wall(make_design("isogrid", ribs__width=2.5e-3, **DETAILS), make_properties())
    assert built.design.ribs.formula == "fat"
    forces = np.array([1000.0, 0.0, 0.0])
    state = stress_of(built, *strain_of(built, forces))
    carried = state.skin_middle[0] * float(built.design.skin.thickness)
    for line, section, ribs in zip(built.grid.families, built.sections, state.ribs, strict=True):
        mean = ribs.root + (ribs.tip - ribs.root) * section.centroid / section.height
        carried += line.cosine**2 * mean * section.area / line.pitch
    assert carried == pytest.approx(forces[0], rel=0.01)


def test_plain_wall_stress_is_force_over_thickness(make_design, make_properties):
    built = assess_wall(make_design("plain"), make_properties())
    forces = np.array([[1500.0, -300.0, 600.0], [0.0, 150.0, 0.0]])
    state = stress_of(built, *strain_of(built, forces))
    np.testing.assert_allclose(state.skin_middle, forces / 1.5e-3, rtol=1e-12, atol=1e-6)
    np.testing.assert_allclose(state.skin_rib_side, state.skin_smooth_side, rtol=1e-12, atol=1e-6)
    # Timoshenko, Strength of Materials: bending stress 6 M/t^2.
    bent = stress_of(built, *strain_of(built, np.zeros(3), np.array([3.0, 0.0, 0.0])))
    assert abs(bent.skin_rib_side[0]) == pytest.approx(6 * 3.0 / 1.5e-3**2, rel=1e-9)
    assert bent.ribs == ()


def test_stress_measures():
    # Mohr's circle and the distortion energy (Timoshenko, Strength of Materials).
    pure = np.array([0.0, 0.0, 5.0])
    assert [float(v) for v in principal(pure)] == [5.0, -5.0]
    assert float(von_mises(pure)) == pytest.approx(5 * np.sqrt(3))
    assert float(von_mises(np.array([7.0, 0.0, 0.0]))) == 7.0
    assert float(von_mises(np.array([4.0, 4.0, 0.0]))) == 4.0


def test_properties_are_not_changed_by_the_wall(make_design, make_properties):
    known = make_properties()
    before = dataclasses.asdict(known)
    assess_wall(make_design("isogrid"), known)
    assert dataclasses.asdict(known) == before


@pytest.mark.parametrize("pattern", ["orthogrid", "diagonal"])
def test_own_families_near_a_pattern_go_over_to_it_evenly(make_design, make_properties, pattern):
    """Bounded steps off its angles, and each design of an array as it is alone."""
    off = np.radians([0.0, 0.5, 1.0, 2.0, 4.0, 7.0, 10.0, 11.0])
    # A long circumference: whole ribs round it hardly change with the angle.
    first = 0.0 * off if pattern == "orthogrid" else np.radians(35.0) + 0.0 * off
    second = np.pi / 2 - off if pattern == "orthogrid" else np.radians(-35.0) + off

    def wall(one, two):
        family = (RibFamily(one, 0.02), RibFamily(two, 0.02))
        return assess_wall(make_design(
            "families", tube__outside_diameter=40.0, ribs__family=family, ribs__width=6e-3),
            make_properties())

    many = wall(first, second)
    for number in range(len(off)):
        alone = wall(float(first[number]), float(second[number]))
        for one, other in zip(alone.curved, many.curved, strict=True):
            assert one == pytest.approx(other[number], rel=1e-9, abs=1e-9 * np.abs(one).max())
    diagonal = np.diagonal(many.D, axis1=-2, axis2=-1)
    per_degree = np.abs(np.diff(np.log(diagonal), axis=0)) / np.degrees(np.diff(off))[:, None]
    assert per_degree.max() < 0.075
    # Nodes make the pattern stiffer than families that cross anywhere.
    assert (diagonal[0, 1:] > 1.02 * diagonal[-1, 1:]).all()
    assert many.rib_grids[0][1].pattern == pattern
