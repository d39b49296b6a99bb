"""The smeared formula for one cell: as the handbook has it, and with the fat-rib terms."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.wall.geometry.lattice import FamilyLine
from gridshell.wall.geometry.rib_section import RibSection, rib_section
from gridshell.wall.stiffness.finite_width import corrections
from gridshell.wall.stiffness.smeared import family_stiffness, skin_stiffness


class Stiffness(NamedTuple):
    """A (N/m), B (N), D (N m) about the skin's middle surface, each (..., 3, 3)."""

    A: Array
    B: Array
    D: Array


def cell_lines(
    pattern: str, along_axis: Quantity, round_hoop: Quantity, orientation: str = "hoop"
) -> tuple[tuple[FamilyLine, ...], Quantity]:
    """Rib families of a repeating rectangle (see `gridshell.proof.cell.mesh.Cell`) and the wall
    area per node, m2."""
    x, y = along_axis, round_hoop
    if pattern == "plain":
        return (), x * y
    if pattern == "orthogrid":
        return (FamilyLine(1.0, 0.0, y, "axial"), FamilyLine(0.0, 1.0, x, "hoop")), x * y
    area = x * y / 2
    length = np.hypot(x, y) / 2
    slants = tuple(
        FamilyLine(x / 2 / length, sign * y / 2 / length, area / length, "diagonal")
        for sign in (1, -1)
    )
    if pattern == "diagonal":
        return slants, area
    if orientation == "hoop":
        return (FamilyLine(0.0, 1.0, area / y, "hoop"), *slants), area
    return (FamilyLine(1.0, 0.0, area / x, "axial"), *slants), area


def formula_wall(
    modulus: Quantity,
    poisson: Quantity,
    thickness: Quantity,
    side: float,
    pattern: str,
    lines: tuple[FamilyLine, ...],
    node_area: Quantity,
    section: RibSection,
    root_fillet: Quantity,
    corner_radius: Quantity,
    draft: Quantity,
) -> tuple[Stiffness, Stiffness]:
    """Handbook value and value with the fat-rib terms; arguments as in
    `gridshell.wall.stiffness.finite_width.corrections`, one section for all families."""
    A, D = skin_stiffness(modulus, poisson, thickness)
    B = np.zeros(A.shape)
    shear = modulus / (2 * (1 + poisson))
    offset = side * (thickness / 2 + section.centroid)
    for line in lines:
        added = family_stiffness(
            line.cosine, line.sine, line.pitch, modulus * section.area, offset,
            modulus * section.inertia, shear * section.torsion,
        )
        A, B, D = A + added[0], B + added[1], D + added[2]
    more = corrections(
        modulus, poisson, thickness, side, pattern, lines, [section] * len(lines), root_fillet,
        corner_radius, draft, node_area,
    )
    return Stiffness(A, B, D), Stiffness(A + more[0], B + more[1], D + more[2])


def cell_formulas(
    pattern: str, along_axis: Quantity, round_hoop: Quantity, thickness: Quantity,
    height: Quantity, width: Quantity, draft: Quantity, corner_radius: Quantity,
    root_fillet: Quantity, modulus: Quantity, poisson: Quantity, orientation: str = "hoop",
    side: float = 1,
) -> tuple[Stiffness, Stiffness]:
    """Handbook and improved stiffness of a repeating rectangle; every number may be an array."""
    lines, area = cell_lines(pattern, along_axis, round_hoop, orientation)
    section = rib_section(height, width, draft, root_fillet)
    return formula_wall(
        modulus, poisson, thickness, side, pattern, lines, area, section, root_fillet,
        corner_radius, draft,
    )
