"""Plane polygons: whether a point lies inside."""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array


def contains(polygon: Array, point: Array) -> bool:
    """Whether a point lies inside a polygon, by counting crossings.

    Args:
        polygon: its corners, (k, 2).
        point: (2,).
    """
    a, b = polygon, np.roll(polygon, -1, axis=0)
    crosses = (a[:, 1] > point[1]) != (b[:, 1] > point[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        at = a[:, 0] + (point[1] - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return bool(np.count_nonzero(crosses & (at > point[0])) % 2)
