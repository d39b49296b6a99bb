"""A grid of ribs without a skin, in plane stress: how much stiffer its nodes make it.

The layers of a rib far from the skin are such a grid. Its stiffness over that of bars from node to
node gives the node lengths k of `gridshell.wall.stiffness.finite_width`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.cell.geometry import Cell, outline, sectors
from gridshell.proof.cell.homogenize import finite_elements, solve_symmetric
from gridshell.proof.cell.mesh import merge_grids


def grid_mesh(cell: Cell, divisions: int) -> Any:
    """Quadrilaterals over the ribs of a quarter cell (tip width and corner radius of ``cell``)."""
    blocks = []
    for sector in sectors(cell):
        length = float(np.linalg.norm(sector.middle - sector.node))
        split = float(np.clip((cell.width + 2 * cell.corner_radius) / length, 0.1, 0.55))
        u = np.concatenate([
            split * np.linspace(0, 1, 4 * divisions + 1) ** 1.8,
            np.linspace(split, 1, 4 * divisions + 1)[1:],
        ])
        v = (1 - np.linspace(1, 0, 3 * divisions + 1) ** 2.2)[None, :, None]
        line = sector.node + u[:, None] * (sector.middle - sector.node)
        edge = outline(sector, cell.width / 2, cell.corner_radius, 1.0, u)
        flat = (1 - v) * line[:, None] + v * edge[:, None]
        layers = [np.concatenate([flat, np.full((*flat.shape[:2], 1), z)], axis=-1)
                  for z in (0.0, 1.0)]
        blocks.append(np.stack(layers, axis=2))
    points, cells = merge_grids(blocks, 1e-7 * min(cell.along_axis, cell.round_hoop))
    flat_points = np.flatnonzero(points[2] == 0)
    number = np.full(points.shape[1], -1)
    number[flat_points] = np.arange(len(flat_points))
    return finite_elements().MeshQuad(
        np.ascontiguousarray(points[:2, flat_points]),
        np.ascontiguousarray(number[cells[[0, 2, 6, 3]]]),
    )


def grid_stiffness(cell: Cell, poisson: float, divisions: int = 3) -> Array:
    """Plane-stress stiffness (3, 3) of the grid per unit modulus and unit depth; x, y, xy."""
    skfem = finite_elements()
    mesh = grid_mesh(cell, divisions)
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementQuad2()), intorder=4)
    plane = np.array([[1, poisson, 0], [poisson, 1, 0], [0, 0, (1 - poisson) / 2]])
    plane /= 1 - poisson**2

    def strain(u: Any) -> Array:
        return np.stack([u.grad[0, 0], u.grad[1, 1], u.grad[0, 1] + u.grad[1, 0]])

    @skfem.BilinearForm
    def work(u: Any, v: Any, w: Any) -> Any:
        return np.einsum("i...,ij,j...->...", strain(u), plane, strain(v))

    matrix = work.assemble(basis).tocsr()
    right = np.stack([
        skfem.LinearForm(lambda v, w, k=k: -np.einsum("i...,i->...", strain(v), plane[k])
                         ).assemble(basis)
        for k in range(3)
    ], axis=1)
    edge = 1e-7 * max(cell.along_axis, cell.round_hoop)

    def on(axis: int, end: float) -> Any:
        return basis.get_dofs(lambda x: (np.abs(x[axis]) < edge) | (np.abs(x[axis] - end) < edge))

    x_ends, y_ends = on(0, cell.along_axis / 2), on(1, cell.round_hoop / 2)
    response = np.zeros_like(right)
    for held, columns in (
        (np.union1d(x_ends.all(["u^1"]), y_ends.all(["u^2"])), np.array([0, 1])),
        (np.union1d(x_ends.all(["u^2"]), y_ends.all(["u^1"])), np.array([2])),
    ):
        free = np.setdiff1d(np.arange(basis.N), held)
        response[np.ix_(free, columns)] = solve_symmetric(
            matrix[free][:, free], right[np.ix_(free, columns)]
        )
    stiffness = plane * np.sum(basis.dx) - response.T @ (matrix @ response)
    stiffness[:2, 2] = stiffness[2, :2] = 0.0  # even and odd fields cancel over the whole cell
    return np.asarray(stiffness * 4 / cell.area)
