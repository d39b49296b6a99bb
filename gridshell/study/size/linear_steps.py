"""Many small linear programs at once: the step of the local solver.

Each asks for the step d that lowers c.d while every linearized limit holds, inside a box. The dual
of such a program has as many rows as there are dimensions (five at most), so a dense simplex table
for the dual is small, and a stack of them is worked by the same array operations. General solvers
take one program a call, which costs more than the mechanics of the designs it is for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array

_TOLERANCE = 1e-11
_SMALLEST_PIVOT = 1e-9
_MOST_PIVOTS = 300
_PATIENCE = 60  # pivots by steepest price before the rule that cannot cycle takes over


@dataclass(frozen=True)
class LinearSteps:
    """Answers of a stack of programs.

    Attributes:
        step: (B, n).
        shortfall: (B,) by how much the worst limit stays unmet.
        multipliers: (B, m) price of each limit: cost per unit of its floor.
    """

    step: Array
    shortfall: Array
    multipliers: Array


def linear_steps(
    cost: Array, rows: Array, floor: Array, low: Array, high: Array, penalty: float
) -> LinearSteps:
    """Lowest cost.d + penalty s with rows d + s >= floor, low <= d <= high, s >= 0.

    Solved through the dual, max floor.p - width.q with rows' p - q <= cost, sum p <= penalty
    (textbook duality and simplex method, Dantzig's rule with Bland's against cycling; held to
    scipy's linear solver in the tests).

    Args:
        cost: (B, n).
        rows: (B, m, n).
        floor: (B, m).
        low: (B, n).
        high: (B, n).
        penalty: price of the shortfall; must exceed any sum of multipliers that is to be allowed.
    """
    count, many, dims = rows.shape
    # Measure each dimension from the end of its box where the cost is lowest: then the dual's right
    # side is not negative, and its slacks are a first basis.
    flip = cost < 0
    sign = np.where(flip, -1.0, 1.0)
    origin = np.where(flip, high, low)
    turned = rows * sign[:, None, :]
    need = floor - np.einsum("bmn,bn->bm", rows, origin)
    width = high - low

    columns = many + dims + dims + 1
    table = np.zeros((count, dims + 2, columns + 1))
    table[:, :dims, :many] = np.swapaxes(turned, 1, 2)
    table[:, dims, :many] = 1.0
    grid = np.arange(dims)
    table[:, grid, many + grid] = -1.0
    rank = np.arange(dims + 1)
    table[:, rank, many + dims + rank] = 1.0
    table[:, :dims, -1] = np.abs(cost)
    table[:, dims, -1] = penalty
    table[:, -1, :many] = -need
    table[:, -1, many:many + dims] = width
    basis = np.tile(many + dims + rank, (count, 1))

    active = np.arange(count)
    for pivot in range(_MOST_PIVOTS):
        price = table[active, -1, :-1]
        enters = price < -_TOLERANCE
        active = active[enters.any(axis=1)]
        if not active.size:
            break
        price = table[active, -1, :-1]
        if pivot < _PATIENCE:
            entering = np.argmin(price, axis=1)
        else:
            entering = np.argmax(price < -_TOLERANCE, axis=1)
        part = table[active]
        here = np.arange(active.size)
        column = part[here, :-1, entering]
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(column > _SMALLEST_PIVOT, part[:, :-1, -1] / column, np.inf)
        best = ratio.min(axis=1, keepdims=True)
        # Rounding may leave a program no pivot worth the name; it is as good as solved.
        stuck = ~np.isfinite(best[:, 0])
        if stuck.any():
            table[active[stuck], -1, entering[stuck]] = 0.0
            active = active[~stuck]
            continue
        # Among equal ratios the lowest basic column leaves (Bland).
        tied = ratio <= best * (1 + 1e-12)
        leaving = np.argmin(np.where(tied, basis[active], np.iinfo(int).max), axis=1)
        row = part[here, leaving] / column[here, leaving][:, None]
        part = part - part[here, :, entering][:, :, None] * row[:, None, :]
        part[here, leaving] = row
        table[active] = part
        basis[active, leaving] = entering

    values = table[:, -1, many + dims:-1]
    step = origin + sign * np.clip(values[:, :dims], 0.0, width)
    multipliers = np.zeros((count, columns))
    np.put_along_axis(multipliers, basis, table[:, :-1, -1], axis=1)
    return LinearSteps(step, np.maximum(values[:, dims], 0.0), multipliers[:, :many])
