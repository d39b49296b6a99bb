"""Closed outlines on the unrolled surface, many alike at once: straight sides and corner arcs.

An outline lives in (s, x): hoop length at the radius where it lies and axial length, mm. On the
cylinder a straight side becomes a helix and an arc stays an arc of the unrolled surface. Curves
in space are Bezier curves through points of the true curve; their degree is chosen so that they
leave it by less than `CURVE_ERROR`, a thousandth of what a printer or mill resolves.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.wall.geometry.pockets import corner_cotangents, inset_corners

CURVE_ERROR = 2e-6  # mm
HIGHEST_DEGREE = 14
# Turn of a corner, rad, that one edge takes: of wider arcs beside a border the kernel's checker
# draws polygons that cross it (a corner of 25 deg did).
WIDEST_ARC = math.radians(140)


@dataclass(frozen=True)
class Loops:
    """n outlines of m edges each, counterclockwise.

    Attributes:
        start: (n, m, 2) where each edge starts, mm.
        arc: (m,) whether edge j is an arc of every outline.
        center: (n, m, 2) centers of the arcs (of no meaning for straight edges).
        angle: (n, m) direction from the center to the start.
        sweep: (n, m) angle swept, rad.
        radius: arc radius, mm.
    """

    start: Array
    arc: tuple[bool, ...]
    center: Array
    angle: Array
    sweep: Array
    radius: float

    def points(self, edge: int, parameter: Array) -> Array:
        """Points (n, p, 2) of one edge at parameters (p,) from 0 to 1.

        Args:
            edge: number of the edge.
            parameter: (p,) from 0 to 1.
        """
        if self.arc[edge]:
            angle = self.angle[:, edge, None] + self.sweep[:, edge, None] * parameter
            around = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
            return self.center[:, edge, None, :] + self.radius * around
        after = (edge + 1) % len(self.arc)
        start, end = self.start[:, edge, None, :], self.start[:, after, None, :]
        return start + (end - start) * parameter[:, None]


def polygon_loops(corners: Array, inset: float, rounding: float, arcs: int = 1) -> Loops:
    """Polygons (n, k, 2) moved in by ``inset`` and rounded by ``rounding``; sharp if that is 0.

    The caller makes sure that ``inset + rounding`` fits into every polygon.

    Args:
        corners: (n, k, 2), mm.
        inset: how far the sides move in, mm.
        rounding: radius of the corners, mm.
        arcs: that each corner is made of.
    """
    count, k = corners.shape[:2]
    core = inset_corners(corners, np.full(count, inset + rounding))
    if rounding == 0:
        none = np.zeros((count, k))
        return Loops(core, (False,) * k, core, none, none, 0.0)
    side = np.roll(core, -1, axis=1) - core
    unit = side / np.linalg.norm(side, axis=-1, keepdims=True)
    outward = np.stack([unit[..., 1], -unit[..., 0]], axis=-1)
    line_start = core + rounding * outward
    line_end = np.roll(core, -1, axis=1) + rounding * outward
    center = np.roll(core, -1, axis=1)
    angle = np.arctan2(outward[..., 1], outward[..., 0])
    turning = np.roll(math.pi - corner_cotangents(corners)[1], -1, axis=1)
    part = turning[..., None] * np.arange(arcs) / arcs
    along = angle[..., None] + part
    on = center[:, :, None] + rounding * np.stack([np.cos(along), np.sin(along)], axis=-1)
    on[:, :, 0] = line_end
    start = np.concatenate([line_start[:, :, None], on], axis=2).reshape(count, -1, 2)
    each = 1 + arcs
    return Loops(
        start, (False, *(True,) * arcs) * k, np.repeat(center, each, axis=1),
        np.concatenate([angle[..., None], along], axis=2).reshape(count, -1),
        np.repeat(turning / arcs, each, axis=1), rounding)


def arcs_of(corners: Array) -> int:
    """Arcs that each corner of polygons (n, k, 2) is made of, see `polygon_loops`."""
    turning = math.pi - float(corner_cotangents(corners)[1].min())
    return max(math.ceil(turning / WIDEST_ARC), 1)


def circle_loops(centers: Array, radius: float) -> Loops:
    """Circles of one radius about centers (n, 2), as eight arcs each.

    Of four the kernel's checker draws polygons so coarse that it takes a circle close to the border
    of its face for one that crosses it.

    Args:
        centers: (n, 2) middles, mm.
        radius: of the cylinder, mm.
    """
    count = len(centers)
    angle = np.broadcast_to(np.arange(8) * math.pi / 4, (count, 8))
    center = np.repeat(centers[:, None, :], 8, axis=1)
    start = center + radius * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    return Loops(start, (True,) * 8, center, angle, np.full((count, 8), math.pi / 4), radius)


def rectangle_corners(centers: Array, width: float, height: float) -> Array:
    """Corners (n, 4, 2) of upright rectangles about centers (n, 2).

    Args:
        centers: (n, 2) middles, mm.
        width: mm.
        height: mm.
    """
    offsets = np.array([[-width, -height], [width, -height], [width, height], [-width, height]])
    return np.asarray(centers[:, None, :] + offsets / 2)


@functools.lru_cache(maxsize=32)
def fitting(degree: int) -> tuple[Array, Array]:
    """Parameters (degree + 1,) to sample a curve at, and the matrix from samples to Bezier poles.

    The samples are Chebyshev points with both ends, so the curve starts and ends exactly and
    its error is near the least possible.

    Args:
        degree: of the Bezier curve.
    """
    parameter = (1 - np.cos(np.pi * np.arange(degree + 1) / degree)) / 2
    index = np.arange(degree + 1)
    binomial = np.array([math.comb(degree, i) for i in index], float)
    basis = binomial * parameter[:, None] ** index * (1 - parameter[:, None]) ** (degree - index)
    return parameter, np.asarray(np.linalg.inv(basis), float)


def degree_for(sweep: float, radius: float) -> int:
    """Least Bezier degree that follows an arc of ``sweep`` (rad) and ``radius`` (mm).

    Interpolation at Chebyshev points of degree n leaves a sine by at most
    2 (sweep/4)^(n+1) / (n+1)! of its amplitude (standard bound of polynomial interpolation).

    Args:
        sweep: rad.
        radius: mm.
    """
    for degree in range(3, HIGHEST_DEGREE):
        error = 2 * (sweep / 4) ** (degree + 1) / math.factorial(degree + 1) * radius
        if error < CURVE_ERROR:
            return degree
    return HIGHEST_DEGREE


def edge_degree(loops: Loops, edge: int, radius: float) -> int:
    """Degree for one edge of the loops on a cylinder of ``radius``, the same for all n.

    Args:
        loops: the outlines.
        edge: number of the edge.
        radius: of the cylinder, mm.
    """
    after = (edge + 1) % len(loops.arc)
    round_ = float(np.abs(loops.start[:, edge, 0] - loops.start[:, after, 0]).max()) / radius
    degree = degree_for(round_, radius)
    if loops.arc[edge]:
        # The arc is wound round the cylinder as well: one degree more than a plane arc needs.
        degree = max(degree, degree_for(float(loops.sweep[:, edge].max()), loops.radius)) + 1
    return degree


def on_cylinder(points: Array, radius: Array | float) -> Array:
    """Points (..., 2) of (angle, x) at a radius, in space (..., 3); the tube's axis is x.

    Args:
        points: (..., 2) of (angle, x), rad and mm.
        radius: mm.
    """
    angle, x = points[..., 0], points[..., 1]
    return np.stack([x, radius * np.cos(angle), radius * np.sin(angle)], axis=-1)
