"""Outline of a pocket: a polygon of rib center lines, each side moved in by half a rib.

Everything that weighs, molds or draws a pocket starts from these functions, so the part that is
weighed is the part that is cast. Corners are convex throughout (triangles, rectangles, rhombi).
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity


def _sides(corners: Array) -> tuple[Array, Array]:
    """Side vectors from each corner to the next, and their lengths."""
    vector = np.roll(corners, -1, axis=-2) - corners
    return vector, np.hypot(vector[..., 0], vector[..., 1])


def corner_cotangents(corners: Array) -> tuple[Array, Array]:
    """cot(angle/2) and angle at each corner of a convex polygon.

    Args:
        corners: (..., k, 2), counterclockwise, m.
    Returns:
        two arrays (..., k).
    """
    vector, length = _sides(corners)
    unit = vector / length[..., None]
    before = np.roll(unit, 1, axis=-2)
    # Exterior (turning) angle between the side before and the side after the corner.
    cosine = np.sum(before * unit, axis=-1)
    sine = before[..., 0] * unit[..., 1] - before[..., 1] * unit[..., 0]
    turning = np.arctan2(sine, cosine)
    return np.tan(turning / 2), np.pi - turning


def polygon_area(corners: Array) -> Quantity:
    """Area of a counterclockwise polygon (..., k, 2), m2."""
    after = np.roll(corners, -1, axis=-2)
    cross = corners[..., 0] * after[..., 1] - corners[..., 1] * after[..., 0]
    return np.sum(cross, axis=-1) / 2


def inscribed_radius(corners: Array) -> Quantity:
    """Largest distance by which all sides can move in, m: the inscribed circle of a triangle or
    rhombus, half the shorter side of a rectangle."""
    _, length = _sides(corners)
    cot, _ = corner_cotangents(corners)
    # A side vanishes when it has moved in by length / (sum of the cotangents at its ends).
    return np.min(length / (cot + np.roll(cot, -1, axis=-1)), axis=-1)


def outline_area(corners: Array, inset: Quantity, corner_radius: Quantity = 0.0) -> Quantity:
    """Area of the outline after moving each side in and rounding the corners, m2.

    With polygon area P, perimeter L and corner angles a_i the inset polygon has
    P - L d + d^2 sum cot(a_i/2), and rounding takes r^2 sum [cot(a_i/2) - (pi - a_i)/2]; plane
    geometry. Zero when nothing is left.

    Args:
        corners: (..., k, 2), m.
        inset: how far each side moves in, m.
        corner_radius: m.

    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> round(float(outline_area(square, 0.1, 0.2)), 6)  # 0.64 - 0.04 (4 - pi)
    0.605664
    """
    _, length = _sides(corners)
    cot, angle = corner_cotangents(corners)
    total = np.sum(cot, axis=-1)
    area = polygon_area(corners) - np.sum(length, axis=-1) * inset + inset**2 * total
    area = area - corner_radius**2 * (total - np.sum(np.pi - angle, axis=-1) / 2)
    return np.where(inset < inscribed_radius(corners), np.maximum(area, 0.0), 0.0)


def outline_perimeter(corners: Array, inset: Quantity, corner_radius: Quantity = 0.0) -> Quantity:
    """Length of that outline, m; zero when nothing is left."""
    _, length = _sides(corners)
    cot, angle = corner_cotangents(corners)
    total = np.sum(cot, axis=-1)
    perimeter = (
        np.sum(length, axis=-1)
        - 2 * inset * total
        - corner_radius * (2 * total - np.sum(np.pi - angle, axis=-1))
    )
    return np.where(inset < inscribed_radius(corners), np.maximum(perimeter, 0.0), 0.0)


def inset_corners(corners: Array, inset: Quantity) -> Array:
    """Corners (..., k, 2) of the polygon after moving each side in by ``inset``, m.

    The caller makes sure that ``inset`` is below `inscribed_radius`.
    """
    vector, length = _sides(corners)
    unit = vector / length[..., None]
    cot, _ = corner_cotangents(corners)
    normal = np.stack([-unit[..., 1], unit[..., 0]], axis=-1)
    # Along the bisector: in by `inset` from the side after, and along it by inset * cot(angle/2).
    shift = normal + unit * cot[..., None]
    return corners + np.asarray(inset)[..., None, None] * shift


def rounded_points(
    corners: Array, inset: float, corner_radius: float, chords: int = 8
) -> Array:
    """Points (m, 2) of one inset and rounded outline, for drawing; arcs as chords.

    Args:
        corners: (k, 2), m. inset, corner_radius: m, together below `inscribed_radius`.
        chords: straight pieces of each arc.
    """
    core = inset_corners(corners, inset + corner_radius)
    if corner_radius == 0:
        return core
    side = np.roll(core, -1, axis=0) - core
    outward = np.stack([side[:, 1], -side[:, 0]], axis=-1)
    angle_after = np.arctan2(outward[:, 1], outward[:, 0])
    angle_before = np.roll(angle_after, 1)
    sweep = np.mod(angle_after - angle_before, 2 * np.pi)
    turn = angle_before[:, None] + sweep[:, None] * np.linspace(0.0, 1.0, chords + 1)
    around = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    return (core[:, None, :] + corner_radius * around).reshape(-1, 2)
