"""From the ideal to what can be made: whole steps, whole cells, and a full check of the result."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from gridshell.define.checks import check_design
from gridshell.define.model import Design
from gridshell.define.types import Array
from gridshell.study.size_limits import aim_of, limits_of
from gridshell.study.size_search import FEASIBLE, Searcher, WallSearch
from gridshell.study.size_walls import as_stated, placed
from gridshell.tube.assess import assess
from gridshell.tube.result import Tube
from gridshell.wall.wall import wall

MET = -1e-9  # least slack of a rounded design: met, but for rounding of the arithmetic
_BELOW, _ABOVE = 6, 8  # whole steps tried about the ideal, each dimension
_BETTER_THAN_IDEAL = 2e-3  # lighter than the ideal by more than this can't be feasible
_CELLS_TRIED = 4  # ends of the search whose cells are tried
_FULL_CHECKS = 25  # designs put to the full check before a wall is given up


@dataclass(frozen=True)
class Rounded:
    """A makeable design that meets every limit in the full check.

    Attributes:
        point: logarithms, whole cells. design: as a definition file states it.
        tube: its full assessment. slack: in the order of the searcher's limits.
    """

    point: Array
    design: Design
    tube: Tube
    slack: Array


def full_check(searcher: Searcher, point: Array) -> Rounded | None:
    """Assess one whole point as the definition file will state it; None if it breaks a limit.

    The scalar search of buckling waves is exhaustive; the search over many designs is not.
    """
    design = as_stated(searcher.choice, point)
    if check_design(design):
        return None
    tube = assess(design, searcher.task.properties)
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
        "skin": float(target.least_skin), "width": searcher.task.least_width,
        "height": float(target.least_rib_height or 0.0),
    }
    options = [
        _steps(value, step, least[name]) if name in least else [round(value)]
        for name, value in zip(searcher.choice.dimensions, np.exp(point), strict=True)
    ]
    return np.log(np.array(list(itertools.product(*options)), float))


def round_search(found: WallSearch) -> Rounded | None:
    """The best makeable design of one wall, or None where none was found near the ideal.

    Mass and stiffness come from the wall alone, a hundred times cheaper than buckling; so every
    makeable neighbor is put in order of the aim, and the full limits are looked at in that order
    until one holds.
    """
    searcher, ends = found.searcher, found.ends
    task = searcher.task
    points, aims = [], []
    for number in found.order[:_CELLS_TRIED]:
        if ends.shortfall[number] > max(FEASIBLE, 0.05):
            continue
        near = _neighbors(searcher, ends.points[number])
        design, around, along = placed(searcher.choice, near, whole=True)
        with np.errstate(all="ignore"):
            tube = assess(design, task.properties, cells_round=around, cells_along=along,
                          needed=()) if task.target.aim == "stiffness" else None
            aim = (
                aim_of(task, tube) if tube is not None
                else np.log(wall(design, task.properties, around, along).tube_mass)
            )
        aim = np.broadcast_to(np.nan_to_num(aim, nan=np.inf), (len(near),))
        likely = aim > ends.aim[number] - _BETTER_THAN_IDEAL
        points.append(near[likely])
        aims.append(aim[likely])
    if not points:
        return None
    listed, cost = np.concatenate(points), np.concatenate(aims)
    order = np.argsort(cost, kind="stable")
    checks, size, first = 0, 64, 0
    while first < order.size:
        part = listed[order[first:first + size]]
        _, slack = searcher.look(part, whole=True)
        for number in np.flatnonzero(slack.min(axis=1) >= -FEASIBLE):
            rounded = full_check(searcher, part[number])
            if rounded is not None:
                return rounded
            checks += 1
            if checks >= _FULL_CHECKS:
                return None
        first, size = first + size, min(2 * size, 1024)
    return None


__all__ = ["MET", "Rounded", "full_check", "limits_of", "round_search"]
