"""The local solver and its linear programs against general solvers and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog, minimize

from gridshell.study.size.linear_steps import linear_steps
from gridshell.study.size.local_solver import descend


def test_linear_programs_against_scipy():
    """Every step, shortfall and price equals that of scipy's HiGHS solver."""
    rng = np.random.default_rng(1)
    count, many, dims, penalty = 25, 30, 5, 40.0
    cost, rows = rng.normal(size=(count, dims)), rng.normal(size=(count, many, dims))
    floor = rng.normal(size=(count, many)) - 0.8
    low, high = -rng.uniform(0, 0.5, (count, dims)), rng.uniform(0, 0.5, (count, dims))
    low[:, 4] = high[:, 4] = 0.0  # a dimension that is held
    cost[0] = 0.0
    found = linear_steps(cost, rows, floor, low, high, penalty)
    short = 0
    for k in range(count):
        known = linprog(
            np.r_[cost[k], penalty], A_ub=-np.c_[rows[k], np.ones(many)], b_ub=-floor[k],
            bounds=[*zip(low[k], high[k], strict=True), (0, None)],
        )
        value = cost[k] @ found.step[k] + penalty * found.shortfall[k]
        assert value == pytest.approx(known.fun, abs=1e-8)
        assert (rows[k] @ found.step[k] + found.shortfall[k] >= floor[k] - 1e-9).all()
        assert (found.step[k] >= low[k] - 1e-12).all() and (found.step[k] <= high[k] + 1e-12).all()
        np.testing.assert_allclose(found.multipliers[k], -known.ineqlin.marginals, atol=1e-6)
        short += found.shortfall[k] > 1e-9
    assert 0 < short < count  # both kinds were tried


def test_tubular_column_has_its_closed_form():
    """Lightest thin tube that neither buckles as a column nor wrinkles.

    Both limits are met at once at the optimum (the rule of simultaneous failure for a column;
    textbook optimum, e.g. Timoshenko and Gere, Theory of Elastic Stability, for the two loads):
    P = pi^3 E D^3 t/(8 L^2) and P = pi D t * 2 c E t/D. From the two, t = sqrt(P/(2 pi c E)) and
    D^3 = 8 P L^2/(pi^3 E t).
    """
    load, length, modulus, c = 5e3, 1.5, 7e10, 0.2

    def look(points, owner):
        diameter, t = np.exp(points.T)
        column = np.pi**3 * modulus * diameter**3 * t / (8 * length**2)
        wall = 2 * np.pi * c * modulus * t**2
        return np.log(np.pi * diameter * t), np.log(np.stack([column, wall], axis=-1) / load)

    start = np.log(np.array([[0.3, 0.01], [0.02, 0.0005], [0.1, 0.02]]))
    found = descend(look, start, np.log(1e-4), np.log(2.0))
    t = np.sqrt(load / (2 * np.pi * c * modulus))
    diameter = (8 * load * length**2 / (np.pi**3 * modulus * t)) ** (1 / 3)
    np.testing.assert_allclose(np.exp(found.points), np.tile([diameter, t], (3, 1)), rtol=1e-6)
    # Prices: ln area = (1/3) ln column + (1/3) ln wall + const, by the two formulas above.
    np.testing.assert_allclose(found.multipliers, 1 / 3, rtol=1e-4)


def test_smooth_optimum_without_a_corner_matches_slsqp():
    """Fewer active limits than dimensions: the optimum is not a corner of linear programs."""

    def aim(x):
        return x[..., 0] + 2 * x[..., 1] + 0.5 * x[..., 2]

    def slack(x):
        return np.stack([
            1.0 - (x[..., 0] - 0.3) ** 2 - 2 * x[..., 1] ** 2 - (x[..., 2] + 0.1) ** 2
            - 0.5 * x[..., 0] * x[..., 1],
            x[..., 2] + 2.0,
        ], axis=-1)

    found = descend(lambda x, owner: (aim(x), slack(x)), np.zeros((1, 3)), -3.0, 3.0, limit=200)
    known = minimize(aim, np.zeros(3), method="SLSQP", tol=1e-12,
                     constraints={"type": "ineq", "fun": slack})
    assert found.objective[0] == pytest.approx(known.fun, abs=2e-5)
    assert found.shortfall[0] < 1e-6


def test_crease_of_two_waves_does_not_stop_it():
    """A limit that is the least of two smooth functions: the answer lies on their crease."""

    def look(x, owner):
        first, second = 2 * x[:, 0] + x[:, 1] - 1, x[:, 0] + 3 * x[:, 1] - 1
        return x.sum(axis=1) + 0.05 * x[:, 0], np.minimum(first, second)[:, None]

    found = descend(look, np.array([[2.0, 2.0], [3.0, 0.1]]), -5.0, 5.0)
    np.testing.assert_allclose(found.points, [[0.4, 0.2]] * 2, atol=1e-4)


def test_least_shortfall_where_nothing_is_feasible():
    """x >= 1 and x <= 0 can't both hold; halfway the worst shortfall is least."""

    def look(x, owner):
        return 0.01 * x[:, 0], np.stack([x[:, 0] - 1, -x[:, 0]], axis=-1)

    found = descend(look, np.array([[3.0]]), -5.0, 5.0)
    assert found.shortfall[0] == pytest.approx(0.5, abs=1e-3)
    assert (found.multipliers[0] > 1).all()  # both limits hold it there
