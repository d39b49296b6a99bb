"""The tube as it is built in 20-node solids: every rib, solid lands, cut-outs.

The mesh is that of `gridshell.proof.mesh.mesh`, with the lands as filled strips. A cut-out takes
the elements whose middle lies in it, as many as make up its area; its edge is stepped.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Cutout, read_mold
from gridshell.define.types import Array, BoolArray, IntArray
from gridshell.proof.cell.compare import cell_of
from gridshell.proof.cell.geometry import Cell, Resolution, sectors
from gridshell.proof.decks.model import (
    Model,
    Part,
    Rim,
    Solid,
    check_size,
    face_nodes,
    solid_rim,
    volumes,
)
from gridshell.proof.mesh.mesh import PLAIN_SIDE, Strip, TubeMesh, strip_mesh
from gridshell.wall.assess import Wall
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.rib_section import fillet_area

PER_POCKET = 4.0


def solid_mesh(design: Design, wall: Wall, per_pocket: float = PER_POCKET) -> Model:
    """The whole tube in solids.

    Args:
        design: one design.
        wall: of the design.
        per_pocket: elements along one rib between two nodes, at least 4.

    Raises:
        InputError: a pattern that has no repeating rectangle, a cut-out that is smaller than an
            element, or too large a mesh.
    """
    if not per_pocket >= 4:
        raise InputError(f"--per-pocket {per_pocket:g}: must be at least 4 for --as solid")
    part = int(np.ceil(per_pocket / 4))
    size = Resolution(
        part, part, across=1, fan=1, skin_layers=1, fillet_layers=1, rib_layers=part)
    grid, cell = wall.grid, _cell(design, wall)
    along, around = _along(grid, cell), _around(grid, cell)
    half = (cell.along_axis / 2, cell.round_hoop / 2)
    check_size(f"--per-pocket {per_pocket:g}", _nodes(cell, size) * len(along) * len(around))
    cutouts = _cutouts(design)
    keep = _keep(design, cell, cutouts) if cell.pattern != "plain" or cutouts else None
    return _model(strip_mesh(
        replace(cell, along_axis=2 * half[0], round_hoop=2 * half[1]), size, along, around, True,
        keep), wall, bool(cutouts))


def _nodes(cell: Cell, size: Resolution) -> float:
    """Nodes of a quarter cell, about: six to an element with 20, more for filled pockets."""
    if cell.pattern == "plain":
        return 5.0
    steps = size.node + size.span
    skin = steps * (size.across + size.fan) + size.node * size.span
    layers = size.fillet_layers * (cell.root_fillet > 0) + size.rib_layers
    each = skin * size.skin_layers + steps * size.across * layers
    return 7.0 * len(sectors(cell)) * each


def _cell(design: Design, wall: Wall) -> Cell:
    cell = cell_of(design, wall.grid)
    if cell.pattern == "plain" or not cell.height > 0:
        side = 2 * PLAIN_SIDE * np.sqrt(cell.radius * cell.thickness)
        cell = replace(cell, pattern="plain", along_axis=side, round_hoop=side)
    return cell


def _along(grid: Lattice, cell: Cell) -> list[Strip]:
    """Strips along the tube: land, grid, land of each section."""
    if cell.pattern == "plain":
        length = float(grid.panel_height + 2 * grid.end_land) * grid.sections
        count = max(round(2 * length / cell.along_axis), 1)
        return [Strip(k * length / count, length / count) for k in range(count)]
    ribbed = cell.pattern == "orthogrid" or (
        cell.pattern == "isogrid" and cell.orientation == "hoop")
    panel = _panel(float(grid.panel_height), cell.along_axis / 2, float(grid.end_land),
                   0.0 if ribbed else _border(cell))
    return _placed(panel * grid.sections)


def _border(cell: Cell) -> float:
    """Mean half width of the rib that closes pockets along a border where the grid has none, m."""
    fillets = 2 * float(fillet_area(cell.root_fillet, np.pi / 2 + cell.draft))
    return (cell.width + cell.height * np.tan(cell.draft) + fillets / cell.height) / 2


def _panel(length: float, half: float, land: float, border: float) -> list[tuple[float, bool]]:
    """Width of each strip of one panel and whether it is a land; a border belongs to the land."""
    count = max(round(length / half), 1)
    widths = np.full(count, length / count)
    widths[0] -= border
    widths[-1] -= border
    edge = [(land + border, True)] if land + border > 0 else []
    return [*edge, *((float(width), False) for width in widths), *edge]


def _placed(strips: list[tuple[float, bool]]) -> list[Strip]:
    starts = np.concatenate([[0.0], np.cumsum([width for width, _ in strips])])
    return [Strip(float(start), width, land)
            for start, (width, land) in zip(starts, strips, strict=False)]


def _around(grid: Lattice, cell: Cell) -> list[Strip]:
    """Strips round the tube from the middle of the first seam on; an even number, so that the
    mirror images close."""
    whole = 2 * np.pi * float(grid.radius)
    if cell.pattern == "plain":
        count = 2 * max(round(whole / cell.round_hoop), 2)
        return [Strip(k * whole / count, whole / count) for k in range(count)]
    ribbed = grid.closed or cell.pattern == "orthogrid" or (
        cell.pattern == "isogrid" and cell.orientation == "axial")
    panel = _panel(float(grid.panel_width), cell.round_hoop / 2, float(grid.seam_land) / 2,
                   0.0 if ribbed else _border(cell))
    strips = panel * grid.segments
    if len(strips) % 2:
        width, land = strips[-1]
        if not land:
            raise InputError("--as solid: the pattern does not close round the tube; give "
                             "tube.seam_land, or take --as wall")
        strips[-1:] = [(width / 2, True)] * 2
    return _placed(strips)


def _cutouts(design: Design) -> tuple[Cutout, ...]:
    return () if design.mold is None else read_mold(design.mold).cutout


def _outside(cutout: Cutout, place: Array, radius: float) -> Array:
    """Distance of places (axial, arc) from the edge of a cut-out, negative inside it, m."""
    arc = place[:, 1] - radius * cutout.angle
    whole = 2 * np.pi * radius
    at = np.stack([place[:, 0] - cutout.position, arc - whole * np.round(arc / whole)], axis=1)
    if cutout.shape == "round":
        return np.asarray(np.hypot(*at.T) - cutout.diameter / 2)
    rounding = cutout.corner_radius
    over = np.abs(at) - np.array([cutout.length, cutout.width]) / 2 + rounding
    return np.asarray(
        np.hypot(*np.maximum(over, 0).T) + np.minimum(over.max(axis=1), 0) - rounding)


def _area(cutout: Cutout) -> float:
    if cutout.shape == "round":
        return float(np.pi / 4 * cutout.diameter**2)
    return float(cutout.width * cutout.length - (4 - np.pi) * cutout.corner_radius**2)


def _keep(
    design: Design, cell: Cell, cutouts: tuple[Cutout, ...]
) -> Callable[[Array, IntArray, BoolArray, BoolArray], BoolArray]:
    """What stays of a mesh with filled pockets: see `strip_mesh`."""
    smallest = float(design.ribs.smallest_pocket)

    def keep(places: Array, cells: IntArray, fill: BoolArray, land: BoolArray) -> BoolArray:
        stay = ~fill | land
        if (smallest > 0 or cutouts) and fill.any():
            stay |= _left_solid(places, cells, fill & ~land, land, cell, cutouts, smallest)
        middle = places[cells].mean(axis=1)
        # Nodes on the seam stand at one of its two angles: the middle of such elements is off.
        arcs = places[cells][..., 1]
        turn = 2 * np.pi * cell.radius
        middle[:, 1] = (arcs + turn * (arcs < arcs.max(axis=1)[:, None] - turn / 2)).mean(axis=1)
        skin = np.abs(middle[:, 2]) < cell.thickness / 2
        for cutout in cutouts:
            outside = _outside(cutout, middle, cell.radius)
            order = np.flatnonzero(skin)[np.argsort(outside[skin])]
            taken = np.cumsum(_plan_area(places, cells[order], turn)) <= 1.0001 * _area(cutout)
            if not taken[0]:
                raise InputError(
                    f"mold.cutout {cutout.name!r}: is smaller than an element; add --per-pocket")
            count = int(np.argmin(taken)) if not taken.all() else len(order)
            edge = outside[order[count - 1]]
            stay &= ~(outside <= edge + 1e-9)
        return _largest(cells, stay)
    return keep


def _plan_area(places: Array, cells: IntArray, turn: float) -> Array:
    """Area of the skin that elements cover, half of each of their two faces, m2."""
    found = np.zeros(len(cells))
    for ring in ([0, 1, 2, 3], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6],
                 [3, 0, 4, 7]):
        flat = places[cells[:, ring]][..., :2]
        flat[..., 1] += turn * (flat[..., 1] < flat[..., 1].max(axis=1)[:, None] - turn / 2)
        a, b = flat[:, 2] - flat[:, 0], flat[:, 3] - flat[:, 1]
        found += np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 4
    return found


def _left_solid(
    places: Array, cells: IntArray, pocket: BoolArray, land: BoolArray, cell: Cell,
    cutouts: tuple[Cutout, ...], smallest: float,
) -> BoolArray:
    """Elements in pockets that are left solid: beside a cut-out, or cut small by a land."""
    chosen = np.flatnonzero(pocket)
    group = _groups(cells[chosen], len(places))
    count = int(group.max()) + 1
    solid = np.zeros(count, dtype=bool)
    for cutout in cutouts:
        outside = _outside(cutout, places, cell.radius)
        nearest = np.full(count, np.inf)
        np.minimum.at(nearest, group, outside[cells[chosen]].min(axis=1))
        solid |= nearest < cutout.land
    if smallest > 0:
        floor = cell.side * cell.thickness / 2
        on = (np.abs(places[cells[chosen], 2] - floor) < 1e-6 * cell.thickness).sum(axis=1) == 4
        area = np.zeros(count)
        np.add.at(area, group, on * _plan_area(
            places, cells[chosen], 2 * np.pi * cell.radius))
        border = np.zeros(len(places), dtype=bool)
        border[cells[land]] = True
        cut = np.zeros(count, dtype=bool)
        np.logical_or.at(cut, group, border[cells[chosen]].any(axis=1))
        solid |= cut & (area < smallest)
    found = np.zeros(len(cells), dtype=bool)
    found[chosen] = solid[group]
    return found


def _groups(cells: IntArray, nodes: int) -> IntArray:
    """Number of the connected piece that each element belongs to."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    rows = np.repeat(cells[:, 0], cells.shape[1])
    graph = coo_matrix((np.ones(rows.size), (rows, cells.ravel())), (nodes, nodes))
    label = connected_components(graph, directed=False)[1][cells[:, 0]]
    return np.asarray(np.unique(label, return_inverse=True)[1])


def _largest(cells: IntArray, stay: BoolArray) -> BoolArray:
    """Leave out crumbs that a cut-out has cut off."""
    chosen = np.flatnonzero(stay)
    group = _groups(cells[chosen], int(cells.max()) + 1)
    stay = stay.copy()
    stay[chosen] = group == np.argmax(np.bincount(group))
    return stay


def _model(mesh: TubeMesh, wall: Wall, cut: bool) -> Model:
    known = wall.properties
    # Bending about y: the first seam, at angle 0 of the mesh, comes to lie on top (+z).
    x, y, z = mesh.points.T
    points = np.stack([x, -z, y], axis=1)
    rims: list[Rim] = []
    for right in (False, True):
        on = np.zeros(len(points), dtype=bool)
        on[mesh.end(right)] = True
        every = np.stack([face_nodes(mesh.elements, np.stack(
            [np.arange(len(mesh.elements)), np.full(len(mesh.elements), k)], axis=1))
            for k in range(1, 7)], axis=1).reshape(-1, 8)
        rims.append(solid_rim(points, every[on[every].all(axis=1)], mesh.radius))
    density = float(known.density)
    if not cut:  # the mesh rounds fillets and corners off: as heavy as the part is
        density *= float(wall.tube_mass) / (
            density * float(volumes(points, mesh.elements).sum()))
    part = Part("BODY", mesh.elements, Solid(
        float(known.modulus), float(known.poisson), density))
    centers = np.array([[0.0, 0.0, 0.0], [mesh.length, 0.0, 0.0]])
    return Model(
        "solid", np.concatenate([points, centers]), (part,), (rims[0], rims[1]),
        np.stack([mesh.faces[:, 0], mesh.faces[:, 1]], axis=1), radius=mesh.radius,
        length=mesh.length, side=int(wall.side),
    )
