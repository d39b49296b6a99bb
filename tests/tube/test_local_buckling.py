"""Skin pockets and ribs as plates, against published coefficients and eigenproblems.

Sources: Timoshenko and Gere, Theory of Elastic Stability, chapter 9 (plates); NASA CR-124075,
Isogrid Design Handbook, 4.2 (constants 10.2 and 0.616; forms from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import legendre
from scipy.linalg import eigh

from gridshell.tube.buckling.local import (
    rectangle_ratio,
    rib_stress,
    strip_ratio,
    triangle_ratio,
    triangle_stress,
)

E, V, T = 1.0, 0.3, 0.01
BEND = E * T**3 / (12 * (1 - V**2))


def plate_eigenvalue(length, width, nx, ny, nxy, terms=12):
    """Load factor of a simply supported plate by a double sine series (Ritz); compression > 0."""
    m = np.arange(1, terms + 1)
    pairs = np.array([(i, j) for i in m for j in m])
    x, y = (pairs * np.pi / [length, width]).T
    K = np.diag(BEND * (x**2 + y**2) ** 2 * length * width / 4)
    G = np.diag((nx * x**2 + ny * y**2) * length * width / 4)

    def mixed(p, q, span):  # integral of cos(p) sin(q) over the span
        odd = (p + q) % 2 == 1
        gap = np.where(odd, q**2 - p**2, 1)
        return np.where(odd, 2 * q * span / (np.pi * gap), 0.0)

    p, q = pairs[:, None], pairs[None, :]
    # 2 nxy w,x w,y = nxy times the symmetric part of cos sin sin cos
    one = (p[..., 0] * np.pi / length) * (q[..., 1] * np.pi / width) * mixed(
        p[..., 0], q[..., 0], length) * mixed(q[..., 1], p[..., 1], width)
    G = G + nxy * (one + one.T)
    return 1 / np.max(eigh(G, K, eigvals_only=True))


@pytest.mark.parametrize("aspect", [0.15, 0.4, 0.75, 1.0, 1.41, 2.0, 3.3, 6.0, 9.5])
@pytest.mark.parametrize("loads", [(1, 0), (0, 1), (1, 1), (1, 0.3), (0.2, 1)])
def test_rectangles_in_biaxial_compression(aspect, loads):
    width = 0.5
    length = aspect * width
    stress = -np.array([*loads, 0.0]) * 1e-4
    factor = plate_eigenvalue(length, width, loads[0] * 1e-4 * T, loads[1] * 1e-4 * T, 0.0)
    use = float(rectangle_ratio(stress, E, V, T, length, width))
    assert use == pytest.approx(1 / factor, rel=1e-9)


def test_square_plate_coefficients():
    # k = 4 (one way), 2 (both ways), 9.34 (shear): Timoshenko and Gere, 9.2, 9.3, 9.7.
    unit = np.pi**2 * BEND / (T * 0.5**2)
    for stress, k in (((-1, 0, 0), 4.0), ((-1, -1, 0), 2.0), ((0, 0, 1), 9.34)):
        use = float(rectangle_ratio(np.array(stress, float), E, V, T, 0.5, 0.5))
        assert 1 / use == pytest.approx(k * unit, rel=1e-9)


@pytest.mark.parametrize("aspect", [1.0, 1.5, 2.0, 3.0])
@pytest.mark.parametrize("shear", [0.0, 0.5, 1.5, 50.0])
def test_rectangles_in_compression_and_shear(aspect, shear):
    # Rc + Rs^2 = 1 is a trade rule; against the series 3 % on the unsafe side, 8 % on the safe.
    length, width = aspect * 0.5, 0.5
    stress = np.array([-1e-4, 0.0, shear * 1e-4])
    factor = plate_eigenvalue(length, width, 1e-4 * T, 0.0, shear * 1e-4 * T)
    use = float(rectangle_ratio(stress, E, V, T, length, width))
    assert 0.97 < use * factor < 1.08


def test_tension_is_not_credited():
    assert float(rectangle_ratio(np.array([1.0, 2.0, 0.0]), E, V, T, 1.0, 1.0)) == 0.0
    assert float(triangle_ratio(np.array([1.0, 2.0, 0.0]), 1.0)) == 0.0
    pulled = float(rectangle_ratio(np.array([-1.0, 5.0, 0.0]), E, V, T, 1.0, 1.0))
    assert pulled == float(rectangle_ratio(np.array([-1.0, 0.0, 0.0]), E, V, T, 1.0, 1.0))


# --- triangles ----------------------------------------------------------------------------------


def triangle_eigenvalue(nx, ny, degree=9):
    """Load factor of a simply supported equilateral triangle of height 1, by Ritz.

    Deflection: product of the three sides' distances times polynomials.
    """
    side = 2 / np.sqrt(3)
    # Quadrature on the triangle through the square (Duffy).
    g, w = legendre.leggauss(24)
    a, b = np.meshgrid((g + 1) / 2, (g + 1) / 2, indexing="ij")
    weight = np.outer(w, w) / 4 * side * (1 - b)
    x, y = side * (a * (1 - b) + b / 2), b
    sides = [(0.0, 1.0, 0.0), (np.sqrt(3) / 2, -0.5, 0.0), (-np.sqrt(3) / 2, -0.5, 1.0)]
    dist = [c0 * x + c1 * y + c2 for c0, c1, c2 in sides]
    # Powers of the three distances (all at least one) with derivatives by the product rule.
    found = []
    for total in range(degree - 2):
        for i in range(total + 1):
            powers = (1 + i, 1 + total - i, 1)
            value = np.ones_like(x)
            for d, p in zip(dist, powers, strict=True):
                value = value * d**p
            first, second = [], []
            for u in range(2):
                first.append(sum(
                    p * sides[k][u] * value / dist[k] for k, p in enumerate(powers)))
            for u, v in ((0, 0), (1, 1), (0, 1)):
                total_ = np.zeros_like(x)
                for k, p in enumerate(powers):
                    for j, q in enumerate(powers):
                        factor = p * q if k != j else p * (p - 1)
                        total_ += factor * sides[k][u] * sides[j][v] * value / (
                            dist[k] * dist[j])
                second.append(total_)
            found.append((first, second))
    size = len(found)
    K, G = np.zeros((size, size)), np.zeros((size, size))
    for i, (f1, s1) in enumerate(found):
        for j, (f2, s2) in enumerate(found):
            curvature = ((s1[0] + s1[1]) * (s2[0] + s2[1]) - (1 - V) * (
                s1[0] * s2[1] + s1[1] * s2[0] - 2 * s1[2] * s2[2]))
            K[i, j] = BEND * np.sum(weight * curvature)
            G[i, j] = np.sum(weight * (nx * f1[0] * f2[0] + ny * f1[1] * f2[1]))
    return 1 / np.max(eigh(G, K, eigvals_only=True))


def test_triangle_series_and_the_handbook_constant():
    # Simply supported, equal compression all round: N = 4 pi^2 D/h^2 (membrane analogy; Timoshenko
    # and Woinowsky-Krieger, Theory of Plates and Shells, section on triangular plates).
    unit = np.pi**2 * BEND
    assert triangle_eigenvalue(1.0, 1.0) == pytest.approx(4 * unit, rel=1e-3)
    one_way = [triangle_eigenvalue(1.0, 0.0), triangle_eigenvalue(0.0, 1.0)]
    # One way, either way: the sum rule of `triangle_ratio` (2 x 4) is an upper bound of these.
    assert one_way == pytest.approx([7.4 * unit] * 2, rel=0.09)
    # The handbook's 10.2 E (t/h)^2 (v = 1/3) stands for edges that ribs hold: it is a third above
    # the simply supported triangle, never below.
    handbook = float(triangle_stress(E, V, T, 1.0)) * T
    assert 1.25 < handbook / np.mean(one_way) < 1.55


def test_triangle_constant_scales_as_a_plate():
    # 10.2 E (t/h)^2 at v = 1/3; with the plate factor for other ratios.
    assert float(triangle_stress(2.0, 1 / 3, 1.0, 10.0)) == pytest.approx(10.2 * 2.0 / 100)
    assert float(triangle_stress(2.0, 0.0, 1.0, 10.0)) == pytest.approx(10.2 * 2.0 / 100 * 8 / 9)
    use = triangle_ratio(np.array([-3.0, -2.0, 0.0]), 10.0)
    assert float(use) == pytest.approx(0.5)
    # Pure shear: one principal compression.
    assert float(triangle_ratio(np.array([0.0, 0.0, 4.0]), 10.0)) == pytest.approx(0.4)


def test_rib_constant_lies_between_the_simple_and_the_clamped_edge():
    # Flange with one free edge: k = 0.425 simply supported, 1.277 clamped (Timoshenko and Gere,
    # 9.6, long plate, v = 0.25 to 0.3); the handbook's 0.616 E (b/d)^2 is k = 0.67.
    stress = float(rib_stress(1.0, 1 / 3, 1.0, 10.0))
    assert stress == pytest.approx(0.616 / 100)
    k = stress * 100 * 12 * (1 - 1 / 9) / np.pi**2
    assert 0.425 < k < 1.277


def test_strip():
    # Compression along a long strip k = 4, across it k = 1 (Timoshenko and Gere, 9.2, 9.3).
    unit = np.pi**2 * BEND / (T * 0.5**2)
    assert float(strip_ratio(np.array([-4 * unit, 0, 0]), E, V, T, 0.5)) == pytest.approx(1.0)
    both = strip_ratio(np.array([-unit, -unit, 0]), E, V, T, 0.5)
    assert float(both) == pytest.approx(1.25)
    assert float(strip_ratio(np.array([unit, 0, 0]), E, V, T, 0.5)) == 0.0


def test_arrays(random_walls):
    random = np.random.default_rng(0)
    stress = random.normal(size=(50, 3))
    length, width = random.uniform(0.3, 3, 50), random.uniform(0.3, 3, 50)
    together = rectangle_ratio(stress, E, V, T, length, width)
    alone = [float(rectangle_ratio(stress[i], E, V, T, length[i], width[i])) for i in range(50)]
    np.testing.assert_allclose(together, alone, rtol=1e-13)
