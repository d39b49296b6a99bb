"""Pockets between rib families of the user's own: what of each polygon can be molded.

Polygons between lines in general position come in every size and with sides of any length. A side
that is shorter than the corner radii at its ends leaves no trace in the outline; a corner radius
that does not fit is halved up to three times; a polygon that holds less than that is left solid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.wall.geometry.arrangement import BORDER, Cell, family_cells
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import at_radius, pocket_floor_area, pocket_outline_at
from gridshell.wall.geometry.pattern import PocketKind, panel_pockets

HALVINGS = 3  # of a corner radius that does not fit
SHORTEST = 0.1e-3  # m, of a side between two corner arcs
NEAR = 0.02  # share of a rib's half width by which an arc may stand nearer to a side left out


@dataclass(frozen=True)
class FamilyGroup:
    """Polygons of as many sides whose corners take the same radius.

    Attributes:
        corners: (n, k, 2) polygons whose outline is theirs moved in by half of ``ribs.width``,
            hoop from the left edge of the panel at the skin's middle radius, m.
        cells: (n, m, 2) the polygons between rib center lines themselves.
        corner_radius: m.
        cut: whether a border of the panel cuts any of them.
    """

    corners: Array
    cells: Array
    corner_radius: float
    cut: bool


def castable_ribs(design: Design) -> Design:
    """The design with height and width of its rib families in ``[ribs]``, where molds read them.

    Raises:
        InputError: families of different heights: their pockets have steps.
    """
    ribs = design.ribs
    if ribs.pattern != "families":
        return design
    height = float(design.rib_height)
    for index, family in enumerate(ribs.family, start=1):
        if family.height is not None and abs(float(family.height) - height) > 1e-9:
            raise InputError(
                f"ribs.family[{index}].height: {float(family.height) * 1e3:g} mm; ribs of one mold "
                f"have one height, state {height * 1e3:g} mm as for the tallest"
            )
    widths = [float(ribs.width if f.width is None else f.width) for f in ribs.family]
    values = {"ribs.height": height, "ribs.width": max(widths)}
    for index, family in enumerate(ribs.family):
        if family.height is None and float(ribs.height) < height - 1e-9:
            raise InputError(
                f"ribs.height: {float(ribs.height) * 1e3:g} mm for ribs.family[{index + 1}]; ribs "
                f"of one mold have one height, state {height * 1e3:g} mm as for the tallest"
            )
    return with_values(design, values)


def family_groups(design: Design, grid: Lattice) -> tuple[list[FamilyGroup], int]:
    """Pockets of one panel that can be molded, in groups, and how many are left solid.

    Args:
        design: one design (no arrays), from `castable_ribs`.
        grid: its lattice.
    """
    found: dict[tuple[int, int, int], list[tuple[Array, Cell]]] = {}
    left = 0
    for cell in family_cells(grid):
        fitted = _fitted(design, grid, cell)
        if fitted is None:
            left += 1
            continue
        corners, level = fitted
        found.setdefault((len(corners), len(cell.corners), level), []).append((corners, cell))
    stated = float(design.ribs.corner_radius)
    groups = [
        FamilyGroup(
            np.stack([corners for corners, _ in members]),
            np.stack([cell.corners for _, cell in members]),
            stated / 2**level, any(cell.cut for _, cell in members),
        )
        for (_, _, level), members in sorted(found.items())
    ]
    return groups, left


def pocket_kinds(design: Design, grid: Lattice) -> list[PocketKind]:
    """Every pocket of one panel by shape, whatever the pattern; none for a plain wall.

    Args:
        design: one design (no arrays), from `castable_ribs`.
        grid: its lattice.
    """
    if not design.has_ribs:
        return []
    if grid.pattern != "families":
        return panel_pockets(grid)
    return [
        PocketKind(
            f"polygon of {group.cells.shape[1]} sides", group.corners,
            np.zeros(len(group.corners), int), group.cut,
        ) for group in family_groups(design, grid)[0]
    ]


def _fitted(design: Design, grid: Lattice, cell: Cell) -> tuple[Array, int] | None:
    """The sides of a polygon that its outline has, and how often the corner radius is halved."""
    widest = float(design.ribs.width)
    widths = np.array([
        widest if n == BORDER else float(_first(grid.families[n].width, widest))
        for n in cell.families
    ])
    moved = offset_sides(cell.corners, (widths - widest) / 2)
    for level in range(HALVINGS + 1):
        rounding = float(design.ribs.corner_radius) / 2**level
        kept = _outline(with_values(design, {"ribs.corner_radius": rounding}), grid, moved)
        if kept is not None:
            return kept, level
        if rounding == 0:
            return None
    return None


def _first(value: object, default: float) -> float:
    return default if value is None else float(value)  # type: ignore[arg-type]


def _outline(design: Design, grid: Lattice, corners: Array) -> Array | None:
    """Polygon of the sides that are left of an outline at the floor; None if it does not fit."""
    stations = []
    for depth in (0.0, float(design.ribs.height)):
        radius, inset, rounding = (float(v) for v in pocket_outline_at(design, grid, depth))
        stations.append((float(radius / grid.radius), inset, rounding))
    scale, inset, rounding = stations[0]
    kept = _sides_left(_scaled(corners, scale), inset + rounding)
    if kept is None:
        return None
    polygon = corners_of(corners, kept)
    for scale, inset, rounding in stations:
        core = offset_sides(_scaled(polygon, scale), np.full(len(kept), inset + rounding))
        side = np.roll(core, -1, axis=0) - core
        was = np.roll(polygon, -1, axis=0) - polygon
        if np.any(np.sum(side * was, axis=1) < SHORTEST * np.linalg.norm(was, axis=1)):
            return None
        # Sides left out must still have their half rib.
        room = _distances(_scaled(corners, scale), core).min() - rounding
        if room < inset - NEAR * float(design.ribs.width) / 2:
            return None
    area = float(np.asarray(pocket_floor_area(design, grid, polygon)))
    return polygon if area > max(float(design.ribs.smallest_pocket), SHORTEST**2) else None


def _scaled(corners: Array, scale: float) -> Array:
    return at_radius(corners, scale, 1.0)


def _lines(corners: Array) -> tuple[Array, Array]:
    """Inward unit normals (k, 2) of the sides, and their distance (k,) from the origin."""
    side = np.roll(corners, -1, axis=0) - corners
    unit = side / np.linalg.norm(side, axis=1, keepdims=True)
    normal = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    return normal, np.sum(normal * corners, axis=1)


def _distances(corners: Array, points: Array) -> Array:
    """Of points (p, 2) from the sides of a polygon, inwards: (p, k)."""
    normal, place = _lines(corners)
    return np.asarray(points @ normal.T - place)


def _meeting(first: tuple[Array, float], second: tuple[Array, float]) -> Array:
    """Where two lines n . p = c meet."""
    return np.asarray(np.linalg.solve(
        np.stack([first[0], second[0]]), np.array([first[1], second[1]])))


def offset_sides(corners: Array, inset: Array) -> Array:
    """Corners (k, 2) of a convex polygon after moving each side in by its own distance (k,).

    Args:
        corners: counterclockwise, m.
        inset: of the side from each corner to the next, m; negative: out.

    >>> square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    >>> offset_sides(square, np.array([0.1, 0.0, 0.0, 0.2]))[0].tolist()
    [0.2, 0.1]
    """
    normal, place = _lines(corners)
    place = place + inset
    count = len(corners)
    return np.stack([
        _meeting((normal[i - 1], place[i - 1]), (normal[i], place[i])) for i in range(count)
    ])


def _sides_left(corners: Array, inset: float) -> list[int] | None:
    """Numbers of the sides that bound a convex polygon moved in by ``inset``; None if none do."""
    normal, place = _lines(corners)
    place = place + inset
    kept = list(range(len(corners)))
    while len(kept) >= 3:
        ends = [
            _meeting((normal[kept[i - 1]], place[kept[i - 1]]), (normal[kept[i]], place[kept[i]]))
            for i in range(len(kept))
        ]
        along = [
            float(np.dot(ends[(i + 1) % len(kept)] - ends[i],
                         np.array([normal[kept[i]][1], -normal[kept[i]][0]])))
            for i in range(len(kept))
        ]
        shortest = min(range(len(kept)), key=along.__getitem__)
        if along[shortest] > SHORTEST:
            return kept
        # The neighbors of a side that goes must still meet in front of it.
        before, after = kept[shortest - 1], kept[(shortest + 1) % len(kept)]
        turn = normal[before][0] * normal[after][1] - normal[before][1] * normal[after][0]
        if turn < math.sin(math.radians(5.0)):
            return None
        kept.pop(shortest)
    return None


def corners_of(corners: Array, kept: Sequence[int]) -> Array:
    """The polygon of some sides of a polygon alone.

    Args:
        corners: (k, 2) of the polygon, m.
        kept: numbers of its sides.
    """
    normal, place = _lines(corners)
    return np.stack([
        _meeting((normal[kept[i - 1]], place[kept[i - 1]]), (normal[kept[i]], place[kept[i]]))
        for i in range(len(kept))
    ])
