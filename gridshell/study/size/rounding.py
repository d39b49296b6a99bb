"""From the ideal to what can be made: whole steps, whole cells, and a full check of the result."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from gridshell.define.checks import check_design
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.study.size.candidates import as_stated, placed
from gridshell.study.size.limits import objective_of
from gridshell.study.size.search import FEASIBLE, Searcher, WallSearch, around, cell_key
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult
from gridshell.wall.assess import assess_wall

MET = -1e-9  # least slack of a rounded design: met, but for rounding of the arithmetic
_BELOW, _ABOVE = 4, 6  # whole steps tried about the ideal, each dimension
_CELLS_ABOUT = 2  # cells more or fewer than the best's that are tried
_WALKS = 5  # times the search moves to the cells about what it found
_NEARLY = 0.05  # shortfall up to which an end is worth rounding
_BETTER_THAN_IDEAL = 2e-3  # lighter than the ideal by more than this can't be feasible
_CELLS_TRIED = 4  # ends of the search whose cells are tried
_FULL_CHECKS = 25  # designs put to the full check before a wall is given up


@dataclass(frozen=True)
class Rounded:
    """A makeable design that meets every limit in the full check.

    Attributes:
        point: logarithms, whole cells.
        design: as a definition file states it.
        tube: its full assessment.
        slack: in the order of the searcher's limits.
    """

    point: Array
    design: Design
    tube: TubeResult
    slack: Array


def full_check(searcher: Searcher, point: Array) -> Rounded | None:
    """Assess one whole point as the definition file will state it; None if it breaks a limit."""
    design = as_stated(searcher.choice, point)
    if check_design(design):
        return None
    tube = assess_tube(design, searcher.task.properties)
    slack = searcher.slack(tube, None)
    return Rounded(point, design, tube, slack) if slack.min() >= MET else None


def _steps(value: float, step: float, least: float) -> list[float]:
    """Whole steps about a value, in plain decimals; upwards from the least that is allowed."""
    center = round(value / step)
    first = max(center - _BELOW, math.ceil(least / step - 1e-9), 1)
    return [round(k * step, 12) for k in range(first, max(center, first) + _ABOVE + 1)]


def _neighbors(searcher: Searcher, point: Array) -> Array:
    """Every makeable point about a point with whole cells, (K, n) logarithms."""
    target, step = searcher.task.target, float(searcher.task.target.step)
    least = {
        "skin": float(target.least_skin), "width": searcher.task.min_width,
        "height": float(target.least_rib_height or 0.0),
    }
    options = [
        _steps(value, step, least[name]) if name in least else [round(value)]
        for name, value in zip(searcher.choice.dimensions, np.exp(point), strict=True)
    ]
    answer: Array = np.log(np.array(list(itertools.product(*options)), float))
    return answer


def _cell_choices(found: WallSearch) -> list[Array]:
    """Points whose cells are worth rounding: the best ends, and cells close to the best's."""
    searcher, ends = found.searcher, found.ends
    starts = [
        ends.points[number] for number in found.order[:_CELLS_TRIED]
        if ends.shortfall[number] <= _NEARLY
    ]
    if searcher.choice.pattern != "plain":
        starts += around(searcher, ends.points[found.best], _CELLS_ABOUT)
    chosen: dict[tuple[int, ...], Array] = {}
    for start in starts:
        chosen.setdefault(cell_key(searcher, start), start)
    return list(chosen.values())


def round_search(found: WallSearch) -> Rounded | None:
    """The best makeable design of one wall, or None where none was found near the ideal.

    Mass and stiffness come from the wall alone, a hundred times cheaper than buckling; so every
    makeable neighbor is put in order of the aim, and the full limits are looked at in that order
    until one holds.
    """
    best: Rounded | None = None
    starts = _cell_choices(found)
    done: set[tuple[int, ...]] = set()
    for _ in range(_WALKS):
        better = _first_that_holds(found, starts, best)
        if better is None:
            break
        best = better
        done |= {cell_key(found.searcher, start) for start in starts}
        if found.searcher.choice.pattern == "plain":
            break
        # Coarse steps may favor other cells than the ideal's: walk on from what was found.
        starts = [
            point for point in around(found.searcher, best.point, _CELLS_ABOUT)
            if cell_key(found.searcher, point) not in done
        ]
        if not starts:
            break
    return best


def _aim(found: WallSearch, points: Array) -> Array:
    """The aim of whole points, from the wall alone."""
    searcher = found.searcher
    task = searcher.task
    design, cells, along = placed(searcher.choice, points, whole=True)
    with np.errstate(all="ignore"):
        if task.target.aim == "stiffness":
            tube = assess_tube(
                design, task.properties, cells_round=cells, cells_along=along, needed=())
            aim = objective_of(task, tube)
        else:
            aim = np.log(assess_wall(design, task.properties, cells, along).tube_mass)
    return np.broadcast_to(np.nan_to_num(aim, nan=np.inf), (len(points),))


def _first_that_holds(
    found: WallSearch, starts: list[Array], known: Rounded | None
) -> Rounded | None:
    """The best makeable point about the starts that meets every limit and beats the known one."""
    searcher = found.searcher
    if not starts:
        return None
    listed = np.concatenate([_neighbors(searcher, start) for start in starts])
    cost = _aim(found, listed)
    likely = cost > float(found.ends.objective[found.best]) - _BETTER_THAN_IDEAL
    if known is not None:
        likely &= cost < float(objective_of(searcher.task, known.tube)) - 1e-9
    listed, cost = listed[likely], cost[likely]
    order = np.argsort(cost, kind="stable")
    checks, size, first = 0, 64, 0
    while first < order.size:
        part = listed[order[first:first + size]]
        _, slack = searcher.evaluate(part, whole=True)
        for number in np.flatnonzero(slack.min(axis=1) >= -FEASIBLE):
            rounded = full_check(searcher, part[number])
            if rounded is not None:
                return rounded
            checks += 1
            if checks >= _FULL_CHECKS:
                return None
        first, size = first + size, min(2 * size, 1024)
    return None


__all__ = ["MET", "Rounded", "full_check", "round_search"]
