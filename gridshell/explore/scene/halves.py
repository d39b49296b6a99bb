"""Light mesh of both mold halves: the layout's profiles swept along the tube.

Where the casting's ribbed side lies against a half that side is left open here; the page closes it
with the casting's own surface, turned inside out and grown by the shrinkage. Holes, keys, grooves
and splits are left to the exact solids.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import mold_of
from gridshell.define.types import Array
from gridshell.explore.scene.shape import (
    FACET,
    Mesh,
    grid_mesh,
    joined,
    steps,
)
from gridshell.mold.pieces.layout import Layout, cavity_profile, core_profile, layout
from gridshell.mold.pieces.mold_set import shrinkage_of
from gridshell.mold.pieces.solids.plain import Arc, Profile, at_angle

_NEAR = 1e-6  # mm


def mold_halves(design: Design) -> tuple[dict[str, Mesh], float]:
    """Core and cavity half for one casting but for the ribbed side, mm, and mold over part.

    Raises:
        InputError: what ``[mold]`` states does not fit.
    """
    mold = mold_of(design)
    if design.tube.segments == 1:
        raise InputError("tube.segments: 1 has no seam; molds in halves need 2 or more")
    grow = 1 / (1 - shrinkage_of(design, mold)[0])
    plan = layout(design, mold, grow * 1e3)
    inside = plan.base == plan.inner
    core = outline(core_profile(plan))
    outer = _bored(plan)
    ends = ((plan.start, 0.0), (0.0, plan.length), (plan.length, plan.end))
    core_parts = [
        swept(core, span, plan.inner if inside and span[0] == 0.0 else None) for span in ends
    ]
    core_parts += [cap(core, plan.start, -1.0), cap(core, plan.end, 1.0)]
    shut = outline(cavity_profile(plan))
    cavity_parts = [
        swept(shut, ends[0]), swept(shut, ends[2]), cap(shut, plan.start, -1.0),
        cap(shut, plan.end, 1.0), swept(outer, ends[1], None if inside else plan.outer),
        _step(plan, 0.0, 1.0), _step(plan, plan.length, -1.0),
    ]
    return {"core": joined(core_parts), "cavity": joined(cavity_parts)}, grow


def outline(profile: Profile) -> Array:
    """A profile as a closed polygon (n, 2) of (y, z), counterclockwise, its arcs in facets."""
    points: list[Sequence[float]] = []
    items = list(profile)
    for index, item in enumerate(items):
        if not isinstance(item, Arc):
            points.append(item)
            continue
        first, last = items[index - 1], items[(index + 1) % len(items)]
        assert not isinstance(first, Arc) and not isinstance(last, Arc)
        radius = math.hypot(*first)
        a, b, middle = (math.atan2(p[1], p[0]) for p in (first, last, item.middle))
        turn = (b - a) % (2 * math.pi)
        if (middle - a) % (2 * math.pi) > turn:
            turn -= 2 * math.pi
        count = max(2, math.ceil(abs(turn) / FACET))
        points += [at_angle(radius, a + turn * i / count) for i in range(1, count)]
    polygon = np.array(points, float)
    after = np.roll(polygon, -1, axis=0)
    area = np.sum(polygon[:, 0] * after[:, 1] - after[:, 0] * polygon[:, 1])
    return polygon if area > 0 else polygon[::-1]


def _bored(plan: Layout) -> Array:
    """Cross section of the cavity half between its end walls."""
    seat = plan.inner + plan.clearance
    kept = [
        p for p in cavity_profile(plan) if not isinstance(p, Arc)
        and abs(math.hypot(*p) - seat) > _NEAR and abs(math.hypot(*p) - plan.outer) > _NEAR
    ]
    return outline([
        *kept, at_angle(plan.outer, plan.right), Arc(at_angle(plan.outer, math.pi / 2)),
        at_angle(plan.outer, plan.left),
    ])


def swept(polygon: Array, span: tuple[float, float], without: float | None = None) -> Mesh:
    """Sides of a prism; sides on the circle of radius ``without`` are left out."""
    after = np.roll(polygon, -1, axis=0)
    if without is not None:
        on = [np.abs(np.hypot(p[:, 0], p[:, 1]) - without) < 1e-3 for p in (polygon, after)]
        middle = np.hypot(*((polygon + after) / 2).T)
        keep = ~(on[0] & on[1] & (middle > 0.97 * without))
        polygon, after = polygon[keep], after[keep]
    edge = after - polygon
    normal = np.stack([np.zeros(len(edge)), edge[:, 1], -edge[:, 0]], axis=-1)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    quads = np.empty((len(edge), 2, 2, 3))
    for row, x in enumerate(span):
        quads[:, row, :, 0] = x
        quads[:, row, 0, 1:], quads[:, row, 1, 1:] = polygon, after
    return grid_mesh(quads, normal[:, None, None])


def cap(polygon: Array, x: float, sign: float) -> Mesh:
    """A polygon filled at x, facing along ``sign``: slabs between its corners' y.

    Every line of constant y crosses the polygon twice, as it does the layout's profiles.
    """
    after = np.roll(polygon, -1, axis=0)
    levels = np.unique(np.round(polygon[:, 0], 9))
    low, high = levels[:-1], levels[1:]
    middle = (low + high)[:, None] / 2
    crosses = (np.minimum(polygon[:, 0], after[:, 0]) < middle) & (
        np.maximum(polygon[:, 0], after[:, 0]) > middle)
    assert (crosses.sum(axis=1) == 2).all()
    pairs = np.nonzero(crosses)[1].reshape(-1, 2)  # the two sides that each slab lies between
    start, end = polygon[pairs], after[pairs]
    slope = (end[..., 1] - start[..., 1]) / (end[..., 0] - start[..., 0])
    ends = np.stack([low, high], axis=1)[:, None]
    height = start[..., 1:] + slope[..., None] * (ends - start[..., :1])  # (slab, side, y end)
    upside = height.sum(axis=2).argsort(axis=1)
    height = np.take_along_axis(height, upside[..., None], axis=1)
    quads = np.stack(np.broadcast_arrays(x, ends, height), axis=-1)
    return grid_mesh(quads, np.array([sign, 0.0, 0.0]), flip=sign < 0)


def _step(plan: Layout, x: float, sign: float) -> Mesh:
    """Face of an end wall towards the cavity, between the core's seat and the casting."""
    around = steps(plan.left, plan.right, FACET)
    radii = np.array([plan.inner + plan.clearance, plan.outer])
    angle, radius = np.meshgrid(around, radii)
    points = np.stack([np.full_like(angle, x), radius * np.cos(angle), radius * np.sin(angle)], -1)
    return grid_mesh(points, np.array([sign, 0.0, 0.0]), flip=sign > 0)
