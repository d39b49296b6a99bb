"""The whole tube as one mesh: the quarter cell of `cell_mesh` repeated, mirrored and bent round.

Every quarter of a cell has its mirror image beside it, so the tube ends and the plane of bending
lie on mirror lines of the grid and the mesh is conforming without a seam. A solid land is a row of
quarter cells with filled pockets, stretched to the land's width. Elements are hexahedra with 20
nodes whose middle nodes lie on the true cylinder.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from gridshell.define.types import Array, BoolArray, IntArray
from gridshell.proof.cell.geometry import Cell, Resolution
from gridshell.proof.cell.mesh import filled_quarter_cell, quarter_cell

# Corners in the order of the solver (bottom ring, top ring) as positions in the bit order
# 000, 001, 010, 100, 011, 101, 110, 111 of `cell_mesh`, and the same seen in a mirror.
_RING = np.array([0, 3, 6, 2, 1, 5, 7, 4])
_RING_MIRRORED = np.array([0, 2, 6, 3, 1, 4, 7, 5])
# Edges in the order of the middle nodes 9 to 20, and faces, as corners of the ring order.
_EDGES = np.array([[0, 1], [1, 2], [2, 3], [3, 0], [4, 5], [5, 6], [6, 7], [7, 4],
                   [0, 4], [1, 5], [2, 6], [3, 7]])
_FACES = np.array([[0, 1, 2, 3], [4, 7, 6, 5], [0, 4, 5, 1],
                   [1, 5, 6, 2], [2, 6, 7, 3], [3, 7, 4, 0]])
PLAIN_SIDE = 0.8  # side of an element of a plain tube over sqrt(radius x thickness)


@dataclass(frozen=True)
class TubeMesh:
    """Mesh of a tube or of its half at one side of the plane of bending.

    Attributes:
        points: (nodes, 3), m: along the axis, then the two directions across; the plane of
            bending holds the first two.
        angle: of each node round the tube, 0 in the plane of bending, rad, (nodes,).
        height: of each node above the skin's middle surface, m, (nodes,).
        elements: (elements, 20) nodes, corners first.
        faces: (faces, 2) element and number (from 1) of the faces on the smooth side of the skin.
        skin: corner nodes on the smooth side.
        length: of the meshed tube, m.
        radius: of its skin's middle surface, m.
        whole: all round, instead of half.
    """

    points: Array
    angle: Array
    height: Array
    elements: IntArray
    faces: IntArray
    skin: IntArray
    length: float
    radius: float
    whole: bool

    @property
    def unknowns(self) -> int:
        """Three for each node, before any is held."""
        return self.points.size

    def end(self, right: bool) -> IntArray:
        """Nodes of one end."""
        place = self.length if right else 0.0
        return np.flatnonzero(np.abs(self.points[:, 0] - place) < 1e-6 * self.length)

    @property
    def plane(self) -> IntArray:
        """Nodes in the plane of bending (half tubes)."""
        return np.flatnonzero(np.abs(self.points[:, 2]) < 1e-6 * self.radius)

    @property
    def volume(self) -> float:
        """Of the meshed part with straight element sides, m3 (a check)."""
        a, b, c = (self.points[self.elements[:, k]] - self.points[self.elements[:, 0]]
                   for k in (1, 3, 4))
        return float(np.sum(np.einsum("ij,ij->i", np.cross(a, b), c)))


def fitted(cell: Cell, length: float) -> tuple[Cell, int, int]:
    """The cell stretched a little, and how many halves of it fit along and round the tube.

    A plain wall gets a rectangle that suits its own waves.
    """
    if cell.pattern == "plain" or not cell.height > 0:
        side = 2 * PLAIN_SIDE * np.sqrt(cell.radius * cell.thickness)
        cell = replace(cell, pattern="plain", along_axis=side, round_hoop=side)
    along = max(round(2 * length / cell.along_axis), 1)
    # An even number of halves round: the pattern closes.
    around = 2 * max(round(2 * np.pi * cell.radius / cell.round_hoop), 2)
    return replace(cell, along_axis=2 * length / along,
                   round_hoop=4 * np.pi * cell.radius / around), along, around


@dataclass(frozen=True)
class Strip:
    """A row of quarter cells, along the tube or round it.

    Attributes:
        start: m.
        width: m.
        land: pockets are filled.
    """

    start: float
    width: float
    land: bool = False


def even_strips(count: int, span: float) -> list[Strip]:
    """Strips of equal width, one after the other."""
    return [Strip(k * span, span) for k in range(count)]


def copied(
    flat: Array, spans: tuple[float, float], along: list[Strip], around: list[Strip]
) -> Array:
    """Copies of the points of a quarter cell, every other one a mirror image.

    Args:
        flat: (points, 2 or 3), axial, hoop and height, m.
        spans: length of the quarter cell along and round, m.
        along: strips along the tube.
        around: strips round it.

    Returns:
        (copies, points, 2 or 3), strips round the tube counting fastest.
    """
    parts = []
    for axis, strips in enumerate((along, around)):
        share = flat[:, axis] / spans[axis]
        parts.append(np.stack([
            strip.start + strip.width * (1 - share if k % 2 else share)
            for k, strip in enumerate(strips)]))
    x, y = np.broadcast_arrays(parts[0][:, None], parts[1][None])
    rest = np.broadcast_to(flat[:, 2:], (*x.shape, flat.shape[1] - 2))
    moved = np.concatenate([x[..., None], y[..., None], rest], axis=-1)
    return np.asarray(moved.reshape(-1, *flat.shape))


def tube_mesh(cell: Cell, length: float, size: Resolution, whole: bool = False) -> TubeMesh:
    """Mesh of the tube without lands.

    Args:
        cell: repeating rectangle on its radius.
        length: of the tube, m; the cell is stretched so that a whole number of halves fit.
        size: elements of a quarter cell.
        whole: all round, or half, theta from 0 to pi.

    Raises:
        InputError: the cell can't be meshed.
    """
    cell, along, around = fitted(cell, length)
    return strip_mesh(
        cell, size, even_strips(along, cell.along_axis / 2),
        even_strips(around if whole else around // 2, cell.round_hoop / 2), whole)


def strip_mesh(
    cell: Cell, size: Resolution, along: list[Strip], around: list[Strip], whole: bool,
    keep: Callable[[Array, IntArray, BoolArray, BoolArray], BoolArray] | None = None,
) -> TubeMesh:
    """Mesh of strips, one beside the other.

    Args:
        cell: repeating rectangle on its radius.
        size: elements of a quarter cell.
        along: strips along the tube, an even number of halves of the cell and lands.
        around: strips round it; where they go all round, an even number of them.
        whole: they go all round.
        keep: told places (axial, arc, height) of all nodes, elements (elements, 8), which of them
            fill a pocket and which lie in a land; says which elements stay. None: those that fill
            pockets stay in lands.

    Raises:
        InputError: the cell can't be meshed.
    """
    half_x, half_y = cell.along_axis / 2, cell.round_hoop / 2
    length = along[-1].start + along[-1].width
    if cell.pattern == "plain":
        low, high = -cell.thickness / 2, cell.thickness / 2
        points = np.array([[i * half_x, j * half_y, high if k == (cell.side < 0) else low]
                           for i, j, k in _bits()]).T
        corners, fill = np.arange(8)[:, None], np.zeros(1, dtype=int)
    elif keep is None and not any(strip.land for strip in (*along, *around)):
        points, corners = quarter_cell(cell, size)
        fill = np.zeros(corners.shape[1], dtype=int)
    else:
        points, corners, fill = filled_quarter_cell(cell, size)
    copies = copied(points.T, (half_x, half_y), along, around)
    flat = copies.reshape(-1, 3)  # nodes before merging
    step = points.shape[1]
    cells = np.concatenate([corners + k * step for k in range(len(copies))], axis=1).T
    filling = np.tile(fill > 0, len(copies))
    in_land = np.repeat(
        [one.land or other.land for one in along for other in around], corners.shape[1])
    place = flat[cells]  # (elements, 8, 3), not yet wrapped round
    across = [place[:, k] - place[:, 0] for k in (3, 2, 1)]
    # Axial, hoop, outward are left-handed in the places of `_bent`.
    mirrored = np.einsum("ij,ij->i", np.cross(across[0], across[1]), across[2]) > 0
    order = np.where(mirrored[:, None], _RING_MIRRORED, _RING)
    place = np.take_along_axis(place, order[..., None], axis=1)
    cells = np.take_along_axis(cells, order, axis=1)

    number = merged(_bent(flat, cell.radius), 1e-6 * min(cell.thickness, half_x, half_y))
    cells = number[cells]
    if keep is not None:
        where = np.empty((int(number.max()) + 1, 3))
        where[number] = flat
        stay = keep(where, cells, filling, in_land)
    else:
        stay = ~filling | in_land
    cells, place = cells[stay], place[stay]
    used, cells = np.unique(cells, return_inverse=True)
    cells = cells.reshape(-1, 8)
    count = len(used)
    renamed = np.full(int(number.max()) + 1, -1)
    renamed[used] = np.arange(count)
    where = np.empty((count + 1, 3))
    where[renamed[number]] = flat
    where = where[:count]
    sides = np.sort(cells[:, _EDGES], axis=2).reshape(-1, 2)
    _, first, edge = np.unique(sides[:, 0] * count + sides[:, 1], return_index=True,
                               return_inverse=True)
    middles = place[:, _EDGES].mean(axis=2).reshape(-1, 3)[first]
    where = np.concatenate([where, middles])
    elements = np.concatenate([cells, count + edge.reshape(-1, 12)], axis=1)

    smooth = -cell.side * cell.thickness / 2
    on = np.abs(where[:, 2] - smooth) < 1e-6 * cell.thickness
    element, face = np.nonzero(on[cells[:, _FACES]].all(axis=2))
    return TubeMesh(
        _bent(where, cell.radius), where[:, 1] / cell.radius, height=where[:, 2], elements=elements,
        faces=np.stack([element, face + 1], axis=1), skin=np.flatnonzero(on[:count]), length=length,
        radius=cell.radius, whole=whole,
    )


def _bits() -> list[tuple[int, int, int]]:
    return [(0, 0, 0), (0, 0, 1), (0, 1, 0), (1, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 0), (1, 1, 1)]


def _bent(flat: Array, radius: float) -> Array:
    """Axial place, arc and height to the places in space."""
    angle, out = flat[:, 1] / radius, radius + flat[:, 2]
    return np.stack([flat[:, 0], out * np.cos(angle), out * np.sin(angle)], axis=1)


def merged(points: Array, tolerance: float) -> Array:
    """New number of each point, the same for points closer than the tolerance.

    Args:
        points: (points, 3), m.
        tolerance: m.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs: Any = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    size = len(points)
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(size, size))
    return np.asarray(connected_components(graph, directed=False)[1])
