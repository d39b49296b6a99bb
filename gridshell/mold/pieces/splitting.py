"""Splitting the halves along x for a bed or stock: where, and the pieces between."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array
from gridshell.mold.pieces.layout import Layout


@dataclass(frozen=True)
class Span:
    """One piece of a half along x, mm; ``joint_*`` tells whether an end is a joint.

    Attributes:
        start: x, mm.
        end: x, mm.
        joint_start: whether it starts at a joint.
        joint_end: whether it ends at one.
    """

    start: float
    end: float
    joint_start: bool
    joint_end: bool


def spans(plan: Layout, planes: Sequence[float]) -> list[Span]:
    """The pieces between the splitting planes.

    Args:
        plan: sizes of the halves, mm.
        planes: where the halves are split along x, mm.
    """
    edges = [plan.start, *planes, plan.end]
    last = len(edges) - 2
    return [
        Span(edges[i], edges[i + 1], i > 0, i < last) for i in range(last + 1)
    ]


def longest_piece(bed: Sequence[float], width: float, height: float) -> float:
    """Longest piece of a cross section that fits a bed (or stock), any way up; 0 if none does.

    Args:
        bed: its three sides, mm.
        width: of the cross section, mm.
        height: of the cross section, mm.
    """
    return max((
        a for a, b, c in itertools.permutations(bed) if width <= b and height <= c
    ), default=0.0)


def fits_upright(
    bed: Sequence[float], footprint: tuple[float, float], height: float
) -> bool:
    """Whether a piece that stands fits a bed whose third side is upright.

    Args:
        bed: its three sides.
        footprint: of the piece, either way round.
        height: of the piece, in the unit of the bed.
    """
    (a, b), (wide, deep) = sorted(bed[:2]), sorted(footprint)
    return wide <= a and deep <= b and height <= bed[2]


def longest_upright(bed: Sequence[float], width: float, height: float) -> float:
    """Longest piece of a cross section that fits a bed whose third side is upright; 0 if none does.

    Args:
        bed: its three sides, mm.
        width: of the cross section, mm.
        height: of the cross section, mm.
    """
    if height > bed[2]:
        return 0.0
    return max((a for a, b in (bed[:2], bed[1::-1]) if width <= b), default=0.0)


def splits(
    plan: Layout, bed: Sequence[float] | None, key: float, clean: Array, upright: bool = False
) -> tuple[tuple[float, ...], bool]:
    """Planes x at which the halves are split, as few as can be, and whether all are clean.

    Args:
        plan: the layout.
        bed: three sides of the bed, mm, or None.
        key: length of the keys that stick out of a piece, mm.
        clean: planes that meet no pocket, mm.
        upright: pieces should fit a bed whose third side is upright as they lie, flange down; only
            where none does may they be turned.

    Raises:
        InputError: the cross section alone does not fit.
    """
    if bed is None:
        return (), True
    width = 2 * plan.half_width
    height = max(plan.outer - plan.bottom, plan.top - plan.parting)
    whole, least = plan.end - plan.start, 4 * plan.end_wall
    longest = longest_upright(bed, width, height) if upright else 0.0
    if longest < min(whole, least + key):
        longest = longest_piece(bed, width, height)
    if longest >= whole:
        return (), True
    most = longest - key
    if most < least:
        shown = " x ".join(f"{side:g}" for side in bed)
        raise InputError(
            f"mold.bed: a mold {width:.0f} mm wide and {height:.0f} mm high does not fit "
            f"{shown} mm; use a larger bed, more tube.segments or a narrower mold.flange_width"
        )
    for count in range(math.ceil(whole / most), 1000):
        wanted = plan.start + whole * np.arange(1, count) / count
        inside = clean[(clean > plan.start + least / 2) & (clean < plan.end - least / 2)]
        if len(inside):
            chosen = tuple(sorted({float(inside[np.argmin(np.abs(inside - x))]) for x in wanted}))
            edges = np.array([plan.start, *chosen, plan.end])
            if np.diff(edges).max() <= most:
                return chosen, True
        if count > 2 * math.ceil(whole / most) or not len(inside):
            break
    count = math.ceil(whole / most)
    return tuple(float(x) for x in plan.start + whole * np.arange(1, count) / count), False
