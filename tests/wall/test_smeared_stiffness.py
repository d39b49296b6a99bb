"""The superposition of rib families against published closed forms.

Sources: NASA/SP-8007-2020/REV 2 (Buckling of Thin-Walled Circular Cylinders), Eq. 82-98;
NASA CR-124075 (Isogrid Design Handbook, rev. A, 1973), section 3, forms from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridshell.wall.stiffness.equivalent import equivalent_wall, neutral_bending
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness

ROOT3 = np.sqrt(3.0)
positive = st.floats(0.1, 10.0)


def _isogrid(modulus, poisson, skin, pitch, area, offset, inertia, torsion, turn=0.0):
    A, D = skin_stiffness(modulus, poisson, skin)
    B = np.zeros_like(A)
    shear = modulus / (2 * (1 + poisson))
    for angle in np.deg2rad([0.0, 60.0, -60.0]) + turn:
        added = family_stiffness(np.cos(angle), np.sin(angle), pitch, modulus * area, offset,
                                 modulus * inertia, shear * torsion)
        A, B, D = A + added[0], B + added[1], D + added[2]
    return A, B, D


def test_rings_and_stringers_are_eq_82_to_91():
    E, v, t = 70e9, 0.33, 2e-3
    G = E / (2 * (1 + v))
    As, bs, zs, Is, Js = 30e-6, 0.05, 6e-3, 9e-10, 4e-11
    Ar, br, zr, Ir, Jr = 45e-6, 0.12, -8e-3, 2e-9, 7e-11
    Er, Gr = 0.8 * E, 0.8 * G
    # As printed, Is and Ir about the centroid of the stiffener.
    Ex = E * t / (1 - v**2) + E * As / bs
    Ey = E * t / (1 - v**2) + Er * Ar / br
    Exy = v * E * t / (1 - v**2)
    Gxy = E * t / (2 * (1 + v))
    Dx = E * t**3 / (12 * (1 - v**2)) + E * Is / bs + zs**2 * E * As / bs
    Dy = E * t**3 / (12 * (1 - v**2)) + Er * Ir / br + zr**2 * Er * Ar / br
    Dxy = v * E * t**3 / (6 * (1 - v**2)) + E * t**3 / (6 * (1 + v)) + G * Js / bs + Gr * Jr / br
    Cx, Cy = zs * E * As / bs, zr * Er * Ar / br

    A, D = skin_stiffness(E, v, t)
    strings = family_stiffness(1.0, 0.0, bs, E * As, zs, E * Is, G * Js)
    rings = family_stiffness(0.0, 1.0, br, Er * Ar, zr, Er * Ir, Gr * Jr)
    A, B, D = A + strings[0] + rings[0], strings[1] + rings[1], D + strings[2] + rings[2]
    ours = [A[0, 0], A[1, 1], A[0, 1], A[2, 2], D[0, 0], D[1, 1], 2 * D[0, 1] + 4 * D[2, 2],
            B[0, 0], B[1, 1], B[0, 1], B[2, 2]]
    assert ours == pytest.approx([Ex, Ey, Exy, Gxy, Dx, Dy, Dxy, Cx, Cy, 0, 0], rel=1e-12,
                                 abs=1e-12)


def test_isogrid_is_eq_92_to_98():
    E, v, t, a = 70e9, 0.3, 1e-3, 0.06
    G = E / (2 * (1 + v))
    As, z, Is, Js = 12e-6, -5e-3, 6e-11, 2e-12
    about_skin = Is + z**2 * As  # the document's Is is about the reference surface
    plate = E * t**3 / (12 * (1 - v**2))
    Ex = E * t / (1 - v**2) + 3 * ROOT3 / 4 * E * As / a
    Exy = v * E * t / (1 - v**2) + ROOT3 / 4 * E * As / a
    Gxy = E * t / (2 * (1 + v)) + ROOT3 / 4 * E * As / a
    Cx, Cxy = z * 3 * ROOT3 / 4 * E * As / a, z * ROOT3 / 4 * E * As / a
    Dx = plate + 3 * ROOT3 / 4 * E * about_skin / a + ROOT3 / 4 * G * Js / a
    Dxy = (v * E * t**3 / (6 * (1 - v**2)) + E * t**3 / (6 * (1 + v))
           + 3 * ROOT3 / (2 * a) * E * about_skin + ROOT3 / (2 * a) * G * Js)
    A, B, D = _isogrid(E, v, t, a * ROOT3 / 2, As, z, Is, Js)
    ours = [A[0, 0], A[1, 1], A[0, 1], A[2, 2], B[0, 0], B[1, 1], B[0, 1], B[2, 2], D[0, 0],
            D[1, 1], 2 * D[0, 1] + 4 * D[2, 2]]
    assert ours == pytest.approx([Ex, Ex, Exy, Gxy, Cx, Cx, Cxy, Cxy, Dx, Dx, Dxy], rel=1e-12)


def _handbook(E, v, t, b, d, a):
    """Closed forms of the handbook for rectangular ribs of width b, depth d, length a."""
    h = a * ROOT3 / 2
    alpha, delta = b * d / (t * h), d / t
    beta = np.sqrt(3 * alpha * (1 + delta) ** 2 + (1 + alpha) * (1 + alpha * delta**2))
    K = E * t * (1 + alpha) / (1 - v**2)
    D = E * t**3 * beta**2 / (12 * (1 - v**2) * (1 + alpha))
    return alpha, K, D, t * beta / (1 + alpha), E * (1 + alpha) ** 2 / beta


@settings(deadline=None, max_examples=60)
@given(t=st.floats(0.3, 3.0), b=st.floats(0.2, 4.0), d=st.floats(0.5, 30.0), a=st.floats(10, 80))
def test_handbook_closed_forms_in_the_thin_rib_limit(t, b, d, a):
    # Poisson's ratio 1/3, ribs as bars without torsion: K, D, t*, E* to 1e-9.
    E, v = 10.0, 1 / 3
    _, K, D, thickness, modulus = _handbook(E, v, t, b, d, a)
    wall = _isogrid(E, v, t, a * ROOT3 / 2, b * d, -(t + d) / 2, b * d**3 / 12, 0.0)
    free = neutral_bending(*wall)
    found = equivalent_wall(wall[0], free)
    assert wall[0][0, 0] == pytest.approx(K, rel=1e-9)
    assert wall[0][0, 1] == pytest.approx(K / 3, rel=1e-9)
    assert free[0, 0] == pytest.approx(D, rel=1e-9)
    assert free[2, 2] == pytest.approx(D / 3, rel=1e-9)
    assert found.thickness == pytest.approx(thickness, rel=1e-9)
    assert found.modulus == pytest.approx(modulus, rel=1e-9)
    assert found.axial_thickness == pytest.approx(found.hoop_thickness, rel=1e-9)


@pytest.mark.parametrize("b, d, a", [(2.0, 5.0, 26.0), (1.2, 10.0, 40.0), (4.0, 8.0, 30.0)])
def test_rib_torsion_only_adds_a_bounded_share_to_the_handbook_bending(b, d, a):
    # The handbook leaves the ribs' torsion out. The general superposition adds
    # GJ/s (3/4)/2 per direction pair: at most J = d b^3/3, so the surplus is under
    # (G/E) (b/d)^2 of the ribs' own bending share: small, and never negative.
    E, v, t = 10.0, 1 / 3, 1.5
    _, _, D, _, _ = _handbook(E, v, t, b, d, a)
    pitch = a * ROOT3 / 2
    torsion = d * b**3 / 3
    wall = _isogrid(E, v, t, pitch, b * d, -(t + d) / 2, b * d**3 / 12, torsion)
    surplus = neutral_bending(*wall)[0, 0] - D
    shear = E / (2 * (1 + v))
    assert surplus == pytest.approx(3 / 8 * shear * torsion / pitch, rel=1e-9)
    # D11 gains (3/8) GJ/s against (9/8) E I/s of the ribs; J <= 4 (b/d)^2 I, G/E = 3/8 at v = 1/3.
    assert surplus < (3 / 8) * (4 * (b / d) ** 2) * 3 / 8 * E * b * d**3 / 12 / pitch * (1 + 1e-12)


@settings(deadline=None)
@given(turn=st.floats(0.0, np.pi), area=positive, offset=st.floats(-5, 5), inertia=positive,
       torsion=positive)
def test_turning_an_isogrid_changes_nothing(turn, area, offset, inertia, torsion):
    still = _isogrid(2.0, 0.3, 1.0, 5.0, area, offset, inertia, torsion)
    turned = _isogrid(2.0, 0.3, 1.0, 5.0, area, offset, inertia, torsion, turn)
    for one, other in zip(still, turned, strict=True):
        assert other == pytest.approx(one, abs=1e-12 * max(np.abs(one).max(), 1.0))


@settings(deadline=None)
@given(angle=st.floats(-1.6, 1.6), values=st.tuples(*[positive] * 5))
def test_two_families_of_half_density_equal_one(angle, values):
    pitch, axial, offset, bending, torsion = values
    c, s = np.cos(angle), np.sin(angle)
    once = family_stiffness(c, s, pitch, axial, offset, bending, torsion)
    half = family_stiffness(c, s, 2 * pitch, axial, offset, bending, torsion)
    for one, part in zip(once, half, strict=True):
        assert 2 * part == pytest.approx(one, rel=1e-13, abs=1e-300)


@settings(deadline=None)
@given(angle=st.floats(-1.6, 1.6), values=st.tuples(*[positive] * 5))
def test_mirror_in_the_skin_flips_only_the_coupling(angle, values):
    pitch, axial, offset, bending, torsion = values
    c, s = np.cos(angle), np.sin(angle)
    A, B, D = family_stiffness(c, s, pitch, axial, offset, bending, torsion)
    A2, B2, D2 = family_stiffness(c, s, pitch, axial, -offset, bending, torsion)
    assert np.array_equal(A, A2)
    assert np.array_equal(B, -B2)
    assert np.array_equal(D, D2)


@settings(deadline=None)
@given(angle=st.floats(-1.6, 1.6), turn=st.floats(-1.6, 1.6), values=st.tuples(*[positive] * 5))
def test_a_turned_family_is_the_turned_tensor(angle, turn, values):
    # Independent of the polynomial forms: rotate strains instead of the family.
    pitch, axial, offset, bending, torsion = values
    family = family_stiffness(np.cos(angle), np.sin(angle), pitch, axial, offset, bending, torsion)
    turned = family_stiffness(
        np.cos(angle + turn), np.sin(angle + turn), pitch, axial, offset, bending, torsion
    )
    c, s = np.cos(turn), np.sin(turn)
    # Engineering strain in axes turned by `turn` (Timoshenko and Goodier, Theory of Elasticity).
    T = np.array([[c * c, s * s, c * s], [s * s, c * c, -c * s],
                  [-2 * c * s, 2 * c * s, c * c - s * s]])
    for one, other in zip(family, turned, strict=True):
        assert other == pytest.approx(T.T @ one @ T, abs=1e-11 * max(np.abs(one).max(), 1e-9))


def test_a_laminate_of_thin_layers_gives_the_same_stack():
    # Classical lamination (sum over layers of Q dz, Q z dz, Q z^2 dz): skin plus a rib layer of
    # one family in the thin limit, integrated numerically.
    E, v, t, b, d, pitch, angle = 3.0, 0.25, 1.0, 0.8, 4.0, 11.0, 0.7
    c, s = np.cos(angle), np.sin(angle)
    pull = np.outer([c * c, s * s, c * s], [c * c, s * s, c * s])
    plane = E / (1 - v**2) * np.array([[1, v, 0], [v, 1, 0], [0, 0, (1 - v) / 2]])
    points, weights = np.polynomial.legendre.leggauss(4)
    stacked = np.zeros((3, 3, 3))
    for low, high, Q in ((-t / 2, t / 2, plane), (-t / 2 - d, -t / 2, E * b / pitch * pull)):
        for point, weight in zip(points, weights, strict=True):
            z = (low + high) / 2 + (high - low) / 2 * point
            for power in range(3):
                stacked[power] += weight * (high - low) / 2 * z**power * Q
    A, D = skin_stiffness(E, v, t)
    family = family_stiffness(c, s, pitch, E * b * d, -(t + d) / 2, E * b * d**3 / 12, 0.0)
    for ours, theirs in zip((A + family[0], family[1], D + family[2]), stacked, strict=True):
        assert ours == pytest.approx(theirs, abs=1e-12)


def test_plain_wall_is_its_own_equivalent():
    A, D = skin_stiffness(5.0, 0.3, 2.0)
    found = equivalent_wall(A, D)
    values = [found.thickness, found.modulus, found.poisson, found.axial_thickness,
              found.hoop_modulus]
    assert values == pytest.approx([2.0, 5.0, 0.3, 2.0, 5.0], rel=1e-13)


@settings(deadline=None, max_examples=50)
@given(seed=st.integers(0, 10**6), count=st.sampled_from([1, 4, 700]))
def test_free_bending_of_any_coupled_wall_is_linear_algebra(seed, count):
    """D - B A^-1 B by numpy, 16 and 26 included, for one wall and for compiled arrays."""
    part = np.random.default_rng(seed).normal(size=(count, 6, 6))
    law = part @ np.swapaxes(part, -1, -2) + np.eye(6)
    A, B, D = law[:, :3, :3], law[:, :3, 3:], law[:, 3:, 3:]
    B = (B + np.swapaxes(B, -1, -2)) / 2
    exact = D - B @ np.linalg.solve(A, B)
    found = neutral_bending(A, B, D)
    np.testing.assert_allclose(found, exact, rtol=1e-8, atol=1e-8 * np.abs(law).max())
