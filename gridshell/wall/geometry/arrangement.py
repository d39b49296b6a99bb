"""The pockets between rib families of the user's own: polygons that their center lines cut out.

Each family is a set of parallel lines, whole starts round the tube as `lattice` rounds them, one
line of each through the lower left corner of the panel. Two families leave parallelograms, three
that meet at nodes triangles, and families in general position convex polygons of any shape. At the
borders of a panel the polygons are cut, as the cells of the other patterns are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.wall.geometry.lattice import FamilyLine, Lattice

BORDER = -1  # number of the family that a border of the panel stands for
SAME = 1e-6  # m, corners closer than this are one: where three lines meet but for rounding


@dataclass(frozen=True)
class Cell:
    """One polygon between rib center lines.

    Attributes:
        corners: (k, 2) counterclockwise; hoop coordinate from the left edge of the panel at the
            skin's middle radius, axial coordinate from its lower edge, m.
        families: (k,) number of the family that the side from each corner to the next lies on,
            counted from 0; `BORDER` for a border of the panel.
    """

    corners: Array
    families: IntArray

    @property
    def cut(self) -> bool:
        """Whether a border of the panel cuts it."""
        return bool(np.any(self.families == BORDER))


def family_cells(grid: Lattice) -> list[Cell]:
    """Every polygon of one panel of one design; round the whole tube if the panel is closed.

    A closed panel lists polygons that reach past its edges; they wrap round the tube.

    Args:
        grid: lattice of one design (no arrays) of the pattern ``families``.
    """
    wide, high = float(grid.panel_width), float(grid.panel_height)
    # Round a closed tube there is no border: a strip three times as wide holds every polygon whole.
    low, top = (-wide, 2 * wide) if grid.closed else (0.0, wide)
    frame = Cell(
        np.array([[low, 0.0], [top, 0.0], [top, high], [low, high]]), np.full(4, BORDER)
    )
    cells = [frame]
    for number, line in enumerate(grid.families):
        cells = [piece for cell in cells for piece in _sliced(cell, line, number)]
    cells = _joined(cells)
    if grid.closed:
        cells = [cell for cell in cells if _is_counted(cell, wide)]
    return cells


def _is_counted(cell: Cell, wide: float) -> bool:
    """Whether a polygon of the wide strip is the one of its kind that the tube counts."""
    # Just below the left edge counts as on it, whatever rounding made of it.
    return bool(-SAME <= cell.corners[:, 0].mean() < wide - SAME)


def _sliced(cell: Cell, line: FamilyLine, number: int) -> list[Cell]:
    """A polygon cut along every line of one family that runs through it."""
    # Ribs run along (sine, cosine) in (hoop, axial).
    across = np.array([float(line.cosine), -float(line.sine)])
    place = cell.corners @ across / float(line.pitch)
    first, last = int(np.floor(place.min() + 1e-7)) + 1, int(np.ceil(place.max() - 1e-7)) - 1
    pieces: list[Cell] = []
    rest: Cell | None = cell
    for count in range(first, last + 1):
        if rest is None:
            break
        below, rest = _halved(rest, across, count * float(line.pitch), number)
        if below is not None:
            pieces.append(below)
    return pieces if rest is None else [*pieces, rest]


def _halved(
    cell: Cell, across: Array, at: float, number: int
) -> tuple[Cell | None, Cell | None]:
    """The parts of a convex polygon below and above one line."""
    distance = cell.corners @ across - at
    side = np.where(np.abs(distance) < SAME / 10, 0, np.sign(distance)).astype(int)
    if side.max() <= 0:
        return cell, None
    if side.min() >= 0:
        return None, cell
    parts: dict[int, tuple[list[Array], list[int]]] = {-1: ([], []), 1: ([], [])}
    count = len(side)
    for i in range(count):
        j = (i + 1) % count
        here, family = cell.corners[i], int(cell.families[i])
        for way, (corners, families) in parts.items():
            if side[i] == way:
                corners.append(here)
                families.append(family)
            elif side[i] == 0:
                corners.append(here)
                # From a corner on the line the next side is the line itself on one of the parts.
                families.append(family if side[j] == way else number)
        if side[i] * side[j] < 0:
            share = distance[i] / (distance[i] - distance[j])
            crossing = here + share * (cell.corners[j] - here)
            for way, (corners, families) in parts.items():
                corners.append(crossing)
                families.append(number if side[i] == way else family)
    below, above = (Cell(np.array(c), np.array(f)) for c, f in (parts[-1], parts[1]))
    return below, above


def _joined(cells: list[Cell]) -> list[Cell]:
    """Corners closer than `SAME` become one; polygons that are nothing any more fall away."""
    # Here: scipy takes longer to load than most tubes to assess, and few need it.
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    flat = np.concatenate([cell.corners for cell in cells])
    pairs = cKDTree(flat).query_pairs(SAME, output_type="ndarray")
    links = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(flat),) * 2)
    _, label = connected_components(links, directed=False)
    _, first, which = np.unique(label, return_index=True, return_inverse=True)
    flat = flat[first[which]]
    kept, at = [], 0
    for cell in cells:
        size = len(cell.corners)
        node, corners = which[at:at + size], flat[at:at + size]
        at += size
        distinct = node != np.roll(node, -1)
        if distinct.sum() >= 3:
            kept.append(Cell(corners[distinct], cell.families[distinct]))
    return kept
