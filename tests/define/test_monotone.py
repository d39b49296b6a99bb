"""Monotone cubics against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from gridshell.define.monotone import monotone_cubic


@pytest.mark.parametrize("count", [2, 3, 4, 7, 12])
@pytest.mark.parametrize("kind", ["rising", "level steps", "any"])
def test_monotone_cubics_are_those_of_scipy(count, kind):
    random = np.random.default_rng(count)
    for _ in range(20):
        points = np.cumsum(random.uniform(0.01, 2, count))
        values = random.normal(size=(count, 3, 2))
        if kind == "rising":
            values = np.sort(values, axis=0)
        elif kind == "level steps":
            values = np.rint(values)
        at = np.append(random.uniform(points[0], points[-1], (4, 9)).ravel(), points)
        np.testing.assert_allclose(
            monotone_cubic(points, values, at), PchipInterpolator(points, values)(at), atol=1e-13)


def test_values_at_any_shape_of_places():
    points, values = np.array([0.0, 1.0, 3.0]), np.array([1.0, 5.0, 6.0])
    at = np.array([[0.0, 0.5], [2.0, 3.0]])
    assert monotone_cubic(points, values, at).shape == (2, 2)
    assert monotone_cubic(points, values, 3.0) == 6.0
