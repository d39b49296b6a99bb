"""Shell mesh of a tube: the middle surface of its skin, with the A, B, D of the ribbed wall.

Coordinates: x along the axis from the left end, then the hoop angle from z towards y, so that
axial, hoop and outward are right-handed and the first side of every element runs along the axis.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.types import Array, IntArray
from gridshell.wall.assess import Wall

MOST_NODES = 200_000
_LEAST_ROUND = 48


@dataclass(frozen=True)
class ShellMesh:
    """An even mesh of four-node shells.

    Attributes:
        points: (nodes, 3), m; the last two are the centers of the left and the right end.
        quads: (elements, 4) nodes from 0, counterclockwise seen from outside.
        left: nodes of the left end.
        right: nodes of the right end.
        centers: nodes in the middle of the left and the right end.
        radius: of the middle surface, m.
        length: m.
    """

    points: Array
    quads: IntArray
    left: IntArray
    right: IntArray
    centers: tuple[int, int]
    radius: float
    length: float


def shell_mesh(design: Design, wall: Wall, per_pocket: float = 1.0) -> ShellMesh:
    """Mesh of the skin's middle surface from end to end.

    Args:
        design: one design.
        wall: of the design.
        per_pocket: elements in one cell of the grid each way; at least 48 round the tube.

    Raises:
        InputError: the mesh would have more than `MOST_NODES` nodes, or less than one element in
            four cells.
    """
    if not per_pocket >= 0.25:
        raise InputError(f"--per-pocket {per_pocket:g}: must be at least 0.25")
    radius, length = float(wall.grid.radius), float(design.tube.length)
    wide = float(wall.grid.cell_width) if design.has_ribs else 2 * np.pi * radius / 96
    high = float(wall.grid.cell_height) if design.has_ribs else wide
    around = max(int(np.ceil(2 * np.pi * radius / wide * per_pocket)), _LEAST_ROUND)
    along = max(int(np.ceil(length / high * per_pocket)),
                int(np.ceil(length / (2 * np.pi * radius / around) / 3)), 4)
    if (along + 1) * around > MOST_NODES:
        raise InputError(
            f"--per-pocket {per_pocket:g}: makes {(along + 1) * around:,} nodes, more than "
            f"{MOST_NODES:,}; use fewer")
    x = np.linspace(0.0, length, along + 1)
    angle = 2 * np.pi * np.arange(around) / around
    points = np.stack([
        np.repeat(x, around), np.tile(radius * np.sin(angle), along + 1),
        np.tile(radius * np.cos(angle), along + 1)], axis=1)
    number = np.arange((along + 1) * around).reshape(along + 1, around)
    turned = np.roll(number, -1, axis=1)
    quads = np.stack([number[:-1], number[1:], turned[1:], turned[:-1]], axis=-1).reshape(-1, 4)
    count = len(points)
    centers = np.array([[0.0, 0.0, 0.0], [length, 0.0, 0.0]])
    return ShellMesh(
        np.concatenate([points, centers]), quads, left=number[0], right=number[-1],
        centers=(count, count + 1), radius=radius, length=length,
    )
