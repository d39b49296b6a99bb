"""The wave matrix against the energy of its strains, entry by entry."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.tube.buckling.wave_laws import condensed
from gridshell.tube.buckling.wave_stiffness import (
    DONNELL,
    LINE_ELEMENT,
    SANDERS,
    THEORIES,
    wave_stiffness,
)


def direct(A, B, D, R, theory, wave, n):
    """Energy matrix in (U, V, W) from the strains of each unit amplitude, then U taken out.

    Strains of u = U cos lx cos nt, v = V sin lx sin nt, w = W sin lx cos nt, as in the published
    theories: Donnell (NACA TR 479, 1933); Sanders (NASA TR R-24, 1959); line element: a straight
    normal of a cylinder, to first order in z/R.
    """
    y = n / R
    hoop = {"Donnell": (0.0, n**2), "Sanders": (n, n**2), "line-element": (0.0, n**2 - 1)}
    twist = {"Donnell": (0.0, 0.0), "Sanders": (1.5, 0.5), "line-element": (1.0, 1.0)}
    of_v, of_w = (value / R**2 for value in hoop[theory.name])
    with_v, with_u = twist[theory.name]
    U = [-wave, 0, -y, 0, 0, with_u * y / R]
    V = [0, y, wave, 0, of_v, with_v * wave / R]
    W = [0, 1 / R, 0, wave**2, of_w, 2 * wave * y]
    strains = np.array([U, V, W]).T
    K = strains.T @ np.block([[A, B], [B, D]]) @ strains
    return K[1:, 1:] - np.outer(K[1:, 0], K[0, 1:]) / K[0, 0]


@pytest.mark.parametrize("theory", THEORIES.values(), ids=lambda theory: theory.name)
@pytest.mark.parametrize("seed", range(6))
def test_condensed_matrix_is_the_energy_of_the_strains(theory, seed):
    random = np.random.default_rng(seed)
    # Any balanced positive law, thick enough on a small radius that every term counts.
    root = random.normal(size=(6, 6))
    law = root @ root.T + 0.5 * np.eye(6)
    law[[2, 2, 2, 2], [0, 1, 3, 4]] = law[[5, 5, 5, 5], [0, 1, 3, 4]] = 0.0
    law[[0, 1, 3, 4], 2] = law[[0, 1, 3, 4], 5] = 0.0
    A, B, D = law[:3, :3], law[:3, 3:], law[3:, 3:]
    B = (B + B.T) / 2
    R = 1.7
    waves = wave_stiffness(A, B, D, R, theory)
    for wave, n in ((0.3, 2), (1.0, 3), (2.5, 7), (4.0, 1)):
        k22, k23, k33, _ = condensed(waves, wave**2, (n / R) ** 2)
        expected = direct(A, B, D, R, theory, wave, n)
        ours = np.array([[k22, k23 * n / R], [k23 * n / R, k33]])
        np.testing.assert_allclose(ours, expected, rtol=1e-9, atol=1e-9 * np.abs(expected).max())


def test_the_tube_moved_as_a_whole_costs_nothing():
    # A rigid sideways move is n = 1 with wave -> 0, V = -W: no strain in a theory that is exact
    # for rigid bodies. Donnell's is not.
    A = np.array([[3.0, 1, 0], [1, 2.0, 0], [0, 0, 1]])
    D, B, R = 0.1 * A, 0.05 * A, 2.0
    energies = {}
    for theory in (LINE_ELEMENT, SANDERS, DONNELL):
        k22, k23, k33, _ = condensed(
            wave_stiffness(A, B, D, R, theory), 1e-14, 1 / R**2)
        energies[theory.name] = float(k22 - 2 * k23 / R + k33)
    assert abs(energies["line-element"]) < 1e-9
    assert abs(energies["Sanders"]) < 1e-9
    assert energies["Donnell"] > 1e-3
