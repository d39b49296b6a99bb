"""The solid cell of a design as the file that wall and tube can take their stiffness from."""

from __future__ import annotations

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell import CellGeometry, UnitCell
from gridshell.define.tables.design import Design
from gridshell.material.properties import Properties
from gridshell.proof.cell.compare import CellResult
from gridshell.wall.geometry.lattice import lattice


def check_can_be_saved(design: Design, mesh: str) -> None:
    """Refuse what would not be worth saving, before it is solved.

    Raises:
        InputError: a plain wall, or the coarse mesh alone, which is a percent or two too stiff.
    """
    if not design.has_ribs:
        raise InputError("--save: a plain wall needs no solid cell; its formula is exact")
    if mesh == "coarse":
        raise InputError(
            "--mesh coarse: is not good enough to --save, being a percent or two too stiff; use "
            "medium or fine"
        )


def saved_cell(result: CellResult, design: Design, properties: Properties) -> UnitCell:
    """What `gridshell.define.files.unit_cell.write_unit_cell` writes.

    Args:
        result: of `gridshell.proof.cell.compare.run_cell` for the same design and properties.
        design: one design.
        properties: of its material at the temperature of use.

    Raises:
        InputError: see `check_can_be_saved`.
    """
    check_can_be_saved(design, result.mesh)
    grid, cell, modulus = lattice(design), result.cell, float(properties.modulus)
    return UnitCell(
        title=design.title, poisson=float(properties.poisson), mesh=result.mesh,
        unknowns=result.unknowns, mesh_error=float(f"{result.mesh_error:.2g}"),
        geometry=CellGeometry(
            cell.pattern, cell.orientation, side=design.ribs.side, skin_thickness=cell.thickness,
            rib_height=cell.height, rib_width=cell.width, draft=cell.draft,
            corner_radius=cell.corner_radius, root_fillet=cell.root_fillet,
            cell_along=float(grid.cell_height), cell_round=float(grid.cell_width),
        ),
        stiffness={  # the symmetric part: B12 and B21 of a cell differ by parts in ten thousand
            name: ((matrix + matrix.T) / 2 / modulus).tolist()
            for name, matrix in zip("ABD", result.solid, strict=True)
        },
        formula={
            row.name: float(f"{row.improved_ratio - 1:.4f}") for row in result.rows
            if np.isfinite(row.improved_ratio)
        },
    )
