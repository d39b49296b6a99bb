"""Buckling loads against an eigenproblem that shares no code and fewer assumptions.

The reference solves u, v, w as polynomials along the tube and one harmonic round it, with strains
taken point by point through skin and ribs at their own radius (no smeared A, B, D, no expansion in
z/R), plane stress in the skin, uniaxial stress in ribs without torsion. Loads work through the
Green strain (Novozhilov, Foundations of the Nonlinear Theory of Elasticity); pressure follows the
wall: its potential is p times the enclosed volume. Ends stay round and are free to move along.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest
from numpy.polynomial import legendre
from scipy.linalg import eigh

from gridshell.tube.buckling.wave_stiffness import DONNELL, LINE_ELEMENT, SANDERS, wave_stiffness
from gridshell.tube.buckling.waves import lowest_two_helices, lowest_wave
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness

DEGREE = 26


@functools.lru_cache
def _basis(degree):
    """Legendre polynomials and derivatives at Gauss points on -1..1; and the clamped-zero ones."""
    points, weights = legendre.leggauss(degree + 4)
    free = np.eye(degree + 1)
    # P_k+2 - P_k vanishes at both ends.
    held = np.array([np.eye(degree + 3)[k + 2] - np.eye(degree + 3)[k] for k in range(degree - 1)])

    def at(polynomials, order):
        return np.array([
            legendre.legval(points, legendre.legder(c, order) if order else c)
            for c in polynomials
        ])

    return weights, [at(free, k) for k in range(2)], [at(held, k) for k in range(3)]


def ritz(load, n, radius, length, modulus, poisson, skin, strings=None, rings=None,
         degree=DEGREE):
    """Lowest load with n waves round: N/m of compression or torsion, or pressure in Pa.

    Args:
        strings, rings: (area, height, pitch, side) of rectangular ribs, or None.
    """
    weights, u, w = _basis(degree)
    half = length / 2
    sizes = [len(u[0]), len(w[0]), len(w[0])]
    ends = np.cumsum([0, *sizes])

    def row(du=None, dv=None, dw=None):
        """Values (unknowns, points) of one strain, from factors on the shapes of u, v, w."""
        parts = [np.zeros((size, len(weights)), complex) for size in sizes]
        for part, given in zip(parts, (du, dv, dw), strict=True):
            if given is not None:
                part += given
        return np.concatenate(parts)

    i = 1j * n
    ux, wx, wxx = u[1] / half, w[1] / half, w[2] / half**2

    def axial(z):
        return row(ux, None, -z * wxx)

    def hoop(z):
        turned = radius + z
        return row(None, i * w[0] * (1 + z / radius) / turned,
                   (w[0] - z * i * i * w[0] / radius) / turned)

    def shear(z):
        return row(i * u[0] / (radius + z), wx * (1 + z / radius),
                   -z * i * wx / (radius + z) - z * i * wx / radius)

    def product(one, other):
        return (one.conj() * weights * half) @ other.T

    stiffness = np.zeros((ends[-1], ends[-1]), complex)
    plane = modulus / (1 - poisson**2)
    points, shares = legendre.leggauss(4)
    for point, share in zip(points, shares, strict=True):
        z = skin / 2 * point
        area = share * skin / 2 * (1 + z / radius)
        ex, ey, g = axial(z), hoop(z), shear(z)
        cross = product(ex, ey)
        stiffness += area * plane * (
            product(ex, ex) + product(ey, ey) + poisson * (cross + cross.conj().T)
            + (1 - poisson) / 2 * product(g, g)
        )
        for ribs, strain, around in ((strings, axial, False), (rings, hoop, True)):
            if ribs is not None:
                rib_area, height, pitch, side = ribs
                z = side * (skin / 2 + height * (point + 1) / 2)
                # Rings are longer the further out they are; strings are as many at any radius.
                turned = 1 + z / radius if around else 1.0
                e = strain(z)
                stiffness += modulus * rib_area / pitch * share / 2 * turned * product(e, e)

    u_, v_, w_ = row(u[0]), row(None, w[0]), row(None, None, w[0])
    dv, dw = row(None, wx), row(None, None, wx)
    # Axial stress is even before buckling: every layer works with its own force on its own slopes.
    du = row(ux)
    along = product(dw, dw) + product(du, du) * (n > 0)
    layers = [(area_of, skin / 2 * point) for point, area_of in zip(
        points, shares * skin / 2 * plane * (1 - poisson**2 * _held(rings, skin, poisson)),
        strict=True)]
    if strings is not None:
        rib_area, height, pitch, side = strings
        layers += [(rib_area / pitch * share / 2 * modulus,
                    side * (skin / 2 + height * (point + 1) / 2))
                   for point, share in zip(points, shares, strict=True)]
    total = sum(force for force, _ in layers)
    for force, z in layers:
        moved = row(None, wx * (1 + z / radius), -z * i * wx / radius)
        along = along + force / total * product(moved, moved)
    if load == "compression":
        work = along
    elif load == "torsion":
        # 2 N (v,x (v,y + w/R) + w,x (w,y - v/R))
        one = product(dv, (i * v_ + w_) / radius) + product(dw, (i * w_ - v_) / radius)
        work = one + one.conj().T
    else:
        # N = -p R on the Green strain, less p on the change of volume of second order.
        cross = product(w_, i * v_)
        work = (product(i * w_, i * w_) + product(i * v_, i * v_) + product(i * u_, i * u_)
                + cross + cross.conj().T) / radius
        if load == "hydrostatic":
            work = work + along * radius / 2
    kept = slice(1 if n == 0 else 0, None)  # without waves the tube may slide along
    ratio = eigh(work[kept, kept], stiffness[kept, kept], eigvals_only=True)[-1]
    return 1 / ratio


def _held(rings, skin, poisson):
    """Skin stiffness between free (1) and held (0) round the tube, by the rings on it."""
    if rings is None:
        return 1.0
    free = skin / (1 - poisson**2)
    return free / (free + rings[0] / rings[2])


def _smeared(modulus, poisson, skin, strings=None, rings=None):
    A, D = skin_stiffness(modulus, poisson, skin)
    B = np.zeros_like(A)
    for ribs, c, s in ((strings, 1.0, 0.0), (rings, 0.0, 1.0)):
        if ribs is not None:
            area, height, pitch, side = ribs
            added = family_stiffness(c, s, pitch, modulus * area, side * (skin + height) / 2,
                                     modulus * area * height**2 / 12, 0.0)
            A, B, D = A + added[0], B + added[1], D + added[2]
    return A, B, D


def ours(load, radius, length, *wall, theory=LINE_ELEMENT):
    law = wave_stiffness(*_smeared(*wall), radius, theory)
    if load == "two helices":
        return lowest_two_helices(law, length)
    return lowest_wave(load, law, length)


def reference(load, wave, length, wall, *more):
    """Lowest over the wave found, its neighbors, and more."""
    around = {*range(max(2, int(wave.n) - 1), int(wave.n) + 2), *more}
    return min(ritz(load, n, 1.0, length, *wall) for n in around)


# modulus 1, so loads are shares of E. Strings and rings: area, height, pitch, side.
IN, OUT = -1.0, 1.0
WALLS = {
    "plain": (1.0, 0.3, 0.01),
    "strings inside": (1.0, 0.3, 0.004, (0.01 * 0.03, 0.03, 0.10, IN), None),
    "strings outside": (1.0, 0.3, 0.004, (0.01 * 0.03, 0.03, 0.10, OUT), None),
    "rings inside": (1.0, 0.3, 0.004, None, (0.008 * 0.024, 0.024, 0.08, IN)),
    "rings outside": (1.0, 0.3, 0.004, None, (0.008 * 0.024, 0.024, 0.08, OUT)),
    "grid inside": (1.0, 0.33, 0.003, (0.005 * 0.02, 0.02, 0.07, IN),
                    (0.005 * 0.02, 0.02, 0.09, IN)),
    "grid outside": (1.0, 0.33, 0.003, (0.005 * 0.02, 0.02, 0.07, OUT),
                     (0.005 * 0.02, 0.02, 0.09, OUT)),
}
# Rings stand at R + z: the smeared method leaves z/R out, 1.4 % here, twice that under pressure
# (above the truth with rings outside, below it inside).
PERCENT = {"plain": 0.03, "strings inside": 0.03, "strings outside": 0.03}


@pytest.mark.parametrize("name, length", [
    *[(name, length) for name in ("plain", "strings inside", "strings outside", "grid outside")
      for length in (1.0, 3.0, 8.0)],
    ("rings inside", 1.0), ("rings outside", 1.0), ("grid inside", 1.0), ("grid inside", 3.0),
])
def test_compression(name, length):
    wave = ours("compression", 1.0, length, *WALLS[name])
    assert wave.m <= 10  # else the polynomials are too few
    expected = reference("compression", wave, length, WALLS[name], 0)
    assert float(wave.load) == pytest.approx(expected, rel=PERCENT.get(name, 1.5) / 100)


@pytest.mark.parametrize("load", ["lateral", "hydrostatic"])
@pytest.mark.parametrize("length", [1.0, 3.0, 8.0, 20.0])
@pytest.mark.parametrize("name", WALLS)
def test_pressure(name, length, load):
    # Leaving out the work on axial slope of the generators (n^2 U^2) costs up to 0.2 %.
    wave = ours(load, 1.0, length, *WALLS[name])
    expected = reference(load, wave, length, WALLS[name])
    assert float(wave.load) == pytest.approx(expected, rel=(PERCENT.get(name, 2.8) + 0.25) / 100)


@pytest.mark.parametrize("length", [1.0, 3.0, 8.0, 20.0])
@pytest.mark.parametrize("name", WALLS)
def test_torsion_of_two_helical_waves_is_within_twelve_per_cent(name, length):
    # Two waves that cancel at the ends are an upper bound: 2 to 8 % above for plain walls and
    # grids, up to 11 % for deep outside strings on a short tube.
    wave = ours("two helices", 1.0, length, *WALLS[name])
    if wave.m > 10:  # rings alone: short waves that neither end feels, no error of the ends
        length, wave = 1.0, ours("two helices", 1.0, 1.0, *WALLS[name])
    expected = reference("torsion", wave, length, WALLS[name], int(wave.n) - 2)
    assert -0.03 < float(wave.load) / expected - 1 < 0.12


@pytest.mark.parametrize("length", [0.6, 1.0, 3.0, 8.0, 20.0])
@pytest.mark.parametrize("name", WALLS)
def test_torsion_between_ends(name, length):
    wave = ours("two helices", 1.0, length, *WALLS[name])
    if wave.m > 10:
        return
    found = ours("torsion", 1.0, length, *WALLS[name])
    expected = reference("torsion", found, length, WALLS[name], max(2, int(found.n) - 2))
    assert float(found.load) == pytest.approx(expected, rel=PERCENT.get(name, 2.0) / 100 + 1e-3)
    # The helices do not quite hold v at the ends, so that they can come out lower by a little.
    assert float(found.load) <= float(wave.load) * 1.01


@pytest.mark.parametrize("theory, most", [(SANDERS, 0.003), (DONNELL, 0.5)])
def test_difference_between_shell_theories(theory, most):
    # Donnell-type equations are off below four waves round (NASA/SP-8007-2020/REV 2, 4.1.2.1:
    # 10 to 40 %), always on the unsafe side here; Sanders' are not (0.24 %: work on stretch).
    worst = 0.0
    for length in (1.0, 3.0, 8.0, 12.0):
        wave = ours("compression", 1.0, length, *WALLS["plain"], theory=theory)
        expected = reference("compression", wave, length, WALLS["plain"], 2)
        worst = max(worst, abs(float(wave.load) / expected - 1))
        if theory is DONNELL:
            assert float(wave.load) > expected
    assert worst < most
    if theory is DONNELL:
        assert worst > 0.3
