"""Why the answer is the answer: active limits, their prices, and what a little more room buys."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.study.size.limits import LEAST, SizeLimit
from gridshell.study.size.local_solver import Descent, descend
from gridshell.study.size.rounding import Rounded
from gridshell.study.size.search import Searcher, WallSearch

ACTIVE = 1e-3  # slack (of a logarithm) below which a limit counts as active
_PRICED = 1e-4  # multiplier above which it holds the answer up
_GAIN = 5e-6  # of a logarithm, below which a step toward a shadow price is not worth taking
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


def cone_distance(columns: Array, wanted: Array) -> float:
    """Least |columns p - wanted| with prices p that are not negative.

    The nearest point of a cone is a combination of no more of its edges than there are dimensions
    (Caratheodory), so every choice of so few is tried: three dimensions here, and a library's
    solver would take longer to load than the search of a wall.

    Args:
        columns: (n, m).
        wanted: (n,).
    """
    nearest = float(np.linalg.norm(wanted))
    for size in range(1, len(wanted) + 1):
        for chosen in itertools.combinations(range(columns.shape[1]), size):
            edges = columns[:, chosen]
            prices = np.linalg.lstsq(edges, wanted, rcond=None)[0]
            if (prices >= 0).all():
                nearest = min(nearest, float(np.linalg.norm(edges @ prices - wanted)))
    return nearest


def stationarity(found: WallSearch) -> float:
    """Residual of the first-order (Karush-Kuhn-Tucker) conditions at the best end.

    Least squares with prices that are not negative, over the slopes of the active limits; where a
    buckling load has a crease, the slopes on its other side are offered too.
    """
    ends, b = found.ends, found.best
    free = found.searcher.choice.lengths
    slope = ends.objective_slope[b][free]
    active = ends.slack[b] < ACTIVE
    columns = [ends.slack_slope[b][active][:, free]]
    columns += [kept[active][:, free] for kept in ends.kept_slope[b]]
    columns = [part for part in columns if part.size]
    if not columns:
        return 1.0
    left = cone_distance(np.unique(np.concatenate(columns), axis=0).T, slope)
    return left / max(float(np.linalg.norm(slope)), 1e-12)


def _relaxation(limit: SizeLimit, step: float) -> tuple[float, float]:
    """How far the bound is moved, and the slack that this adds."""
    by = step if limit.kind == "length" else _SMALL_SHARE * limit.bound
    moved = limit.bound - by if limit.sense == LEAST else limit.bound + by
    moved = max(moved, 0.05 * limit.bound)
    return abs(moved - limit.bound), abs(float(np.log(moved / limit.bound)))


def _priced(searcher: Searcher, ends: Descent, which: int) -> list[int]:
    """Numbers of the limits that hold one end up, the dearest first."""
    return [
        int(i) for i in np.argsort(-ends.multipliers[which], kind="stable")
        if ends.multipliers[which][i] > _PRICED and ends.slack[which][i] < ACTIVE
        and not searcher.limits[i].hard
    ]


def _relaxed_ends(
    searcher: Searcher, starts: Array, numbers: Sequence[int], radius: float
) -> Descent:
    """Ends from each start (B, n) with no limit relaxed, and then with each of some, one by one."""
    rooms = [0.0, *(_relaxation(searcher.limits[i], _step(searcher))[1] for i in numbers)]
    places = [0, *numbers]
    owned = np.repeat(np.arange(len(rooms)), len(starts))

    def look(points: Array, owner: np.ndarray) -> tuple[Array, Array]:
        aim, slack = searcher.evaluate(points, whole=False)
        slack = slack.copy()
        for which, (i, room) in enumerate(zip(places, rooms, strict=True)):
            slack[owned[owner] == which, i] += room
        return aim, slack

    return descend(look, np.tile(starts, (len(rooms), 1)), searcher.low, searcher.high,
                   radius=radius, gain=_GAIN)


def _step(searcher: Searcher) -> float:
    return float(searcher.task.target.step)


def shadow_prices(found: WallSearch) -> tuple[ShadowPrice, ...]:
    """Solve again with each active limit relaxed a little.

    Cells are real numbers before and after, free to follow: with whole cells the gain would jump.
    """
    searcher = found.searcher
    rough = np.argsort(found.rough.merit, kind="stable")[:2]
    starts = np.concatenate([found.ends.points[[found.best]], found.rough.points[rough]])
    # All at once, with the limits that held up the ends that are known.
    likely = list(dict.fromkeys((
        *_priced(searcher, found.ends, found.best), *_priced(searcher, found.rough, int(rough[0])),
    )))
    ends = _relaxed_ends(searcher, starts, likely, radius=0.05)
    several = len(starts)
    b = int(np.argmin(ends.merit[:several]))
    numbers = _priced(searcher, ends, b)
    stiffness = searcher.task.target.aim == "stiffness"

    def aimed(objective: float) -> float:
        return float(np.exp(-objective if stiffness else objective))

    after = {
        i: float(ends.objective[several * k:][:several][
            np.argmin(ends.merit[several * k:][:several])])
        for k, i in enumerate(likely, start=1)
    }
    late = [i for i in numbers if i not in after]
    if late:
        more = _relaxed_ends(searcher, ends.points[[b]], late, radius=0.02)
        after |= dict(zip(late, more.objective[1:].tolist(), strict=True))
    before = aimed(float(ends.objective[b]))
    listed = []
    for i in numbers:
        by, _ = _relaxation(searcher.limits[i], _step(searcher))
        gain = (aimed(after[i]) - before) * (1 if stiffness else -1)
        listed.append(ShadowPrice(searcher.limits[i], by, gain, float(ends.multipliers[b][i])))
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
