"""The local solver: successive linear programs in the logarithms of the dimensions.

Mass and allowables are nearly products of powers of the dimensions, so in logarithms both the aim
and the limits are nearly straight, and a linear program over a trust region steps close to the
answer each time. Many starts run in lockstep, so that one call of the mechanics serves all.

A buckling load is the least of many waves and has a crease where two waves change places; the
linearization on one side says nothing about the other. The solver therefore keeps the
linearizations of the last points it looked at beside the present one.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.study.size.linear_steps import linear_steps

# points (K, n) and the number of the start each belongs to (K,) -> aim (K,), slack (K, limits)
Evaluate = Callable[[Array, np.ndarray], tuple[Array, Array]]

PENALTY = 40.0  # price of an unmet limit; the sum of all multipliers in logarithms is 1 to 5
_FIRST_RADIUS = 0.3
_LARGEST_RADIUS = 0.6
_DIFFERENCE = 1e-3  # of the logarithm
_PACED = 4  # steps over which the pace of a start is taken
_AHEAD = 8  # steps over which it is thought to go on at that pace
_KEPT = 2  # linearizations of earlier points


@dataclass(frozen=True)
class Descent:
    """Where each start ended.

    Attributes:
        points: (B, n) logarithms.
        objective: (B,).
        slack: (B, limits), negative where unmet.
        multipliers: (B, limits) shadow price of each limit in the last linear program.
        objective_slope: (B, n), at the end.
        slack_slope: (B, limits, n), at the end.
        kept_slope: (B, kept, limits, n): of the last points beside the end.
        evaluations: designs evaluated.
    """

    points: Array
    objective: Array
    slack: Array
    multipliers: Array
    objective_slope: Array
    slack_slope: Array
    kept_slope: Array
    evaluations: int

    @property
    def shortfall(self) -> Array:
        """By how much the worst limit is unmet, (B,)."""
        answer: Array = np.maximum(-self.slack.min(axis=1), 0.0)
        return answer

    @property
    def merit(self) -> Array:
        """Aim with unmet limits priced, (B,)."""
        return self.objective + PENALTY * self.shortfall


_PER_START = (
    "points", "objective", "slack", "multipliers", "objective_slope", "slack_slope", "kept_slope",
)


def joined(one: Descent, other: Descent) -> Descent:
    """Two sets of ends as one."""
    both = {
        name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in _PER_START
    }
    return Descent(**both, evaluations=one.evaluations + other.evaluations)


def chosen(ends: Descent, numbers: np.ndarray) -> Descent:
    """Some of the ends."""
    return dataclasses.replace(ends, **{name: getattr(ends, name)[numbers] for name in _PER_START})


class _Sampler:
    """Values and forward differences of the starts that are still moving."""

    def __init__(self, look: Evaluate, free: np.ndarray) -> None:
        self.evaluate, self.free = look, free
        self.evaluations = 0

    def __call__(self, points: Array, owner: np.ndarray) -> tuple[Array, Array, Array, Array]:
        count, dims = points.shape
        moves = np.zeros((1 + self.free.size, dims))
        moves[1 + np.arange(self.free.size), self.free] = _DIFFERENCE
        spread = (points[:, None, :] + moves).reshape(-1, dims)
        aim, slack = self.evaluate(spread, np.repeat(owner, len(moves)))
        self.evaluations += len(spread)
        aim = aim.reshape(count, len(moves))
        slack = slack.reshape(count, len(moves), -1)
        objective_slope = np.zeros((count, dims))
        slack_slope = np.zeros((count, slack.shape[2], dims))
        objective_slope[:, self.free] = (aim[:, 1:] - aim[:, :1]) / _DIFFERENCE
        slack_slope[:, :, self.free] = np.swapaxes(
            (slack[:, 1:] - slack[:, :1]) / _DIFFERENCE, 1, 2
        )
        return aim[:, 0], slack[:, 0], objective_slope, slack_slope


def descend(
    look: Evaluate, start: Array, low: Array, high: Array, *, free: np.ndarray | None = None,
    limit: int = 60, finest: float = 5e-5, radius: float = _FIRST_RADIUS, gain: float = 1e-7,
    pace: float | None = None, known: float = np.inf,
) -> Descent:
    """Lower the aim from every start while the limits hold.

    Args:
        look: objective and slack of many designs.
        start: (B, n) logarithms of the dimensions.
        low: (B, n) or (n,) hard ends of the search; limits proper belong in the slack.
        high: (B, n) or (n,) hard ends of the search; limits proper belong in the slack.
        free: which dimensions may move; None: all.
        limit: steps at most.
        finest: trust radius at which a start has come to rest.
        radius: first trust radius.
        gain: of the aim, below which a step is not worth taking.
        pace: gain of the merit a step, mean of the last `_PACED`, below which a start is not worth
            going on with, nor where at its pace the next `_AHEAD` steps would not take it to the
            best; None: every start goes on to its end.
        known: merit that is known already, to beat.
    """
    count, dims = start.shape
    free = np.arange(dims) if free is None else free
    low, high = (np.broadcast_to(end, start.shape) for end in (low, high))
    x = np.clip(start, low, high)
    sample = _Sampler(look, free)
    owner = np.arange(count)
    f, g, df, dg = sample(x, owner)
    x = x.copy()
    many = g.shape[1]
    reach = np.full(count, radius)
    multipliers = np.zeros((count, many))
    kept_at = np.zeros((count, _KEPT, dims))
    kept_g = np.full((count, _KEPT, many), np.inf)
    kept_dg = np.zeros((count, _KEPT, many, dims))
    moving = np.arange(count)
    movable = np.zeros(dims)
    movable[free] = 1.0
    merits = [f + PENALTY * np.maximum(-g.min(axis=1), 0.0)]

    for turn in range(limit):
        here = moving
        # A kept linearization speaks only where it allows less than the present one would.
        drift = x[here][:, None, :] - kept_at[here]
        older = kept_g[here] + np.einsum("bkmn,bkn->bkm", kept_dg[here], drift)
        older = np.maximum(older, g[here][:, None, :])
        usable = np.isfinite(older)
        rows = np.concatenate([
            dg[here], np.where(usable[..., None], kept_dg[here], 0.0).reshape(len(here), -1, dims)
        ], axis=1)
        floor = -np.concatenate([
            g[here], np.where(usable, older, 1e3).reshape(len(here), -1)
        ], axis=1)
        box = reach[here][:, None] * movable
        answer = linear_steps(
            df[here], rows, floor, np.maximum(-box, low[here] - x[here]),
            np.minimum(box, high[here] - x[here]), PENALTY,
        )
        prices = answer.multipliers.reshape(len(here), 1 + _KEPT, many).sum(axis=1)
        multipliers[here] = prices
        before = f[here] + PENALTY * np.maximum(-g[here].min(axis=1), 0.0)
        hoped = before - (
            f[here] + np.einsum("bn,bn->b", df[here], answer.step) + PENALTY * answer.shortfall
        )
        trial = x[here] + answer.step
        ft, gt, dft, dgt = sample(trial, here)
        gained = before - (ft + PENALTY * np.maximum(-gt.min(axis=1), 0.0))
        good = (gained > 0.05 * hoped) & (gained > 0)
        slot = turn % _KEPT
        left = np.where(good[:, None], x[here], trial)
        kept_at[here, slot] = left
        kept_g[here, slot] = np.where(good[:, None], g[here], gt)
        kept_dg[here, slot] = np.where(good[:, None, None], dg[here], dgt)
        taken = here[good]
        x[taken], f[taken], g[taken] = trial[good], ft[good], gt[good]
        df[taken], dg[taken] = dft[good], dgt[good]
        went = np.abs(answer.step).max(axis=1)
        close = gained > 0.7 * hoped
        reach[here] = np.where(
            good, np.where(close, np.minimum(2 * reach[here], _LARGEST_RADIUS), reach[here]),
            0.5 * np.maximum(went, finest),
        )
        moving = here[(reach[here] > finest) & (hoped > gain)]
        merits.append(f + PENALTY * np.maximum(-g.min(axis=1), 0.0))
        if pace is not None and turn >= _PACED:
            each = (merits[-1 - _PACED] - merits[-1])[moving] / _PACED
            reached = merits[-1][moving] - each * min(limit - turn - 1, _AHEAD)
            moving = moving[(each > pace) & (reached < min(merits[-1].min(), known) + pace)]
        if not moving.size:
            break
    return Descent(
        x, f, slack=g, multipliers=multipliers, objective_slope=df, slack_slope=dg,
        kept_slope=kept_dg, evaluations=sample.evaluations,
    )
