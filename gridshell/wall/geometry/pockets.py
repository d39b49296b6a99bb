"""Outline of a pocket: a polygon of rib center lines, each side moved in by half a rib.

Everything that weighs, molds or draws a pocket starts from these functions, so the part that is
weighed is the part that is cast. Corners are convex throughout (triangles, rectangles, rhombi).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridshell.define.compiling import for_many, formula, where
from gridshell.define.types import Array, IntArray, Quantity


def _turned(count: int, step: int) -> IntArray:
    """Numbers of the corners one further (1) or one back (-1)."""
    return (np.arange(count) + step) % count


def _sides(corners: Array) -> tuple[Array, Array]:
    """Side vectors from each corner to the next, and their lengths."""
    # Picking by number is several times faster than np.roll on these few corners.
    vector = corners[..., _turned(corners.shape[-2], 1), :] - corners
    return vector, np.hypot(vector[..., 0], vector[..., 1])


@formula
def _half_cotangent(
    x: Quantity, y: Quantity, x_after: Quantity, y_after: Quantity, lengths: Quantity
) -> Quantity:
    """cot(angle/2) between a side and the one after it; ``lengths`` is the product of theirs."""
    return (lengths - x * x_after - y * y_after) / (x * y_after - y * x_after)


def half_angle_cotangents(corners: Array) -> Array:
    """cot(angle/2) at each corner of a convex polygon (..., k, 2), counterclockwise: (..., k)."""
    vector, length = _sides(corners)
    back = _turned(corners.shape[-2], -1)
    before, length_before = vector[..., back, :], length[..., back]
    # tan of half the turning angle, by (1 - cos)/sin of the turn; no trigonometry needed.
    return np.asarray(_half_cotangent(
        before[..., 0], before[..., 1], vector[..., 0], vector[..., 1], length_before * length))


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
    """Area of a polygon (..., k, 2), positive if it runs counterclockwise, in its unit squared."""
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


@formula
def _outline(
    x: Sequence[Quantity], y: Sequence[Quantity], inset: Quantity, corner_radius: Quantity
) -> tuple[Quantity, Quantity]:
    """Area and perimeter; see `outline_area` and `outline_perimeter`."""
    last = len(x) - 1
    side_x, side_y = x[0] - x[last], y[0] - y[last]
    side = np.sqrt(side_x * side_x + side_y * side_y)
    whole: Quantity = 0.0 * side
    around: Quantity = 0.0 * side
    total: Quantity = 0.0 * side
    room: Quantity = np.inf + side
    first, before = total, total
    for i in range(last + 1):
        after = i + 1 if i < last else 0
        next_x, next_y = x[after] - x[i], y[after] - y[i]
        length = np.sqrt(next_x * next_x + next_y * next_y)
        cot = _half_cotangent(side_x, side_y, next_x, next_y, side * length)
        if i == 0:
            first = cot
        else:
            room = np.minimum(room, side / (before + cot))
        whole = whole + (x[i] * y[after] - x[after] * y[i]) / 2
        around = around + length
        total = total + cot
        side_x, side_y, side, before = next_x, next_y, length, cot
    room = np.minimum(room, side / (before + first))
    area = (
        whole - around * inset + inset * inset * total - corner_radius**2 * (total - np.pi))
    perimeter = around - 2 * inset * total - 2 * corner_radius * (total - np.pi)
    left = inset < room
    return (where(left, np.maximum(area, 0.0), 0.0), where(left, np.maximum(perimeter, 0.0), 0.0))


@for_many(2)
def _triangle(
    x1: Quantity, y1: Quantity, x2: Quantity, y2: Quantity, x3: Quantity, y3: Quantity,
    inset: Quantity, corner_radius: Quantity,
) -> tuple[Quantity, Quantity]:
    return _outline((x1, x2, x3), (y1, y2, y3), inset, corner_radius)


@for_many(2)
def _quadrangle(
    x1: Quantity, y1: Quantity, x2: Quantity, y2: Quantity, x3: Quantity, y3: Quantity,
    x4: Quantity, y4: Quantity, inset: Quantity, corner_radius: Quantity,
) -> tuple[Quantity, Quantity]:
    return _outline((x1, x2, x3, x4), (y1, y2, y3, y4), inset, corner_radius)


def _measured(
    corners: Array, inset: Quantity, corner_radius: Quantity
) -> tuple[Quantity, Quantity]:
    count = corners.shape[-2]
    placed = [corners[..., i, k] for i in range(count) for k in (0, 1)]
    if count == 3:
        return _triangle(*placed, inset, corner_radius)  # type: ignore[call-arg]
    if count == 4:
        return _quadrangle(*placed, inset, corner_radius)  # type: ignore[call-arg]
    return _outline(placed[::2], placed[1::2], inset, corner_radius)


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
    return _measured(corners, inset, corner_radius)[0]


def outline_perimeter(corners: Array, inset: Quantity, corner_radius: Quantity = 0.0) -> Quantity:
    """Length of that outline, L - 2 d S - 2 r (S - pi), m; zero when nothing is left."""
    return _measured(corners, inset, corner_radius)[1]


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
