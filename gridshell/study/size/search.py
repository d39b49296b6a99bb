"""Best point of one wall: a scan of the discrete choices, then the local solver from the best.

First cells round and along are real numbers beside the lengths; then the whole numbers about the
best answers are held fixed and the lengths solved again for each.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.study.size.candidates import WallChoice, placed
from gridshell.study.size.limits import IDLE, SizeLimit, Task, limits_of, objective_of
from gridshell.study.size.local_solver import PENALTY, Descent, descend, joined
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult
from gridshell.wall.geometry.lattice import lattice

FEASIBLE = 2e-5  # shortfall (of a logarithm) that counts as met
_STARTS = 7  # of each kind
_KEPT = 3  # answers of the first stage whose whole neighbors are solved again
_LEVELS = {"height": 6, "width": 3, "skin": 6, "cells_round": 6, "cells_along": 5}
_WALKS = 6  # times the whole numbers about the best are tried
# Gain of a logarithm a step, below which a start is left: of the first stage, and of the last.
_ROUGH_PACE, _PACE = 1e-4, 1e-5
_CHUNK = 4096  # designs assessed in one call


class Searcher:
    """Looks at designs of one wall, with the limits in a fixed order.

    Attributes:
        task: what is sized, and the wall.
        choice: what is sized, and the wall.
        limits: every limit, once a design has been looked at.
        evaluations: designs assessed so far.
        low: logarithms of the hard ends of each dimension.
        high: logarithms of the hard ends of each dimension.
        first: of the scan, within the stated limits.
        last: of the scan, within the stated limits.
    """

    def __init__(self, task: Task, choice: WallChoice) -> None:
        self.task, self.choice = task, choice
        self.limits: tuple[SizeLimit, ...] = ()
        self._place: dict[str, int] = {}
        self.evaluations = 0
        ends = np.array([self._ends(name) for name in choice.dimensions])
        self.low, self.high, self.first, self.last = np.log(ends.T)

    def _ends(self, name: str) -> tuple[float, float, float, float]:
        """Hard ends, then ends of the scan."""
        target, tube = self.task.target, self.task.design.tube
        outside = float(tube.outside_diameter) / 2
        width = self.task.min_width

        def within(least: float | None, most: float | None, low: float, high: float
                   ) -> tuple[float, float, float, float]:
            first = low if least is None else float(least)
            last = high if most is None else float(most)
            last = max(min(last, high), first)
            return 0.2 * first, max(0.45 * outside, 5 * first), first, last

        if name == "skin":
            return within(target.least_skin, target.largest_skin, 0.0, 0.2 * outside)
        if name == "width":
            return within(width, target.largest_rib_width, 0.0, max(0.1 * outside, width))
        if name == "height":
            return within(target.least_rib_height, target.largest_rib_height, width,
                          max(0.3 * outside, width))
        pitch = target.least_pocket + width
        if name == "cells_round":
            room = 2 * math.pi * outside / tube.segments - tube.seam_land
            fewest = max(target.least_cells_round, math.ceil(3 / tube.segments))
            most = target.largest_cells_round
        else:
            room = float(self.task.design.section_length) - 2 * tube.end_land
            fewest, most = target.least_cells_along, target.largest_cells_along
        largest = max(float(room) / pitch, fewest + 1.0)
        last = largest if most is None else max(min(float(most), largest), fewest)
        return max(1.0, 0.5 * fewest), max(3 * largest, 2.0 * fewest), float(fewest), last

    def assess(self, points: Array, whole: bool) -> TubeResult:
        """Designs at points (K, n)."""
        design, around, along = placed(self.choice, points, whole)
        return assess_tube(design, self.task.properties, cells_round=around, cells_along=along)

    def slack(self, tube: TubeResult, count: int | None) -> Array:
        """Slack in this searcher's order of limits; a check that nothing loads is idle."""
        limits, slack = limits_of(self.task, self.choice, tube, count)
        for limit in limits:
            if limit.key not in self._place:
                self._place[limit.key] = len(self._place)
                self.limits = (*self.limits, limit)
        ordered = np.full((*slack.shape[:-1], len(self._place)), IDLE)
        ordered[..., [self._place[limit.key] for limit in limits]] = slack
        return ordered

    def evaluate(self, points: Array, whole: bool) -> tuple[Array, Array]:
        """Aim (K,) and slack (K, limits) of designs at points (K, n)."""
        aims, slacks = [], []
        for first in range(0, len(points), _CHUNK):
            part = points[first:first + _CHUNK]
            with np.errstate(all="ignore"):  # impossible walls are met by their limits
                tube = self.assess(part, whole)
            self.evaluations += len(part)
            aims.append(np.broadcast_to(objective_of(self.task, tube), (len(part),)))
            slacks.append(self.slack(tube, len(part)))
        width = max(slack.shape[1] for slack in slacks)
        slacks = [
            np.pad(slack, ((0, 0), (0, width - slack.shape[1])), constant_values=IDLE)
            for slack in slacks
        ]
        return np.concatenate(aims), np.concatenate(slacks)


@dataclass(frozen=True)
class WallSearch:
    """What the search of one wall found.

    Attributes:
        searcher: with the limits.
        net: points of the scan, and their slack.
        rough: ends of the first stage, cells as real numbers.
        ends: of the last stage: whole cells, lengths solved.
        order: numbers of the ends, best first.
    """

    searcher: Searcher
    net: tuple[Array, Array]
    rough: Descent
    ends: Descent
    order: np.ndarray

    @property
    def best(self) -> int:
        """Number of the best end."""
        return int(self.order[0])

    @property
    def feasible(self) -> bool:
        """Whether the best end meets every limit."""
        return bool(self.ends.shortfall[self.best] <= FEASIBLE)


def scan(searcher: Searcher) -> tuple[Array, tuple[Array, Array]]:
    """Promising starts (B, n): the best of each pair of cell counts, and of each pair of depths.

    Returns:
        starts, and the points of the whole net with their slack.
    """
    names = searcher.choice.dimensions
    levels = [
        np.linspace(a, b, _LEVELS[name] if b > a else 1)
        for name, a, b in zip(names, searcher.first, searcher.last, strict=True)
    ]
    points = np.array(list(itertools.product(*levels)))
    aim, slack = searcher.evaluate(points, whole=False)
    short = np.maximum(-slack.min(axis=1), 0.0)
    cells = [i for i, name in enumerate(names) if name.startswith("cells")]
    depths = [i for i, name in enumerate(names) if name in ("height", "skin")]
    starts: list[int] = []
    # A gentle price likes light walls a little short of a limit; the full one, walls that hold.
    # Thick skins with low ribs and thin skins with tall ribs are valleys of their own.
    for price, fields in ((3.0, cells), (3.0, depths), (PENALTY, depths)):
        seen: set[tuple[float, ...]] = set()
        for number in np.argsort(aim + price * short, kind="stable"):
            key = tuple(points[number, fields])
            if key not in seen:
                seen.add(key)
                starts.append(int(number))
            if len(seen) == _STARTS:
                break
    return points[list(dict.fromkeys(starts))], (points, slack)


def _whole_neighbors(searcher: Searcher, points: Array) -> Array:
    """Points with whole cells about each point, without repeats, (B, n) logarithms.

    About the first, the best, one more each way: a walk over whole numbers mostly ends there.
    """
    names = searcher.choice.dimensions
    found: dict[tuple[float, ...], Array] = {}
    for rank, point in enumerate(points):
        options = []
        for name, value, low, high in zip(
            names, np.exp(point), np.exp(searcher.low), np.exp(searcher.high), strict=True
        ):
            if not name.startswith("cells"):
                options.append([value])
                continue
            stride = 2 if searcher.choice.even and name == "cells_round" else 1
            below = stride * math.floor(value / stride)
            counts = [below + stride * k for k in (range(-1, 3) if rank == 0 else range(2))]
            # The ends of the search are cells too, whole ones inside.
            options.append([float(np.clip(c, math.ceil(low), math.floor(high)))
                            for c in counts if c >= 1] or [float(stride)])
        for combination in itertools.product(*options):
            cells = tuple(
                c for c, name in zip(combination, names, strict=True) if name.startswith("cells")
            )
            found.setdefault(cells, np.log(np.array(combination)))
    return np.array(list(found.values()))


def _distinct(points: Array, merit: Array, count: int) -> Array:
    """The best points that differ by more than 3 % in some dimension."""
    chosen: list[int] = []
    for number in np.argsort(merit, kind="stable"):
        if all(np.abs(points[number] - points[other]).max() > 0.03 for other in chosen):
            chosen.append(int(number))
        if len(chosen) == count:
            break
    return points[chosen]


def search_wall(task: Task, choice: WallChoice) -> WallSearch:
    """Find the best point of one wall."""
    searcher = Searcher(task, choice)
    starts, net = scan(searcher)
    has_cells = choice.pattern != "plain"
    rough = descend(
        lambda points, owner: searcher.evaluate(points, whole=False), starts,
        searcher.low, searcher.high, finest=2e-3 if has_cells else 5e-5,
        limit=25 if has_cells else 60, gain=1e-4 if has_cells else 1e-7,
        pace=_ROUGH_PACE if has_cells else _PACE,
    )
    if not has_cells:
        return WallSearch(searcher, net, rough, rough, np.argsort(rough.merit, kind="stable"))
    seeds = _whole_neighbors(searcher, _distinct(rough.points, rough.merit, _KEPT))
    ends = _solve_lengths(searcher, seeds)
    # Walk on over the whole numbers while a neighbor of the best is better.
    for _ in range(_WALKS):
        order = np.argsort(ends.merit, kind="stable")
        best = ends.merit[order[0]]
        known = {cell_key(searcher, point) for point in ends.points}
        fresh = [
            point for point in around(searcher, ends.points[order[0]])
            if cell_key(searcher, point) not in known
        ]
        if not fresh:
            break
        ends = joined(ends, _solve_lengths(searcher, np.array(fresh), float(best)))
        if ends.merit.min() > best - 1e-6:
            break
    return WallSearch(searcher, net, rough, ends, np.argsort(ends.merit, kind="stable"))


def _solve_lengths(searcher: Searcher, seeds: Array, known: float = np.inf) -> Descent:
    return descend(
        lambda points, owner: searcher.evaluate(points, whole=True), seeds,
        searcher.low, searcher.high, free=searcher.choice.lengths, radius=0.05, pace=_PACE,
        known=known,
    )


def cell_key(searcher: Searcher, point: Array) -> tuple[int, ...]:
    """Whole cells of a point, to tell points apart by."""
    return tuple(
        int(np.rint(np.exp(value)))
        for value, name in zip(point, searcher.choice.dimensions, strict=True)
        if name.startswith("cells")
    )


def around(searcher: Searcher, point: Array, reach: int = 1) -> list[Array]:
    """The same lengths with up to ``reach`` cells more or fewer, each way; itself included."""
    names = searcher.choice.dimensions
    places = [i for i, name in enumerate(names) if name.startswith("cells")]
    strides = [2 if searcher.choice.even and names[i] == "cells_round" else 1 for i in places]
    found = []
    for moves in itertools.product(
        *([s * k for k in range(-reach, reach + 1)] for s in strides)
    ):
        moved = point.copy()
        counts = [int(np.rint(np.exp(point[i]))) + m for i, m in zip(places, moves, strict=True)]
        if min(counts) < 1:
            continue
        moved[places] = np.log(np.array(counts, float))
        if (moved >= searcher.low - 1e-9).all() and (moved <= searcher.high + 1e-9).all():
            found.append(moved)
    return found


def cells_of(searcher: Searcher, point: Array) -> tuple[float, float]:
    """Cells round and along at a whole point."""
    design, around, along = placed(searcher.choice, point, whole=True)
    grid = lattice(design, around, along)
    return float(grid.cells_round), float(grid.cells_along)


__all__ = [
    "FEASIBLE", "PENALTY", "Searcher", "WallSearch", "cells_of", "scan", "search_wall",
]
