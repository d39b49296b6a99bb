"""Mesh of a quarter of the repeating cell: straight into hexahedra, no mesh generator.

Every sector of the quarter is half a rib strip (center line to pocket outline) and a fan of skin.
The strip follows the outline of the pocket at each height (`gridshell.proof.cell.geometry`), so
draft, corner radius and root fillet are in the mesh and the mesh is conforming by construction.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array, IntArray
from gridshell.proof.cell.geometry import (
    MEDIUM,
    PATTERNS,
    Cell,
    Resolution,
    Sector,
    arc_is_long,
    outline,
    rib_levels,
    sectors,
    toward_start,
)


def _coons(bottom: Array, top: Array, left: Array, right: Array) -> Array:
    """Grid of points between four curves; bottom, top run along i and left, right along j."""
    i = np.linspace(0, 1, len(bottom))[:, None, None]
    along = left - left[0]
    j = (along @ along[-1] / (along[-1] @ along[-1]))[None, :, None]
    return np.asarray(
        (1 - j) * bottom[:, None] + j * top[:, None] + (1 - i) * left[None] + i * right[None]
        - (1 - i) * (1 - j) * bottom[0] - i * (1 - j) * bottom[-1]
        - (1 - i) * j * top[0] - i * j * top[-1]
    )


def _line(a: Array, b: Array, count: int, crowded: bool = False) -> Array:
    fractions = toward_start(count) if crowded else np.linspace(0, 1, count + 1)
    return np.asarray(a + fractions[:, None] * (b - a))


def fan(
    outline: Array, center: Array, size: Resolution, crowded: bool = True
) -> list[Array]:
    """Three grids of quadrilaterals that fill a sector between the outline of its pocket and C.

    Args:
        outline: (k, 2) from the bisector at N to opposite M, k = size.node + size.span + 1.
        center: C.
        size: elements of a quarter cell.
        crowded: elements get shorter towards the outline.
    """
    q, p, mid = outline[0], outline[-1], outline[size.node]
    q_mid, p_mid = (q + center) / 2, (p + center) / 2
    inside = (mid + q_mid + p_mid) / 3
    return [
        _coons(outline[: size.node + 1], _line(q_mid, inside, size.node),
               _line(q, q_mid, size.fan, crowded), _line(mid, inside, size.fan, crowded)),
        _coons(outline[size.node:], _line(inside, p_mid, size.span),
               _line(mid, inside, size.fan, crowded), _line(p, p_mid, size.fan, crowded)),
        _coons(_line(q_mid, inside, size.node), _line(center, p_mid, size.node),
               _line(q_mid, center, size.span), _line(inside, p_mid, size.span)),
    ]


def quarter_cell(cell: Cell, size: Resolution = MEDIUM) -> tuple[Array, IntArray]:
    """Points (3, n) and hexahedra (8, m) of a quarter of the cell, x axial, y hoop, z outward.

    Hexahedra list the corners by (i, j, k) in the order 000, 001, 010, 100, 011, 101, 110, 111.
    On a curved wall y is arc length at the skin's middle surface and z the radial height.

    Raises:
        InputError: a pattern that has no such cell, or corners that overlap.
    """
    return merge_grids(_blocks(cell, size)[0], _tolerance(cell))


def filled_quarter_cell(cell: Cell, size: Resolution) -> tuple[Array, IntArray, IntArray]:
    """The quarter cell with its pockets filled, for solid lands.

    Returns:
        points, hexahedra as in `quarter_cell`, and 1 for each of them that fills a pocket, else 0.
    """
    blocks, fills = _blocks(cell, size)
    points, corners = merge_grids([*blocks, *fills], _tolerance(cell))
    fill = np.zeros(corners.shape[1], dtype=int)
    count = sum(int(np.prod(np.array(block.shape[:3]) - 1)) for block in blocks)
    fill[count:] = 1
    return points, corners, fill


def _tolerance(cell: Cell) -> float:
    return 1e-6 * min(cell.along_axis, cell.round_hoop, cell.thickness)


def _blocks(cell: Cell, size: Resolution) -> tuple[list[Array], list[Array]]:
    """Grids of points (i, j, k, 3) of skin and ribs, and of what fills the pockets."""
    if cell.pattern not in PATTERNS:
        raise InputError(f"ribs.pattern {cell.pattern!r} has no solid cell; known: "
                         + ", ".join(PATTERNS))
    plain = cell.pattern == "plain" or not cell.height > 0
    blocks: list[Array] = []
    fills: list[Array] = []
    skin_z = (toward_start(size.skin_layers) - 0.5) * -cell.side * cell.thickness
    if plain:
        offset = min(cell.along_axis, cell.round_hoop) / 8
        heights, offsets, radii = np.zeros(1), np.array([offset]), np.zeros(1)
    else:
        heights, offsets, radii = rib_levels(cell, size)

    def stretch(z: float) -> float:
        return 1 + z / cell.radius

    def fractions(sector: Sector) -> Array:
        # Elements follow the node region, then the free length of the rib.
        length = float(np.linalg.norm(sector.middle - sector.node))
        split = float(np.clip(1.6 * (offsets[0] + radii[0]) / length, 0.08, 0.55))
        return np.concatenate([split * toward_start(size.node),
                               np.linspace(split, 1, size.span + 1)[1:]])

    top = cell.side * cell.thickness / 2
    # One rule for all sectors of a level: ribs of unlike length meet at the same corners.
    chords = [
        size.node * all(
            arc_is_long(sector, offset, radius, stretch(top + cell.side * height),
                        fractions(sector), size.node) for sector in sectors(cell)
        ) for height, offset, radius in zip(heights, offsets, radii, strict=True)
    ]
    for sector in sectors(cell):
        u = fractions(sector)
        center_line = sector.node + u[:, None] * (sector.middle - sector.node)
        v = (1 - toward_start(size.across)[::-1])[None, :, None]

        def strip(level: int, z: float, sector: Sector = sector, u: Array = u,
                  center_line: Array = center_line, v: Array = v) -> Array:
            edge = outline(sector, offsets[level], radii[level], stretch(z), u, chords[level])
            return np.asarray((1 - v) * center_line[:, None] + v * edge[:, None])

        foot = strip(0, top)
        for flat in [foot, *fan(foot[:, -1], sector.center, size)]:
            blocks.append(_stack([flat] * len(skin_z), skin_z))
        if not plain:
            z = top + cell.side * heights
            levels = [strip(k, z[k]) for k in range(len(z))]
            blocks.append(_stack(levels, z))
            for pieces in zip(
                *(fan(one[:, -1], sector.center, size) for one in levels), strict=True
            ):
                fills.append(_stack(list(pieces), z))
    return blocks, fills


def _stack(layers: list[Array], z: Array) -> Array:
    flat = np.stack(layers, axis=2)
    heights = np.broadcast_to(z, flat.shape[:3])[..., None]
    return np.concatenate([flat, heights], axis=-1)


def merge_grids(blocks: list[Array], tolerance: float) -> tuple[Array, IntArray]:
    """One mesh from grids of points: corners closer than the tolerance are the same."""
    from scipy.spatial import cKDTree

    points = np.concatenate([block.reshape(-1, 3) for block in blocks])
    cells, start = [], 0
    for block in blocks:
        index = start + np.arange(block[..., 0].size).reshape(block.shape[:3])
        start += index.size
        low, high = slice(None, -1), slice(1, None)
        corners = [(low, low, low), (low, low, high), (low, high, low), (high, low, low),
                   (low, high, high), (high, low, high), (high, high, low), (high, high, high)]
        cells.append(np.stack([index[corner].ravel() for corner in corners]))
    # The first of each group of coincident points stands for all of them.
    first = np.array([min(near) for near in cKDTree(points).query_ball_point(points, tolerance)])
    kept, number = np.unique(first, return_inverse=True)
    return points[kept].T.copy(), number[np.concatenate(cells, axis=1)]
