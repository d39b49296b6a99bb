"""Where each pocket of a panel lies: shapes, how many of each, and their corners one by one.

`pocket_shapes` gives shapes and counts and works for arrays of designs (the mass of a million
designs); `panel_pockets` lists every pocket of one design (mold, drawing, proof). A test holds the
two together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.wall.geometry.lattice import Lattice

# Outlines in units of the cell (width, height), counterclockwise.
_TRIANGLE = ((0.0, 0.0), (1.0, 0.0), (0.5, 1.0))
_TRIANGLE_DOWN = ((0.5, 0.0), (1.0, 1.0), (0.0, 1.0))
_HALF_TRIANGLE = ((0.0, 0.0), (0.5, 1.0), (0.0, 1.0))
_HALF_TRIANGLE_RIGHT = ((0.0, 0.0), (0.0, 1.0), (-0.5, 1.0))
_HALF_TRIANGLE_LOW = ((0.0, 0.0), (0.5, 0.0), (0.0, 1.0))
_HALF_TRIANGLE_LOW_RIGHT = ((-0.5, 0.0), (0.0, 0.0), (0.0, 1.0))
_RECTANGLE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
_RHOMBUS = ((-0.5, 0.0), (0.0, -0.5), (0.5, 0.0), (0.0, 0.5))
_RHOMBUS_TOP = ((-0.5, 0.0), (0.5, 0.0), (0.0, 0.5))
_RHOMBUS_BOTTOM = ((-0.5, 0.0), (0.0, -0.5), (0.5, 0.0))
_RHOMBUS_RIGHT = ((0.0, -0.5), (0.5, 0.0), (0.0, 0.5))
_RHOMBUS_LEFT = ((0.0, 0.5), (-0.5, 0.0), (0.0, -0.5))

Outline = tuple[tuple[float, float], ...]
_Placed = list[tuple[str, Outline, Array, bool]]  # name, outline, origins (count, 2), cut


@dataclass(frozen=True)
class PocketShape:
    """One shape of pocket and how many of it a panel has.

    Attributes:
        name: triangle, rectangle, rhombus, or one of these cut by a border.
        corners: (..., k, 2) rib center lines of one such pocket, counterclockwise: hoop
            coordinate at the skin's middle radius, and axial coordinate, m.
        count: how many in a panel.
        cut: True when a border of the panel cuts it.
    """

    name: str
    corners: Array
    count: Quantity
    cut: bool


@dataclass(frozen=True)
class PocketKind:
    """All the pockets of one outline and orientation in one panel.

    Attributes:
        name: as in `PocketShape`.
        corners: (count, k, 2) counterclockwise; hoop coordinate s = radius * angle at the skin's
            middle surface, from the left edge of the panel, and axial coordinate x from its
            lower edge, m.
        strip: (count,) number of the row (hoop rows; for axial isogrid, of the column) it is in.
        cut: True when a border of the panel cuts it.
    """

    name: str
    corners: Array
    strip: np.ndarray
    cut: bool


def _turned(grid: Lattice) -> bool:
    """Axial isogrid is hoop isogrid with the two coordinates exchanged."""
    return grid.pattern == "isogrid" and grid.orientation == "axial"


def _scaled(grid: Lattice, outline: Outline) -> Array:
    """A template in meters, (..., k, 2)."""
    unit = np.asarray(outline)
    if _turned(grid):  # exchange the coordinates; reverse, to stay counterclockwise
        unit = unit[::-1, ::-1]
    width, height = np.broadcast_arrays(
        np.asarray(grid.cell_width, float), np.asarray(grid.cell_height, float)
    )
    cell = np.stack([width, height], axis=-1)
    answer: Array = unit * cell[..., None, :]
    return answer


def pocket_shapes(grid: Lattice) -> list[PocketShape]:
    """The shapes of pocket in one panel, with their counts (arrays where the design has arrays).

    Patterns of the user's own families and plain walls have none.
    """
    around, along = grid.cells_round, grid.cells_along
    if grid.pattern == "isogrid":
        # `rows` of `cells` triangles; across the rows' ends lie the seams (hoop) or ends (axial).
        rows, cells = (around, along) if _turned(grid) else (along, around)
        whole = _scaled(grid, _TRIANGLE)
        if grid.closed and not _turned(grid):
            return [PocketShape("triangle", whole, 2 * rows * cells, False)]
        return [
            PocketShape("triangle", whole, rows * (2 * cells - 1), False),
            PocketShape("half triangle", _scaled(grid, _HALF_TRIANGLE), 2 * rows, True),
        ]
    if grid.pattern == "orthogrid":
        return [PocketShape("rectangle", _scaled(grid, _RECTANGLE), around * along, False)]
    if grid.pattern == "diagonal":
        shapes = [
            PocketShape(
                "rhombus", _scaled(grid, _RHOMBUS),
                around * (along - 1) + (around if grid.closed else around - 1) * along, False,
            ),
            PocketShape(
                "half rhombus at an end", _scaled(grid, _RHOMBUS_TOP), 2 * around, True
            ),
        ]
        if not grid.closed:
            shapes.append(PocketShape(
                "half rhombus at a seam", _scaled(grid, _RHOMBUS_RIGHT), 2 * along, True
            ))
        return shapes
    return []


def _isogrid_places(rows: int, cells: int, closed: bool) -> _Placed:
    """Origins in cells and rows of every pocket, by outline."""
    even, odd = np.arange(0, rows, 2), np.arange(1, rows, 2)
    full = np.arange(cells, dtype=float)
    shifted = full - 0.5 if closed else full[1:] - 0.5
    left, right = np.zeros(1), np.full(1, float(cells))

    def places(columns: Array, lines: np.ndarray) -> Array:
        row, column = np.meshgrid(lines.astype(float), columns, indexing="ij")
        return np.stack([column.ravel(), row.ravel()], axis=-1)

    listed: _Placed = [
        ("triangle", _TRIANGLE, places(full, even), False),
        ("triangle", _TRIANGLE_DOWN, places(shifted, even), False),
        ("triangle", _TRIANGLE, places(shifted, odd), False),
        ("triangle", _TRIANGLE_DOWN, places(full, odd), False),
    ]
    if not closed:
        listed += [
            ("half triangle", _HALF_TRIANGLE, places(left, even), True),
            ("half triangle", _HALF_TRIANGLE_RIGHT, places(right, even), True),
            ("half triangle", _HALF_TRIANGLE_LOW, places(left, odd), True),
            ("half triangle", _HALF_TRIANGLE_LOW_RIGHT, places(right, odd), True),
        ]
    return listed


def _diagonal_places(cells: int, rows: int, closed: bool) -> _Placed:
    """Origins in cells and rows of every pocket, by outline."""
    def places(columns: Array, lines: Array) -> Array:
        row, column = np.meshgrid(lines, columns, indexing="ij")
        return np.stack([column.ravel(), row.ravel()], axis=-1)

    centers: Array = np.arange(0.5, cells)
    nodes: Array = np.arange(0 if closed else 1, cells, dtype=float)
    half_rows: Array = np.arange(0.5, rows)
    listed: _Placed = [
        ("rhombus", _RHOMBUS, places(centers, np.arange(1.0, rows)), False),
        ("rhombus", _RHOMBUS, places(nodes, half_rows), False),
        ("half rhombus at an end", _RHOMBUS_TOP, places(centers, np.zeros(1)), True),
        ("half rhombus at an end", _RHOMBUS_BOTTOM, places(centers, np.full(1, float(rows))), True),
    ]
    if not closed:
        listed += [
            ("half rhombus at a seam", _RHOMBUS_RIGHT, places(np.zeros(1), half_rows), True),
            ("half rhombus at a seam", _RHOMBUS_LEFT, places(np.full(1, float(cells)), half_rows),
             True),
        ]
    return listed


def panel_pockets(grid: Lattice) -> list[PocketKind]:
    """Every pocket of one panel of one design.

    A panel that closes on itself may list pockets that reach past its right or left edge; they
    wrap round the tube.
    """
    around, along = int(grid.cells_round), int(grid.cells_along)
    turned = _turned(grid)
    if grid.pattern == "isogrid":
        rows, cells = (around, along) if turned else (along, around)
        listed = _isogrid_places(rows, cells, grid.closed and not turned)
    elif grid.pattern == "orthogrid":
        column, row = np.meshgrid(np.arange(around), np.arange(along))
        origins = np.stack([column.ravel(), row.ravel()], axis=-1).astype(float)
        listed = [("rectangle", _RECTANGLE, origins, False)]
    elif grid.pattern == "diagonal":
        listed = _diagonal_places(around, along, grid.closed)
    else:
        return []
    cell = np.array([float(grid.cell_width), float(grid.cell_height)])
    kinds = []
    for name, outline, origins, cut in listed:
        if not len(origins):
            continue
        strips = origins[:, 1]
        if grid.pattern == "diagonal":  # rows of rhombi overlap by half
            strips = 2 * strips
        placed = (origins[:, ::-1] if turned else origins) * cell
        corners = placed[:, None, :] + _scaled(grid, outline)
        kinds.append(PocketKind(name, corners, np.rint(strips).astype(int), cut))
    return kinds
