"""The smeared formulas for one cell: as the handbook has them, and for ribs of finite width."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.proof.cell.geometry import Cell
from gridshell.wall.geometry.lattice import FamilyLine
from gridshell.wall.geometry.rib_section import rib_section
from gridshell.wall.stiffness.finite_width import RibGrid, finite_width
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness, symmetric


class Stiffness(NamedTuple):
    """Stiffness of a wall about the skin's middle surface.

    Attributes:
        A: membrane stiffness, N/m, shape (..., 3, 3).
        B: coupling, N, shape (..., 3, 3).
        D: bending stiffness, N m, shape (..., 3, 3).
    """

    A: Array
    B: Array
    D: Array


def cell_lines(cell: Cell) -> tuple[tuple[FamilyLine, ...], Quantity]:
    """Rib families of a repeating rectangle, and the wall area per node, m2."""
    x, y = cell.along_axis, cell.round_hoop
    if cell.pattern == "plain":
        return (), x * y
    if cell.pattern == "orthogrid":
        return (FamilyLine(1.0, 0.0, y, "axial"), FamilyLine(0.0, 1.0, x, "hoop")), x * y
    area = x * y / 2
    length = np.hypot(x, y) / 2
    slants = tuple(
        FamilyLine(x / 2 / length, sign * y / 2 / length, area / length, "diagonal")
        for sign in (1, -1)
    )
    if cell.pattern == "diagonal":
        return slants, area
    if cell.orientation == "hoop":
        return (FamilyLine(0.0, 1.0, area / y, "hoop"), *slants), area
    return (FamilyLine(1.0, 0.0, area / x, "axial"), *slants), area


def cell_formulas(
    cell: Cell, modulus: Quantity, poisson: Quantity
) -> tuple[Stiffness, Stiffness]:
    """Thin-rib (handbook) stiffness and finite-width stiffness of a repeating rectangle.

    Args:
        cell: the rectangle; its lengths may be arrays.
        modulus: Young's modulus, Pa.
        poisson: Poisson's ratio.

    Returns:
        The two, about the skin's middle surface.
    """
    lines, node_area = cell_lines(cell)
    section = rib_section(cell.height, cell.width, cell.draft, cell.root_fillet)
    A, D = skin_stiffness(modulus, poisson, cell.thickness)
    B = np.zeros(A.shape)
    shear = modulus / (2 * (1 + poisson))
    offset = cell.side * (cell.thickness / 2 + section.centroid)
    for line in lines:
        added = family_stiffness(
            line.cosine, line.sine, pitch=line.pitch, axial=modulus * section.area, offset=offset,
            bending=modulus * section.inertia, torsion=shear * section.torsion,
        )
        A, B, D = A + added[0], B + added[1], D + added[2]
    if not lines:  # a plain wall: there is nothing to add
        return Stiffness(A, B, D), Stiffness(A, B, D)
    found = finite_width(modulus, poisson, cell.thickness, cell.side, RibGrid(
        cell.pattern, lines, sections=[section] * len(lines), node_area=node_area,
        root_fillet=cell.root_fillet, corner_radius=cell.corner_radius, draft=cell.draft,
    ))
    return Stiffness(A, B, D), Stiffness(*(
        symmetric(part, A.shape[:-2]) for part in (found.A, found.B, found.D)))
