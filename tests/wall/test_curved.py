"""Rib families at their own radius: exact for rings and stringers, flat in the limit."""

from __future__ import annotations

import numpy as np
import pytest

from gridshell.wall.assess import assess_wall
from gridshell.wall.stiffness.smeared import family_entries, family_stiffness, symmetric


def test_a_ring_at_its_own_radius() -> None:
    # Ring of radius R + z: hoop strain at z is e + z k/(1 + z/R), its length (1 + z/R) times that
    # of the reference circle; plane geometry, so A22 g, B22 unchanged, D22/g (own inertia aside).
    growth, offset = 0.9, -0.1
    A, B, D = (symmetric(part) for part in family_entries(
        0.0, 1.0, 2.0, 6.0, offset, 0.0, 0.0, np.float64(growth)))
    flat = family_stiffness(0.0, 1.0, 2.0, 6.0, offset, 0.0, 0.0)
    assert A[1, 1] == pytest.approx(growth * flat[0][1, 1])
    assert B[1, 1] == pytest.approx(flat[1][1, 1])
    assert D[1, 1] == pytest.approx(flat[2][1, 1] / growth)


def test_own_inertia_of_a_ring() -> None:
    # d/dz of e + z k/(1 + z/R) is k/g^2, on a length g: the ring's own E I counts 1/g^3.
    growth = 0.9
    _, _, D = (symmetric(part) for part in family_entries(
        0.0, 1.0, 2.0, 6.0, 0.0, 4.0, 0.0, np.float64(growth)))
    assert D[1, 1] == pytest.approx(4.0 / 2.0 / growth**3)


def test_a_stringer_does_not_change() -> None:
    curved = family_entries(1.0, 0.0, 2.0, 6.0, -0.1, 0.5, 0.3, np.float64(0.9))
    flat = family_entries(1.0, 0.0, 2.0, 6.0, -0.1, 0.5, 0.3)
    for bent, straight in zip(curved, flat, strict=True):
        np.testing.assert_allclose(symmetric(bent), symmetric(straight))


@pytest.mark.parametrize("pattern", ["isogrid", "orthogrid", "diagonal"])
def test_flat_in_the_limit_of_a_wide_tube(make_design, make_properties, pattern: str) -> None:
    gaps = []
    for diameter in (0.1, 1.0, 10.0):
        design = make_design(pattern, tube__outside_diameter=diameter)
        built = assess_wall(design, make_properties())
        gaps.append(max(
            float(np.abs(curved - flat).max() / np.abs(flat).max())
            for curved, flat in zip(built.curved, (built.A, built.B, built.D), strict=True)
        ))
    assert gaps[0] > 5 * gaps[1] > 25 * gaps[2]


def test_the_handbook_formula_stays_flat(make_design, make_properties) -> None:
    built = assess_wall(make_design("isogrid", ribs__formula="thin"), make_properties())
    assert built.curved[0] is built.A
