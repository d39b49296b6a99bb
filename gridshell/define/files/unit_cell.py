"""The file that `gridshell prove FILE --save` writes: stiffness of one solid cell, its geometry.

The stiffness holds for one geometry and one Poisson's ratio (Young's modulus only scales it), so
both are kept with the numbers; `gridshell.define.files.unit_cell_match` compares them before use.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.constants import CELL_PATTERNS, SIDES
from gridshell.define.errors import DefinitionError, InputError, Problem, Problems, short
from gridshell.define.files.reading import read_toml
from gridshell.define.files.replacing import write_text
from gridshell.define.files.writing import table_text
from gridshell.define.schema import (
    REQUIRED,
    choice,
    count,
    free,
    quantity,
    read_table,
    table,
    text,
)
from gridshell.define.types import Array

_ROUGH = 0.01  # by which a mesh may pass the bounds below
_UNITS = {"A": "m", "B": "m^2", "D": "m^3"}


@dataclass(frozen=True)
class CellGeometry:
    """``[geometry]``: what was solved, as it is built (whole cells round and along)."""

    pattern: str = choice(CELL_PATTERNS, "rib pattern")
    orientation: str = choice(("hoop", "axial"), "which way one family of an isogrid runs")
    side: str = choice(SIDES, "side of the skin the ribs stand on")
    skin_thickness: float = quantity("length", "skin thickness", above=0.0)
    rib_height: float = quantity("length", "rib height above the skin", above=0.0)
    rib_width: float = quantity("length", "rib width at the tip", above=0.0)
    draft: float = quantity("angle", "draft of each rib flank", least=0.0)
    corner_radius: float = quantity("length", "radius of the pocket corners", least=0.0)
    root_fillet: float = quantity("length", "fillet between rib and skin", least=0.0)
    cell_along: float = quantity("length", "cell along the tube, as built", above=0.0)
    cell_round: float = quantity("length", "cell round the tube, as built", above=0.0)


@dataclass(frozen=True)
class UnitCell:
    """Stiffness of a flat solid cell over Young's modulus.

    Attributes:
        title: of the design it was solved for.
        poisson: Poisson's ratio it was solved for.
        mesh: the finer of its two meshes. unknowns: of that mesh.
        mesh_error: what the two meshes leave open, relative.
        geometry: what was solved.
        stiffness: A (m), B (m2), D (m3) over Young's modulus about the skin's middle surface, as
            3 x 3 lists; see `matrices`.
        formula: how far the formula was off there: name -> formula over solid, less one.
    """

    title: str = text("title of the design it was solved for")
    poisson: float = quantity("ratio", "Poisson's ratio", above=-1.0, below=0.5)
    mesh: str = choice(("medium", "fine"), "the finer of the two meshes")
    unknowns: int = count("unknowns of that mesh", least=1, most=10**9)
    mesh_error: float = quantity("ratio", "mesh error taken out", least=0.0, below=1.0)
    geometry: CellGeometry = table(CellGeometry, "what was solved")
    stiffness: Mapping[str, Any] = free("A, B, D over Young's modulus", default=REQUIRED)
    formula: Mapping[str, Any] = free("formula over solid, less one", default=REQUIRED)

    def matrices(self) -> tuple[Array, Array, Array]:
        """A (m), B (m2), D (m3) over Young's modulus, each (3, 3): axial, hoop, shear."""
        A, B, D = (np.array(self.stiffness[name], dtype=float) for name in "ABD")
        return A, B, D


def unit_cell_text(cell: UnitCell) -> str:
    """The file's content; reads back to exactly the same numbers."""
    comment = (
        "Stiffness of one solid cell over Young's modulus, by 'gridshell prove FILE --save'.\n"
        "It holds for this geometry and Poisson's ratio alone. A in m, B in m^2, D in m^3; order\n"
        "axial, hoop, shear; about the skin's middle surface, the wall flat.\n"
        "[formula]: formula over solid, less one; EA and GJ on the tube's true radius."
    )
    return table_text(cell, comment)


def write_unit_cell(cell: UnitCell, path: str | Path, force: bool = False) -> None:
    """Write the file, whole or not at all.

    Raises:
        InputError: not a .toml, a file is there and ``force`` is False, or it can't be written.
    """
    check_unit_cell_path(path)
    write_text(path, unit_cell_text(cell), force)


def check_unit_cell_path(path: str | Path) -> None:
    """Refuse a file name that no definition file should name, before any work is done.

    Raises:
        InputError: it does not end in .toml.
    """
    if Path(path).suffix.lower() != ".toml":
        raise InputError(f"--save {str(path)!r}: the file of a solid cell ends in .toml")


def read_unit_cell(path: str | Path) -> UnitCell:
    """Read and check the file of a solid cell.

    Raises:
        DefinitionError: every problem found, each on one line with its key path.
    """
    content, _ = read_toml(path)
    problems = Problems()
    if "tube" in content or "skin" in content:
        raise DefinitionError(str(path), [Problem(
            "", "is a definition file, not a solid cell; write one with 'gridshell prove FILE "
            "--save CELL.toml'")])
    cell = read_table(UnitCell, content, "", problems)
    if isinstance(cell, UnitCell):
        problems += _check_stiffness(cell)
        for name, value in cell.formula.items():
            if not _is_finite(value):
                problems.add(f"formula.{name}", f"{short(value)} is not a plain number")
    if problems:
        raise DefinitionError(str(path), problems)
    assert isinstance(cell, UnitCell)
    return cell


def _is_finite(value: Any) -> bool:
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:  # an integer beyond every float
        return False


def _check_stiffness(cell: UnitCell) -> list[Problem]:
    """Whether A, B, D are those of some wall of this skin with material on the ribs' side only."""
    stated = cell.stiffness
    problems = Problems(
        Problem(f"stiffness.{name}", "unknown key; known: A, B, D")
        for name in stated if name not in _UNITS)
    for name, unit in _UNITS.items():
        value = stated.get(name)
        rows = value if isinstance(value, list) and len(value) == 3 else []
        if not rows or not all(
            isinstance(row, list) and len(row) == 3 and all(map(_is_finite, row)) for row in rows
        ):
            problems.add(f"stiffness.{name}", f"{short(value)} is not 3 rows of 3 numbers ({unit})")
        elif not np.allclose(rows, np.transpose(rows), rtol=1e-6, atol=1e-9 * np.max(np.abs(rows))):
            problems.add(f"stiffness.{name}", f"{short(value)} is not symmetric, as a stiffness is")
    if problems:
        return problems
    # More material is stiffer: the skin alone is below, a plate as deep as skin and ribs above.
    t, high = cell.geometry.skin_thickness, cell.geometry.rib_height
    for name, value in (("skin_thickness", t), ("rib_height", high)):
        if not 1e-9 < value < 1e6:  # its powers stay numbers
            problems.add(f"geometry.{name}", f"{value:g} m is no wall; must be 1e-9 to 1e6 m")
    if problems:
        return problems
    share = np.array([1.0, 1.0, (1 - cell.poisson) / 2]) / (1 - cell.poisson**2)
    third = t**3 / 12
    bounds = {
        "A": (t, t + high, 1),
        "D": (third, third + ((t / 2 + high) ** 3 - (t / 2) ** 3) / 3, 3),
    }
    A, B, D = cell.matrices()
    for name, matrix in (("A", A), ("D", D)):
        least, most, power = bounds[name]
        for i, place in enumerate(("11", "22", "66")):
            value, low, top = matrix[i, i], least * share[i], most * share[i]
            if not low * (1 - _ROUGH) <= value <= top * (1 + _ROUGH):
                problems.add(
                    f"stiffness.{name}",
                    f"entry {place} = {value:.6g} m{'^3' if power == 3 else ''} can't be: the skin "
                    f"alone gives {low:.6g}, a plate of the whole depth {top:.6g}")
    if problems:
        return problems
    whole = np.block([[A / t, B / t**2], [B / t**2, D / t**3]])
    if np.linalg.eigvalsh((whole + whole.T) / 2)[0] <= 0:
        problems.add("stiffness.B", "is too large for A and D; no wall has that")
    sign = 1 if cell.geometry.side == "outside" else -1
    if sign * (B[0, 0] + B[1, 1]) < 0:
        problems.add(
            "stiffness.B", f"has the sign of ribs on the other side than {cell.geometry.side!r}")
    return problems
