"""When nothing meets every limit: which limits conflict, and the least that would have to give."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import mold_of
from gridshell.define.types import Array
from gridshell.study.size.limits import LEAST, SizeLimit, Task
from gridshell.study.size.local_solver import descend
from gridshell.study.size.search import FEASIBLE, WallSearch

_PRICED = 1e-3
_STARTS = 4  # ends of the first stage that the search for a way out starts from
_MET = 10 * FEASIBLE


@dataclass(frozen=True)
class Relaxation:
    """What one limit alone would have to become.

    Attributes:
        limit: which.
        needed: the bound that makes the rest feasible, SI; for a margin, the share of the loads
            that could be carried; None: no bound of this limit alone would do.
    """

    limit: SizeLimit
    needed: float | None

    @property
    def share(self) -> float:
        """How far the bound has to move, as a share of it."""
        if self.needed is None:
            return math.inf
        return abs(self.needed / self.limit.bound - 1)


@dataclass(frozen=True)
class Conflict:
    """Why a wall can't meet every limit.

    Attributes:
        wall: its label.
        shortfall: all its conflicting limits eased by this share would just do.
        limits: those that conflict.
        relaxations: each alone; the smallest first.
    """

    wall: str
    shortfall: float
    limits: tuple[SizeLimit, ...]
    relaxations: tuple[Relaxation, ...]


def conflict_of(found: WallSearch) -> Conflict:
    """The limits that conflict in one wall, and what each alone would have to become.

    Where no point meets every limit, the solver ends where the worst shortfall is least. The limits
    that hold it there (positive prices in the last linear program, by Farkas' lemma) can't be met
    together. Then each in turn is made the aim, with all the others kept, from the points of the
    scan that come nearest to keeping them. Cells are real numbers throughout.
    """
    searcher = found.searcher

    def worst(points: Array, owner: np.ndarray) -> tuple[Array, Array]:
        _, slack = searcher.evaluate(points, whole=False)
        return np.zeros(len(points)), slack

    order = np.argsort(found.rough.shortfall, kind="stable")[:_STARTS]
    starts = found.rough.points[order]
    ends = descend(worst, starts, searcher.low, searcher.high, radius=0.1)
    b = int(np.argmin(ends.shortfall))
    numbers = [
        int(i) for i in np.argsort(-ends.multipliers[b], kind="stable")
        if ends.multipliers[b][i] > _PRICED
    ] or [int(np.argmin(ends.slack[b]))]
    begin = []
    points, slack = found.net
    for i in numbers:
        others = np.delete(slack, i, axis=1) if slack.shape[1] > i else slack
        nearest = np.argsort(-others.min(axis=1), kind="stable")[:_STARTS]
        begin.append(np.concatenate([ends.points, points[nearest]]))
    count = len(begin[0])

    def alone(points: Array, owner: np.ndarray) -> tuple[Array, Array]:
        _, slack = searcher.evaluate(points, whole=False)
        slack = slack.copy()
        which = np.array(numbers)[owner // count]
        here = np.arange(len(points))
        aim = -slack[here, which]
        slack[here, which] = 1.0
        return aim, slack

    again = descend(alone, np.concatenate(begin), searcher.low, searcher.high, radius=0.2)
    aims = np.where(again.shortfall <= _MET, again.objective, np.inf).reshape(len(numbers), count)
    relaxations = []
    for which, i in enumerate(numbers):
        limit, aim = searcher.limits[i], float(aims[which].min())
        met = math.isfinite(aim) and not limit.hard
        # The aim was the limit's own slack turned round; its bound moves by that much.
        relaxations.append(Relaxation(limit, limit.relaxed(-aim) if met else None))
    return Conflict(
        searcher.choice.label, float(math.expm1(ends.shortfall[b])),
        tuple(searcher.limits[i] for i in numbers),
        tuple(sorted(relaxations, key=lambda r: r.share)),
    )


@dataclass(frozen=True)
class BedProblem:
    """A cast section that does not fit the printer's bed, whatever its wall.

    Attributes:
        section: length, width and depth of one piece, m.
        bed: its three sides, m.
        sections: the least numbers of each, alone, that would fit; None: none does.
        segments: the least numbers of each, alone, that would fit; None: none does.
    """

    section: tuple[float, float, float]
    bed: tuple[float, float, float]
    sections: int | None
    segments: int | None


def _piece(design: Design, sections: int, segments: int) -> tuple[float, float, float]:
    """Length, width and depth of one piece of the tube (a ring sector unless segments is 1)."""
    across = float(design.tube.outside_diameter)
    width, depth = across, across
    if segments > 1:
        half = math.pi / segments
        width = across * math.sin(half) if segments > 2 else across
        depth = across / 2 * (1 - math.cos(half))
    return float(design.tube.length) / sections, width, depth


def bed_problem(task: Task) -> BedProblem | None:
    """Whether one piece fits the bed stated in ``[mold]``, any side up."""
    bed = mold_of(task.design).bed
    if bed is None:
        return None
    room = sorted(float(side) for side in bed)
    tube = task.design.tube

    def fits(sections: int, segments: int) -> bool:
        piece = sorted(_piece(task.design, sections, segments))
        return all(a <= b + 1e-9 for a, b in zip(piece, room, strict=True))

    if fits(tube.sections, tube.segments):
        return None
    more = next((k for k in range(tube.sections, 1001) if fits(k, tube.segments)), None)
    slices = next((k for k in range(tube.segments, 25) if fits(tube.sections, k)), None)
    return BedProblem(
        _piece(task.design, tube.sections, tube.segments),
        (float(bed[0]), float(bed[1]), float(bed[2])), more, slices,
    )


__all__ = ["LEAST", "BedProblem", "Conflict", "Relaxation", "bed_problem", "conflict_of"]
