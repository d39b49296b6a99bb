"""Tables of solved problems, read so that no value leaves the range of its neighbors.

The solved grid of three coordinates is refined once by monotone cubics and then read linearly, so a
value lies between those of its neighbors, and a symmetric matrix read entry by entry keeps every
bound that its neighbors keep (their mean is a convex one). Outside the grid the coordinate is held
at the edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from gridshell.define.compiling import formula, where, whole
from gridshell.define.monotone import monotone_cubic
from gridshell.define.types import Array, Quantity


class Table(NamedTuple):
    """A refined table.

    Attributes:
        rows: (points, k), the k values at each point, the last coordinate fastest.
        grid: (3, 3), of each coordinate its lowest value, its step and the number of steps.
    """

    rows: Array
    grid: Array


def refined(
    axes: Sequence[Sequence[float] | Array], values: Array, counts: Sequence[int]
) -> Table:
    """Refine a solved table.

    Args:
        axes: the three coordinates of the solved grid, each rising.
        values: (n1, n2, n3, k), what was solved there.
        counts: points of the refined grid along each axis.
    """
    finer, grid = np.asarray(values, float), []
    for axis, (solved, count) in enumerate(zip(axes, counts, strict=True)):
        first, last = float(solved[0]), float(solved[-1])
        finer = np.moveaxis(monotone_cubic(
            np.asarray(solved), np.moveaxis(finer, axis, 0), np.linspace(first, last, count),
        ), 0, axis)
        grid.append((first, (last - first) / (count - 1), count - 1.0))
    return Table(np.ascontiguousarray(finer.reshape(-1, finer.shape[-1])), np.array(grid))


@formula
def _place(grid: Array, axis: int, x: Quantity) -> tuple[Quantity, Quantity]:
    """Steps to the point below a coordinate, and the share of the step beyond it."""
    steps = np.minimum(np.maximum((x - grid[axis, 0]) / grid[axis, 1], 0.0), grid[axis, 2])
    # What is no number stays none: its share is, wherever it is read.
    below = np.minimum(where(steps > 0, np.floor(steps), 0.0), grid[axis, 2] - 1)
    return below, steps - below


Place = tuple[Any, Any, Any, Quantity, Quantity, Quantity]
"""First row of a cell, rows to the next point along the first and second coordinate, and shares."""


@formula
def found_at(grid: Array, x: Quantity, y: Quantity, z: Quantity) -> Place:
    """Where three coordinates lie in a table."""
    a, u = _place(grid, 0, x)
    b, v = _place(grid, 1, y)
    c, w = _place(grid, 2, z)
    over = grid[2, 2] + 1
    across = over * (grid[1, 2] + 1)
    return whole(a * across + b * over + c), whole(across), whole(over), u, v, w


@formula
def _line(rows: Array, k: int, start: Any, w: Quantity) -> Quantity:
    near: Quantity = rows[start, k]
    far: Quantity = rows[start + 1, k]
    return near + (far - near) * w


@formula
def _face(rows: Array, k: int, start: Any, over: Any, v: Quantity, w: Quantity) -> Quantity:
    near = _line(rows, k, start, w)
    return near + (_line(rows, k, start + over, w) - near) * v


@formula
def value_at(rows: Array, k: int, place: Place) -> Quantity:
    """One of the values of a table, at a place from `found_at`."""
    start, across, over, u, v, w = place
    near = _face(rows, k, start, over, v, w)
    return near + (_face(rows, k, start + across, over, v, w) - near) * u
