"""First bending frequencies: published roots of the Euler beam, and the Timoshenko beam by Ritz.

Sources: Timoshenko, Vibration Problems in Engineering; Blevins, Formulas for Natural Frequency and
Mode Shape (1979), table 8-1.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import legendre
from scipy.linalg import eigh, null_space

from gridshell.tube.section.column import JointSprings
from gridshell.tube.section.vibration import first_frequency, jointed_share

SUPPORTS = ("cantilever", "simply-supported", "free-free")


def ritz(support, shear, rotary, terms=26):
    """Lowest z = m w^2 L^4/EI of the Timoshenko beam, deflection and rotation as polynomials.

    Strain energy: bending rotation' squared, and (w' - rotation)^2 over ``shear`` = EI/(GA L^2);
    kinetic: w^2, and the rotation's with ``rotary`` = J/(m L^2). Motions even about mid-length for
    beams held alike at both ends.
    """
    at, weights = legendre.leggauss(60)
    weights = weights / 2
    whole = np.eye(terms)
    shapes = np.array([legendre.legval(at, row) for row in whole])
    slopes = np.array([2 * legendre.legval(at, legendre.legder(row)) if i else 0 * at
                       for i, row in enumerate(whole)])
    none = np.zeros_like(shapes)
    w, turn = np.vstack([shapes, none]), np.vstack([none, shapes])
    slope, bend = np.vstack([slopes, none]), np.vstack([none, slopes])
    K = (bend * weights) @ bend.T + ((slope - turn) * weights) @ (slope - turn).T / shear
    M = (w * weights) @ w.T + rotary * (turn * weights) @ turn.T
    even = np.arange(terms) % 2 == 0
    ends = (-1.0) ** np.arange(terms), np.ones(terms)
    nothing = np.zeros(terms)
    if support == "cantilever":
        held = np.array([np.r_[ends[0], nothing], np.r_[nothing, ends[0]]])
    else:
        keep = np.r_[even, ~even]
        K, M = K[np.ix_(keep, keep)], M[np.ix_(keep, keep)]
        held = np.array([np.r_[ends[1], nothing][keep]])
    if support != "free-free":
        motion = null_space(held)
        K, M = motion.T @ K @ motion, motion.T @ M @ motion
    values = eigh(K, M, eigvals_only=True)
    return values[1] if support == "free-free" else values[0]  # 0 is the rigid shift


@pytest.mark.parametrize("support, constant", [
    ("cantilever", 1.8751), ("simply-supported", np.pi), ("free-free", 4.7300)])
def test_euler_frequencies(support, constant):
    # Published roots: 1.875, pi, 4.730.
    found = first_frequency(support, 2.0, 30.0, 1e15, line_mass=0.5, rotary=0.0)
    expected = constant**2 / (2 * np.pi * 2.0**2) * np.sqrt(30.0 / 0.5)
    assert float(found) == pytest.approx(expected, rel=3e-5)


@pytest.mark.parametrize("support", SUPPORTS)
def test_short_and_long_beams_are_exact(support):
    rng = np.random.default_rng(4)
    shear = 10 ** rng.uniform(-5, 1.3, 25)
    rotary = shear * 10 ** rng.uniform(-1.5, 0.5, 25)
    found = first_frequency(support, 1.0, 1.0, 1 / shear, line_mass=1.0, rotary=rotary)
    for one, s, r in zip(found, shear, rotary, strict=True):
        assert (2 * np.pi * one) ** 2 == pytest.approx(ritz(support, s, r), rel=1e-6)


@pytest.mark.parametrize("support", SUPPORTS)
@pytest.mark.parametrize("diameters", [0.68, 2.0, 5.0, 8.0, 40.0])
def test_frequencies_of_a_thin_tube(support, diameters):
    # Thin tube of E = 1, v = 0.35, R = 1: EI = pi, GA = pi G, J = m/2.
    length, EI, GA, mass = 2.0 * diameters, np.pi, np.pi / 2.7, 1.3
    found = float(first_frequency(support, length, EI, GA, line_mass=mass, rotary=mass / 2))
    z = ritz(support, EI / (GA * length**2), 0.5 / length**2)
    assert found == pytest.approx(np.sqrt(z * EI / mass) / (2 * np.pi * length**2), rel=1e-6)


@pytest.mark.parametrize("support", SUPPORTS)
def test_stiffer_is_never_slower_and_heavier_never_faster(support):
    steps = np.linspace(1.0, 3.0, 30)
    base = {"line_mass": 0.3, "rotary": 2e-3}
    assert np.all(np.diff(first_frequency(support, 0.4, 9.0 * steps, 900.0, **base)) > 0)
    assert np.all(np.diff(first_frequency(support, 0.4, 9.0, 900.0 * steps, **base)) > 0)
    assert np.all(np.diff(first_frequency(
        support, 0.4, 9.0, 900.0, line_mass=0.3 * steps, rotary=2e-3)) < 0)
    assert np.all(np.diff(first_frequency(
        support, 0.4, 9.0, 900.0, line_mass=0.3, rotary=2e-3 * steps)) < 0)


@pytest.mark.parametrize(("support", "soft"), [
    # Two rigid halves on a hinge: 48 k/(m L^3) pinned, 192 k/(m L^3) free (V-shape of zero mean).
    ("simply-supported", 48.0), ("free-free", 192.0),
])
def test_a_soft_joint_leaves_two_rigid_halves(support, soft):
    length, EI, mass, hinge = 2.0, 7.0, 3.0, 1e4
    alone = first_frequency(support, length, EI, 1e12, line_mass=mass, rotary=0.0)
    found = alone * jointed_share(support, length, EI, JointSprings(hinge, 1))
    exact = np.sqrt(soft / hinge / (mass * length**3)) / (2 * np.pi)
    assert found == pytest.approx(exact, rel=0.03)
