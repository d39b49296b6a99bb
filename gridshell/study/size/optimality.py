"""Why the answer is the answer: active limits, their prices, and what a little more room buys."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.study.size.limits import LEAST, SizeLimit
from gridshell.study.size.local_solver import descend
from gridshell.study.size.rounding import Rounded
from gridshell.study.size.search import WallSearch

ACTIVE = 1e-3  # slack (of a logarithm) below which a limit counts as active
_PRICED = 1e-4  # multiplier above which it holds the answer up
_SMALL_SHARE = 0.01  # how far limits that are not lengths are relaxed


@dataclass(frozen=True)
class ShadowPrice:
    """What relaxing one active limit buys.

    Attributes:
        limit: which.
        by: how far its bound is moved, SI (a share for loads).
        gain: mass saved (kg), or EI won (N m2) with aim 'stiffness', after solving again.
        multiplier: share of the aim won per share of the bound, from the last linear program.
    """

    limit: SizeLimit
    by: float
    gain: float
    multiplier: float


@dataclass(frozen=True)
class Nudge:
    """What one step of one dimension of the makeable design does.

    Attributes:
        dimension: height, width, skin, cells_round or cells_along.
        by: the change, SI.
        mass: change, kg.
        stiffness: change of EI, N m2.
        margin: lowest margin after it.
        broken: the limit it breaks first, or None.
    """

    dimension: str
    by: float
    mass: float
    stiffness: float
    margin: float
    broken: str | None


@dataclass(frozen=True)
class OptimalityCheck:
    """The first-order conditions at the ideal.

    Attributes:
        residual: of the aim's slope after the slopes of the active limits, with prices that are not
            negative, are taken off; as a share of the aim's slope. Zero at an optimum.
        shadow_prices: of every active limit that holds the answer up, the dearest first.
        nudges: about the makeable design.
    """

    residual: float
    shadow_prices: tuple[ShadowPrice, ...]
    nudges: tuple[Nudge, ...]


def stationarity(found: WallSearch) -> float:
    """Residual of the first-order (Karush-Kuhn-Tucker) conditions at the best end.

    Least squares with prices that are not negative, over the slopes of the active limits; where a
    buckling load has a crease, the slopes on its other side are offered too.
    """
    from scipy.optimize import nnls

    ends, b = found.ends, found.best
    free = found.searcher.choice.lengths
    slope = ends.objective_slope[b][free]
    active = ends.slack[b] < ACTIVE
    columns = [ends.slack_slope[b][active][:, free]]
    columns += [kept[active][:, free] for kept in ends.kept_slope[b]]
    columns = [part for part in columns if part.size]
    if not columns:
        return 1.0
    _, left = nnls(np.concatenate(columns).T, slope)
    return float(left / max(np.linalg.norm(slope), 1e-12))


def _relaxation(limit: SizeLimit, step: float) -> tuple[float, float]:
    """How far the bound is moved, and the slack that this adds."""
    by = step if limit.kind == "length" else _SMALL_SHARE * limit.bound
    moved = limit.bound - by if limit.sense == LEAST else limit.bound + by
    moved = max(moved, 0.05 * limit.bound)
    return abs(moved - limit.bound), abs(float(np.log(moved / limit.bound)))


def shadow_prices(found: WallSearch) -> tuple[ShadowPrice, ...]:
    """Solve again with each active limit relaxed a little.

    Cells are real numbers before and after, free to follow: with whole cells the gain would jump.
    """
    searcher = found.searcher
    step = float(searcher.task.target.step)

    def plain(points: Array, owner: np.ndarray) -> tuple[Array, Array]:
        return searcher.evaluate(points, whole=False)

    rough = found.rough.points[np.argsort(found.rough.merit, kind="stable")[:2]]
    starts = np.concatenate([found.ends.points[[found.best]], rough])
    base = descend(plain, starts, searcher.low, searcher.high, radius=0.05)
    b = int(np.argmin(base.merit))
    numbers = [
        int(i) for i in np.argsort(-base.multipliers[b], kind="stable")
        if base.multipliers[b][i] > _PRICED and base.slack[b][i] < ACTIVE
        and not searcher.limits[i].hard
    ]
    if not numbers:
        return ()
    moves = [_relaxation(searcher.limits[i], step) for i in numbers]

    def look(points: Array, owner: np.ndarray) -> tuple[Array, Array]:
        aim, slack = searcher.evaluate(points, whole=False)
        slack = slack.copy()
        for which, (i, (_, room)) in enumerate(zip(numbers, moves, strict=True)):
            slack[owner == which, i] += room
        return aim, slack

    again = descend(look, np.repeat(base.points[[b]], len(numbers), axis=0), searcher.low,
                    searcher.high, radius=0.02)
    stiffness = searcher.task.target.aim == "stiffness"
    before = float(np.exp(-base.objective[b] if stiffness else base.objective[b]))
    listed = []
    for which, (i, (by, _)) in enumerate(zip(numbers, moves, strict=True)):
        after = float(np.exp(-again.objective[which] if stiffness else again.objective[which]))
        gain = after - before if stiffness else before - after
        listed.append(ShadowPrice(searcher.limits[i], by, gain, float(base.multipliers[b][i])))
    return tuple(sorted(listed, key=lambda price: -price.gain))


def nudges(found: WallSearch, rounded: Rounded) -> tuple[Nudge, ...]:
    """One step up and down of each dimension of the makeable design, one cell for cells."""
    searcher = found.searcher
    names = searcher.choice.dimensions
    step = float(searcher.task.target.step)
    points, moved = [], []
    for place, name in enumerate(names):
        stride = (2.0 if searcher.choice.even and name == "cells_round" else 1.0) if (
            name.startswith("cells")) else step
        for by in (-stride, stride):
            value = float(np.exp(rounded.point[place])) + by
            if value <= 0.5 * stride:
                continue
            point = rounded.point.copy()
            point[place] = np.log(value)
            points.append(point)
            moved.append((name, by))
    array = np.array(points)
    with np.errstate(all="ignore"):
        tube = searcher.assess(array, whole=True)
    slack = searcher.slack(tube, len(array))
    mass = np.broadcast_to(tube.mass, (len(array),))
    stiffness = np.broadcast_to(tube.stiffness.EI, (len(array),))
    margin = np.broadcast_to(tube.margin, (len(array),))
    listed = []
    for k, (name, by) in enumerate(moved):
        worst = int(np.argmin(slack[k]))
        listed.append(Nudge(
            name, by, float(mass[k] - rounded.tube.mass),
            float(stiffness[k] - rounded.tube.stiffness.EI), float(margin[k]),
            searcher.limits[worst].text if slack[k][worst] < -2e-5 else None,
        ))
    return tuple(listed)


def check_optimality(found: WallSearch, rounded: Rounded | None) -> OptimalityCheck:
    """Everything that shows the best end of a wall to be its optimum."""
    return OptimalityCheck(
        stationarity(found), shadow_prices(found), () if rounded is None else nudges(found, rounded)
    )
