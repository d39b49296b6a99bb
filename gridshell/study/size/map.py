"""Numbers behind the pictures of a sizing: the map about the best point, fronts, use of limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.study.size.limits import limits_of
from gridshell.study.size.local_solver import chosen, descend, joined
from gridshell.study.size.run import SizedWall, SizeResult
from gridshell.study.size.search import FEASIBLE
from gridshell.tube.result import TubeResult

MAP_POINTS = 61  # each way
FRONT_POINTS = 9
_MAP_SPAN = 2.2  # how far the map reaches from the best point, as a ratio each way
_FRONT_SPAN = 6.0  # stiffest over least stiff on a front


@dataclass(frozen=True)
class SizeMap:
    """Rib height against spacing with every other dimension held at the ideal.

    Attributes:
        wall: whose.
        heights: axes, m.
        spacings: axes, m.
        mass: (spacings, heights), kg.
        margin: lowest margin.
        governing: (spacings, heights) index into `checks`.
        checks: names, whatever the case.
        making: slack of the tightest limit of making or of the tube (negative: broken).
        ideal: (height, spacing); made is None where there is no makeable design.
        made: (height, spacing); made is None where there is no makeable design.
    """

    wall: SizedWall
    heights: Array
    spacings: Array
    mass: Array
    margin: Array
    governing: np.ndarray
    checks: tuple[str, ...]
    making: Array
    ideal: tuple[float, float]
    made: tuple[float, float] | None


def _spacing(tube: TubeResult) -> Array:
    """Hoop width of a cell, m: what cells round set."""
    return np.asarray(tube.wall.grid.cell_width, float)


def size_map(sizing: SizeResult, points: int = MAP_POINTS) -> SizeMap | None:
    """The map about the best ribbed wall; None where no ribbed wall is feasible."""
    wall = next((w for w in sizing.walls if w.ideal is not None
                 and w.choice.pattern != "plain"), None)
    if wall is None or wall.ideal is None:
        return None
    searcher, choice = wall.search.searcher, wall.choice
    best = wall.search.ends.points[wall.search.best]
    span = np.log(_MAP_SPAN) * np.linspace(-1, 1, points)
    around, height = choice.dimensions.index("cells_round"), choice.dimensions.index("height")
    grid = np.tile(best, (points, points, 1))
    grid[:, :, around] -= span[:, None]  # fewer cells, wider spacing
    grid[:, :, height] += span[None, :]
    flat = grid.reshape(-1, len(best))
    with np.errstate(all="ignore"):
        tube = searcher.assess(flat, whole=False)
    limits, slack = limits_of(sizing.task, choice, tube, len(flat))
    # A limit that rests on a dimension held here is the same all over the map: not drawn.
    making = slack[:, [
        i for i, one in enumerate(limits)
        if not one.key.startswith("case.") and np.ptp(slack[:, i]) > 1e-6
    ]]
    names: list[str] = []
    lowest: dict[str, Array] = {}
    for case in tube.cases:
        for check in case.checks:
            margin = np.broadcast_to(check.margin, (len(flat),))
            if check.name in lowest:
                lowest[check.name] = np.minimum(lowest[check.name], margin)
            else:
                names.append(check.name)
                lowest[check.name] = margin
    shape = (points, points)
    stacked = np.full((1, len(flat)), np.inf)
    if names:
        stacked = np.stack([lowest[name] for name in names])
    middle = points // 2
    at = np.broadcast_to(_spacing(tube), (len(flat),)).reshape(shape)[:, middle]
    made = None
    if wall.rounded is not None:
        made = (float(wall.rounded.design.ribs.height), float(_spacing(wall.rounded.tube)))
    return SizeMap(
        wall, np.exp(grid[0, :, height]), spacings=at,
        mass=np.broadcast_to(tube.mass, (len(flat),)).reshape(shape),
        margin=stacked.min(axis=0).reshape(shape), governing=stacked.argmin(axis=0).reshape(shape),
        checks=tuple(names) or ("no load",), making=making.min(axis=1).reshape(shape),
        ideal=(float(np.exp(best[height])), float(_spacing(wall.ideal.tube))), made=made,
    )


@dataclass(frozen=True)
class Front:
    """Least mass at each bending stiffness, with every other limit kept.

    Attributes:
        label: of the wall.
        EI: N m2.
        mass: kg; NaN where that stiffness can't be had.
    """

    label: str
    EI: Array
    mass: Array


def fronts(sizing: SizeResult, points: int = FRONT_POINTS) -> tuple[Front, ...]:
    """Mass against stiffness for every wall that is feasible; cells as real numbers."""
    walls = [wall for wall in sizing.walls if wall.ideal is not None]
    if not walls:
        return ()
    softest = min(float(w.ideal.tube.stiffness.EI) for w in walls if w.ideal is not None)
    wanted = softest * np.geomspace(1.0, _FRONT_SPAN, points)
    return tuple(_front(sizing, wall, wanted) for wall in walls)


def _front(sizing: SizeResult, wall: SizedWall, wanted: Array) -> Front:
    searcher = wall.search.searcher
    free = [i for i, one in enumerate(searcher.limits)
            if one.key in ("target.largest_mass", "target.least_bending_stiffness")]

    def look(flat: Array, owner: np.ndarray) -> tuple[Array, Array]:
        with np.errstate(all="ignore"):
            tube = searcher.assess(flat, whole=False)
        slack = searcher.slack(tube, len(flat))
        slack[:, free] = 1.0  # these two are what the front trades
        short = np.log(tube.stiffness.EI / wanted[owner])[:, None]
        mass = np.log(np.broadcast_to(tube.mass, (len(flat),)))
        return mass, np.concatenate([slack, short], axis=1)

    start = np.repeat(wall.search.ends.points[[wall.search.best]], len(wanted), axis=0)
    # Stiffer walls start deeper, so that the first steps are short.
    if wall.choice.pattern == "plain":
        start = start + np.log(wanted / wanted[0])[:, None]
    ends = descend(look, start, searcher.low, searcher.high, finest=5e-4, limit=40, gain=1e-5)
    # Each point once more from its neighbors' answers, in case it stopped in a worse valley.
    count = len(wanted)
    shifted = np.concatenate([ends.points[[0, *range(count - 1)]],
                              ends.points[[*range(1, count), count - 1]]])
    again = descend(
        lambda flat, owner: look(flat, owner % count), shifted, searcher.low, searcher.high,
        finest=5e-4, limit=30, gain=1e-5,
    )
    every = joined(ends, again)
    pick = every.merit.reshape(3, count).argmin(axis=0) * count + np.arange(count)
    ends = chosen(every, pick)
    mass = np.where(ends.shortfall <= 50 * FEASIBLE, np.exp(ends.objective), np.nan)
    # What is stiff enough for the next point is stiff enough for this one.
    mass = np.fmin.accumulate(mass[::-1])[::-1]
    mass = np.where(ends.shortfall <= 50 * FEASIBLE, mass, np.nan)
    return Front(wall.label, wanted, mass)


def uses(wall: SizedWall) -> list[tuple[str, str, float]]:
    """Share of each allowable that the made design uses: case, check, share; largest first."""
    tube = wall.rounded.tube if wall.rounded is not None else (
        wall.ideal.tube if wall.ideal is not None else None)
    if tube is None:
        return []
    listed = [
        (case.name, check.name, 1.0 / (1.0 + float(check.margin)))
        for case in tube.cases for check in case.checks if np.isfinite(check.margin)
    ]
    return sorted(listed, key=lambda one: -one[2])


__all__ = ["Front", "SizeMap", "fronts", "size_map", "uses"]
