"""Thermal stress against closed solutions of the textbooks."""

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from gridshell.thermal.stress.stress import (
    bonded_stress,
    bore_hoop_stress,
    common_strain,
    edge_length,
    edge_stress_factor,
    land_share,
    shrink_pressure,
    tube_end_factor,
)


def test_end_of_a_tube():
    # Timoshenko and Woinowsky-Krieger, Art. 118: about 25 % more at the end for nu = 0.3.
    assert tube_end_factor(0.3) == pytest.approx(1.25, abs=0.005)


def shell_edge(radius, thickness, poisson, pull):
    """Long tube, edge held at a radial displacement with its slope held, solved numerically."""
    stiffness = 1 / (12 * (1 - poisson**2)) * thickness**3  # E = 1
    beta = (3 * (1 - poisson**2) / (radius * thickness) ** 2) ** 0.25
    x = np.linspace(0, 12 / beta, 400)

    def slope(_, y):
        return np.vstack([y[1], y[2], y[3], -thickness / radius**2 / stiffness * y[0]])

    def ends(first, last):
        return np.array([first[0] - pull, first[1], last[0], last[1]])

    guess = np.zeros((4, x.size))
    guess[0] = pull * np.exp(-beta * x)
    found = solve_bvp(slope, ends, x, guess, tol=1e-8, max_nodes=20000)
    assert found.success
    moment = stiffness * found.sol(0)[2]
    force = stiffness * found.sol(0)[3]
    return abs(6 * moment / thickness**2), abs(force)


@pytest.mark.parametrize("poisson", [0.3, 0.42])
def test_edge_of_a_wall_against_the_shell_equation(poisson):
    # The differential equation of a tube loaded symmetrically (Theory of Plates and Shells,
    # Art. 114, Eq. 274), solved with scipy instead of in closed form.
    radius, thickness, strain = 0.05, 1.5e-3, 1e-3
    bending, force = shell_edge(radius, thickness, poisson, strain * radius)
    factor = np.sqrt(3 / (1 - poisson**2))
    assert bending == pytest.approx(factor * strain, rel=1e-4)
    assert edge_stress_factor(poisson) >= factor - 1e-12
    # The wall's edge answers like a ring of section t/beta: q = E (t/beta) w/r^2.
    like = thickness * edge_length(radius, thickness, poisson) * strain / radius
    assert force == pytest.approx(like, rel=1e-4)


def test_land_share_goes_from_none_to_all():
    assert land_share(0.0, 6e-3, 1.5e-3, 0.05, 0.4) == 0
    assert land_share(1.0, 6e-3, 1.5e-3, 0.05, 0.4) > 0.99
    wide = land_share(np.array([2e-3, 5e-3, 20e-3]), 6e-3, 1.5e-3, 0.05, 0.4)
    assert np.all(np.diff(wide) > 0)


def test_shrink_fit():
    # Timoshenko, Strength of Materials, Part II, 3rd ed., Art. 41: two tubes of one material,
    # p = E d (b^2 - a'^2)(c^2 - b^2)/(2 b^3 (c^2 - a'^2)) with d the radial interference; his
    # example a' = 4, b = 6, c = 8 in, E = 30e6 psi, d = 0.005 in gives 4050 psi (from memory).
    inner, radius, outer, modulus, gap = 4.0, 6.0, 8.0, 30e6, 0.005
    pressure = shrink_pressure(gap / radius, radius, outer, inner, modulus, 0.3, modulus, 0.3)
    closed = modulus * gap * (radius**2 - inner**2) * (outer**2 - radius**2) / (
        2 * radius**3 * (outer**2 - inner**2))
    assert pressure == pytest.approx(closed, rel=1e-12)
    assert pressure == pytest.approx(4050, rel=1e-3)
    # Hoop stress at the inner face of the outer tube, Lame.
    assert bore_hoop_stress(pressure, radius, outer) == pytest.approx(
        pressure * (64 + 36) / (64 - 36))


def test_a_part_with_a_gap_left_does_not_press():
    assert shrink_pressure(-1e-4, 1.0, 1.1, 0.9, 1e9, 0.3, 7e10, 0.3) == 0


def test_rigid_solid_disk_takes_the_whole_mismatch():
    # A rigid disk in a thin tube: hoop strain equals the mismatch.
    pressure = shrink_pressure(1e-3, 1.0, 1.001, 0.0, 1e9, 0.4, 1e15, 0.3)
    hoop = bore_hoop_stress(pressure, 1.0, 1.001)
    assert hoop / 1e9 == pytest.approx(1e-3, rel=2e-3)


def test_pin_in_a_wide_plate():
    # Rigid pin too large by e in an endless plate: p = E e/(1 + nu), hoop stress equal to it
    # (Timoshenko and Goodier, Art. 28, outer radius going to infinity).
    pressure = shrink_pressure(1e-3, 1.0, 1e6, 0.0, 1e9, 0.4, 1e18, 0.3)
    assert pressure == pytest.approx(1e9 * 1e-3 / 1.4, rel=1e-6)
    assert bore_hoop_stress(pressure, 1.0, 1e6) == pytest.approx(pressure, rel=1e-6)


def test_bonded_bars_balance():
    # Two bars of unlike expansion held together: Timoshenko, Strength of Materials, SectionPart I,
    # Art. on initial and thermal stresses (bolt in a tube).
    tube = bonded_stress(1e-3, 2e9, 4e-4, 70e9, 1e-5)
    cord = tube * 4e-4 / 1e-5
    assert tube / 2e9 + cord / 70e9 == pytest.approx(1e-3)


def test_common_strain_has_no_net_force():
    free, weight = np.array([0.0, -1e-3, -4e-3]), np.array([1.0, 2.0, 3.0])
    assert (weight * (common_strain(free, weight) - free)).sum() == pytest.approx(0, abs=1e-12)
