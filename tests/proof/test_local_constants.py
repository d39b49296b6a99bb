"""The closed forms for held pockets and ribs against the plate eigenproblem they were fitted to."""

from __future__ import annotations

import math

import pytest
from plate_constants import rib_constant, triangle_constant

from gridshell.proof.plates.pocket import Edge
from gridshell.tube.buckling.local import flange, held_triangle_stress, pair_stress


@pytest.mark.parametrize("twist", [0.0, 0.2, 1.0, 5.0])
def test_triangle_held_by_its_ribs(twist: float) -> None:
    plate = triangle_constant(1 / 3, Edge(twist=twist))
    # x = (G J/2)/(D h) = 3 (1 - v) J/(t^3 h): J for t = h = 1
    torsion = twist / (3 * (1 - 1 / 3))
    closed = float(held_triangle_stress(1.0, 1 / 3, 1.0, 1.0, torsion))
    assert 0.97 < closed / plate < 1.005


@pytest.mark.parametrize("slender", [2.0, 4.0, 6.0])
@pytest.mark.parametrize("spring", [0.1, 0.5, 2.0, 8.0])
@pytest.mark.parametrize("poisson", [1 / 3, 0.45])
def test_rib_held_by_the_skin(slender: float, spring: float, poisson: float) -> None:
    plate = rib_constant(slender, poisson, Edge(spring=spring), degree=11)
    # s = k d/D, k the spring of the foot; here E = b = d = 1.
    foot = (math.inf, math.inf, spring / (12 * (1 - poisson**2)))
    closed = min(
        float(pair_stress(foot, flange(1.0, poisson, 1.0, 1.0, slender / m))) for m in range(1, 9))
    assert 0.90 < closed / plate < 1.05
