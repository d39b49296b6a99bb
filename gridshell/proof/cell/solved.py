"""The unit cell of a design, solved when it is first needed and kept for the next time.

Outside the range where the closed form was held to unit cells a command solves the cell itself
(about 10 s) and goes on with its A, B, D, as if ``ribs.solid_cell`` had stated it.
The answer is kept as a file in the user's cache folder, by geometry and Poisson's ratio: Young's
modulus only scales it.
"""

from __future__ import annotations

import functools
import hashlib
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.cache_folder import cache_folder
from gridshell.define.files.unit_cell import read_unit_cell, write_unit_cell
from gridshell.define.tables.design import Design, with_values
from gridshell.material.properties import Properties
from gridshell.proof.cell.compare import cell_of, run_cell
from gridshell.proof.cell.geometry import COARSE, Cell
from gridshell.proof.cell.mesh import quarter_cell
from gridshell.proof.cell.save import saved_cell

VERSION = 2  # of mesh and elements: raise it when a change moves the answer
_DIGITS = 5  # of each dimension: far closer than the match asks (0.1 %)


@functools.lru_cache(maxsize=1)
def _scratch() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="gridshell-")


def unsolvable(design: Design) -> str | None:
    """Why no unit cell can be solved for a design; None if one can."""
    if not design.has_ribs:
        return "a plain wall needs no unit cell; its formula is exact"
    if any(np.ndim(value) for value in (
        design.skin.thickness, design.ribs.height, design.ribs.width, design.ribs.spacing,
    )):
        return "an array of designs; a unit cell is solved for one design"
    try:
        quarter_cell(replace(cell_of(design), radius=np.inf), COARSE)  # milliseconds
    except InputError as error:
        return str(error)
    return None


def solved_cell_file(
    design: Design, properties: Properties, progress: Callable[[str], None] = lambda _: None
) -> Path:
    """File of the unit cell of a design, solved now if it is not there yet.

    Args:
        design: one design.
        properties: of its material at the temperature of use.
        progress: told when a cell is being solved.

    Returns:
        A file that ``ribs.solid_cell`` may name.

    Raises:
        MissingPackage: scikit-fem is not installed.
        InputError: the design has no unit cell; see `unsolvable`.
    """
    why = unsolvable(design)
    if why is not None:
        raise InputError(f"unit cell: {why}")
    name = f"{_key(cell_of(design), float(properties.poisson))}.toml"
    kept = cache_folder("unit-cells") / name
    if _readable(kept):
        return kept
    own = Path(_scratch().name) / name
    if _readable(own):
        return own
    progress("unit cell by finite elements, about 10 s; kept for the next time")
    result = run_cell(design, properties, "medium", curved=False)
    found = saved_cell(result, design, properties)
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        write_unit_cell(found, kept, force=True)
        return kept
    except (InputError, OSError):  # no place to keep it: solved again next time
        write_unit_cell(found, own, force=True)
        return own


def with_solved_cell(
    design: Design, properties: Properties, progress: Callable[[str], None] = lambda _: None
) -> Design:
    """The design with the stiffness of its own unit cell; see `solved_cell_file`.

    Args:
        design: one design.
        properties: of its material at the temperature of use.
        progress: told when a cell is being solved.
    """
    return with_values(
        design, {"ribs.solid_cell": str(solved_cell_file(design, properties, progress))})


def _readable(path: Path) -> bool:
    if not path.is_file():
        return False
    try:
        read_unit_cell(path)
    except (InputError, ValueError, OSError):  # cut short, or edited: solved again
        return False
    return True


def _key(cell: Cell, poisson: float) -> str:
    numbers = (cell.along_axis, cell.round_hoop, cell.thickness, cell.height, cell.width,
               cell.draft, cell.corner_radius, cell.root_fillet, poisson)
    words = [str(VERSION), cell.pattern, cell.orientation, str(cell.side),
             *(f"{number:.{_DIGITS}g}" for number in numbers)]
    return hashlib.sha256("|".join(words).encode()).hexdigest()[:24]
