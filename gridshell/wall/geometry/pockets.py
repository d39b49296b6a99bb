"""Outline of a pocket: a polygon of rib center lines, each side moved in by half a rib.

Everything that weighs, molds or draws a pocket starts from these functions, so the part that is
weighed is the part that is cast. Corners are convex throughout (triangles, rectangles, rhombi).
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, IntArray, Quantity


def _turned(count: int, step: int) -> IntArray:
    """Numbers of the corners one further (1) or one back (-1)."""
    return (np.arange(count) + step) % count


def _sides(corners: Array) -> tuple[Array, Array]:
    """Side vectors from each corner to the next, and their lengths."""
    # Picking by number is several times faster than np.roll on these few corners.
    vector = corners[..., _turned(corners.shape[-2], 1), :] - corners
    return vector, np.hypot(vector[..., 0], vector[..., 1])


def half_angle_cotangents(corners: Array) -> Array:
    """cot(angle/2) at each corner of a convex polygon (..., k, 2), counterclockwise: (..., k)."""
    vector, length = _sides(corners)
    back = _turned(corners.shape[-2], -1)
    before, length_before = vector[..., back, :], length[..., back]
    # tan of half the turning angle, by (1 - cos)/sin of the turn; no trigonometry needed.
    cross = before[..., 0] * vector[..., 1] - before[..., 1] * vector[..., 0]
    dot = before[..., 0] * vector[..., 0] + before[..., 1] * vector[..., 1]
    return (length_before * length - dot) / cross


def corner_cotangents(corners: Array) -> tuple[Array, Array]:
    """cot(angle/2) and angle (rad) at each corner of a convex polygon.

    Args:
        corners: (..., k, 2), counterclockwise, m.
    Returns:
        two arrays (..., k).
    """
    cot = half_angle_cotangents(corners)
    return cot, np.pi - 2 * np.arctan(cot)


def polygon_area(corners: Array) -> Quantity:
    """Area of a counterclockwise polygon (..., k, 2), m2."""
    after = corners[..., _turned(corners.shape[-2], 1), :]
    cross = corners[..., 0] * after[..., 1] - corners[..., 1] * after[..., 0]
    answer: Quantity = np.sum(cross, axis=-1) / 2
    return answer


def _inset_room(length: Array, cot: Array) -> Quantity:
    """Inset at which the first side vanishes, m."""
    # A side vanishes when it has moved in by length / (sum of the cotangents at its ends).
    answer: Quantity = np.min(length / (cot + cot[..., _turned(cot.shape[-1], 1)]), axis=-1)
    return answer


def inscribed_radius(corners: Array) -> Quantity:
    """Largest distance by which all sides can move in, m: the inscribed circle of a triangle or
    rhombus, half the shorter side of a rectangle."""
    return _inset_room(_sides(corners)[1], half_angle_cotangents(corners))


def outline_area(corners: Array, inset: Quantity, corner_radius: Quantity = 0.0) -> Quantity:
    """Area of the outline after moving each side in and rounding the corners, m2.

    With polygon area P, perimeter L and corner angles a_i the inset polygon has
    P - L d + d^2 S, S = sum cot(a_i/2), and rounding takes r^2 (S - pi), since the turning
    angles of a convex polygon add up to 2 pi; plane geometry. Zero when nothing is left.

    Args:
        corners: (..., k, 2), m.
        inset: how far each side moves in, m.
        corner_radius: m.

    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> round(float(outline_area(square, 0.1, 0.2)), 6)  # 0.64 - 0.04 (4 - pi)
    0.605664
    """
    length, cot = _sides(corners)[1], half_angle_cotangents(corners)
    total = np.sum(cot, axis=-1)
    area = polygon_area(corners) - np.sum(length, axis=-1) * inset + inset**2 * total
    area = area - corner_radius**2 * (total - np.pi)
    return np.where(inset < _inset_room(length, cot), np.maximum(area, 0.0), 0.0)


def outline_perimeter(corners: Array, inset: Quantity, corner_radius: Quantity = 0.0) -> Quantity:
    """Length of that outline, L - 2 d S - 2 r (S - pi), m; zero when nothing is left."""
    length, cot = _sides(corners)[1], half_angle_cotangents(corners)
    total = np.sum(cot, axis=-1)
    perimeter = np.sum(length, axis=-1) - 2 * inset * total - 2 * corner_radius * (total - np.pi)
    return np.where(inset < _inset_room(length, cot), np.maximum(perimeter, 0.0), 0.0)


def inset_corners(corners: Array, inset: Quantity) -> Array:
    """Corners (..., k, 2) of the polygon after moving each side in by ``inset``, m.

    The caller makes sure that ``inset`` is below `inscribed_radius`.
    """
    vector, length = _sides(corners)
    unit = vector / length[..., None]
    cot = half_angle_cotangents(corners)
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
