"""Every rib flank of a panel as points, normals and rulings: what a pull or a bubble runs into.

Angles are counted from the crown, the middle of the casting. The frame is (x along the tube, side,
up): up points from the tube's axis to the crown. A flank is the ruled surface between a pocket's
outline at the skin and at the rib tips, the very surface that the solids are built from.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array, Quantity
from gridshell.mold.relief.outline import Loops, polygon_loops
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import at_radius, pocket_outline_at, rib_side

SHARP = 1e-7  # m, stands for a sharp corner so that every outline has its arcs
_ALONG = np.array([0.02, 0.25, 0.5, 0.75, 0.98])  # where a flank is looked at, of its length
_UPWARDS = np.array([0.0, 0.5, 1.0])  # and of its height, from the skin to the rib tip


@dataclass(frozen=True)
class Flanks:
    """Places on the flanks of one panel's ribs; n places, three heights at each.

    Attributes:
        angle: (n,) from the crown, at the skin, rad.
        node: (n,) angle of the rib crossing that a corner belongs to; ``angle`` along sides.
        x: (n,) along the casting, m.
        normal: (n, 3, 3) unit normal out of the rib at the skin, half way and the tip.
        ruling: (n, 3) from the skin to the tip, m.
        edge: (n, 3) unit direction of the flank along the skin.
        length: (n,) of flank that the place stands for, m.
        corner: (n,) True on the arc of a pocket corner.
        pocket: (n,) number of the pocket.
        height: of the rib, m.
    """

    angle: Array
    node: Array
    x: Array
    normal: Array
    ruling: Array
    edge: Array
    length: Array
    corner: np.ndarray
    pocket: np.ndarray
    height: float

    @property
    def area(self) -> Array:
        """Flank area that each place stands for, m2."""
        return np.asarray(self.length * np.linalg.norm(self.ruling, axis=-1))


def panel_flanks(design: Design, grid: Lattice, ribs: Ribbing) -> Flanks:
    """Flanks of every pocket of one casting, as `Flanks`; none for a pattern without pockets.

    Args:
        design: one design.
        grid: its lattice.
        ribs: the pockets as they are molded, see `gridshell.mold.relief.ribbing.ribbing`.
    """
    parts: list[tuple[Array, ...]] = []
    numbered = 0
    for group in ribs.pockets:
        own = with_values(design, {"ribs.corner_radius": group.corner_radius})
        ends = []
        for depth in (0.0, float(design.ribs.height)):
            radius, inset, rounding = (float(v) for v in pocket_outline_at(own, grid, depth))
            corners = at_radius(group.corners, np.full(len(group.corners), radius), grid.radius)
            ends.append((polygon_loops(corners, inset, max(rounding, SHARP)), radius))
        parts.append(_of_kind(ends, group.corners[..., 0] / float(grid.radius), numbered))
        numbered += len(group.corners)
    if not parts:
        none, vector = np.zeros(0), np.zeros((0, 3))
        return Flanks(
            none, none, x=none, normal=np.zeros((0, 3, 3)), ruling=vector, edge=vector, length=none,
            corner=np.zeros(0, bool), pocket=np.zeros(0, int), height=float(design.ribs.height),
        )
    joined = [np.concatenate(columns) for columns in zip(*parts, strict=True)]
    angle, node, x, normal, ruling, edge, length, corner, pocket = joined
    return Flanks(
        angle, node, x=x, normal=normal, ruling=ruling, edge=edge, length=length, corner=corner,
        pocket=pocket, height=float(design.ribs.height),
    )


def _of_kind(
    ends: list[tuple[Loops, float]], crossings: Array, first: int
) -> tuple[Array, ...]:
    (floor, floor_radius), (tip, tip_radius) = ends
    count, edges = floor.start.shape[:2]
    step, half = 1e-5, len(_ALONG)
    # Each edge at the samples, and a step further for its direction: (edges, n, samples, 3).
    parameter = np.concatenate([_ALONG, _ALONG + step])
    (low, low_angle), (high, _) = (
        _in_space(np.stack([loops.points(edge, parameter) for edge in range(edges)]), radius)
        for loops, radius in ((floor, floor_radius), (tip, tip_radius)))
    along_low = (low[:, :, half:] - low[:, :, :half]) / step
    along_high = (high[:, :, half:] - high[:, :, :half]) / step
    ruling = high[:, :, :half] - low[:, :, :half]
    along = along_low[..., None, :] * (1 - _UPWARDS[:, None]) + (
        along_high[..., None, :] * _UPWARDS[:, None])
    normal = np.cross(along, ruling[..., None, :])
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    # Outlines run counterclockwise seen from outside, so the pocket lies to their left.
    outward = _left(low[:, :, :half], along_low)
    normal *= np.sign(np.sum(normal * outward[..., None, :], axis=-1, keepdims=True))
    length = np.linalg.norm(along_low, axis=-1)
    rows = edges * count * half
    here = low_angle[:, :, :half]
    arc = np.broadcast_to(np.array(floor.arc)[:, None, None], here.shape)
    # Edges alternate: a side, then the arc of the corner at its end.
    corner = (np.arange(edges) // 2 + 1) % crossings.shape[1]
    node = np.where(arc, crossings.T[corner][:, :, None], here)
    pocket = np.broadcast_to(first + np.arange(count)[:, None], here.shape)
    return (
        here.reshape(rows), node.reshape(rows), low[:, :, :half, 0].reshape(rows),
        normal.reshape(rows, 3, 3), ruling.reshape(rows, 3),
        (along_low / length[..., None]).reshape(rows, 3), (length / half).reshape(rows),
        arc.reshape(rows), pocket.reshape(rows),
    )


def _in_space(points: Array, radius: float) -> tuple[Array, Array]:
    """Unrolled points (..., 2) at a radius as (x, side, up), and their angle from the crown."""
    angle = points[..., 0] / radius
    return np.stack(
        [points[..., 1], radius * np.sin(angle), radius * np.cos(angle)], axis=-1), angle


def _left(place: Array, along: Array) -> Array:
    """Direction in the surface to the left of ``along``, seen from outside."""
    outward = place * np.array([0.0, 1.0, 1.0])
    # (s, x) is a right-handed pair seen from outside when s grows to the side: side x axial.
    return np.asarray(-np.cross(outward, along))


def out_of_mold(design: Design) -> float:
    """+1 when a piece leaves the half with the grooves upwards (core, ribs inside), else -1."""
    return -rib_side(design)


def lock_angle(draft: Quantity, cosine: Quantity) -> Quantity:
    """Angle from the pull direction beyond which a rib's flank locks on a straight pull, rad.

    The flank's normal leans by the draft; with the rib at angle theta from the axis the component
    along the pull is cos(draft) cos(theta) sin(phi) - sin(draft) cos(phi), which is positive
    (locked) from tan(phi) = tan(draft)/cos(theta). Derived here; a hoop rib (cosine 0) never
    locks.

    Args:
        draft: of the flanks, rad.
        cosine: of the angle between rib and axis.

    >>> round(float(np.degrees(lock_angle(np.radians(3.0), 1.0))), 6)  # axial: at the draft
    3.0
    >>> round(float(np.degrees(lock_angle(np.radians(3.0), 0.0))), 6)
    90.0
    """
    return np.arctan2(np.tan(draft), np.abs(cosine))
