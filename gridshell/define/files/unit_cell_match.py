"""Whether the solid cell that a design states (``ribs.solid_cell``) was solved for that design."""

from __future__ import annotations

import functools
import os
from pathlib import PurePath

import numpy as np

from gridshell.define.checks import unit_cell_misplaced
from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell import UnitCell, read_unit_cell
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Quantity

LENGTH_TOLERANCE = 1e-3  # of each dimension, relative; by that much D changes 0.3 %
POISSON_TOLERANCE = 0.01


def refuse_unit_cell(design: Design, what: str) -> None:
    """Refuse a study that changes what a solid cell was solved for.

    Args:
        what: such as "size changes the ribs".
    Raises:
        InputError: the design states ``ribs.solid_cell``.
    """
    if design.ribs.solid_cell is not None:
        raise InputError(
            f"ribs.solid_cell: {PurePath(design.ribs.solid_cell).name} holds for one geometry and "
            f"Poisson's ratio, and {what}; take ribs.solid_cell out of the file"
        )


def without_unit_cell(design: Design) -> Design:
    """The same design with the stiffness of the formula."""
    return with_values(design, {"ribs.solid_cell": None})


@functools.lru_cache(maxsize=8)
def _read_once(path: str, stamp: tuple[int, int]) -> UnitCell:
    return read_unit_cell(path)


def unit_cell_of(
    design: Design, cell_along: Quantity, cell_round: Quantity, poisson: Quantity
) -> UnitCell | None:
    """The solid cell that a design states, once it is known to be of this design; None without.

    Args:
        design: one design or many.
        cell_along, cell_round: size of one cell as built (`gridshell.wall.geometry.lattice`), m.
        poisson: Poisson's ratio at the temperature of use.
    Raises:
        InputError: the file can't be read, or geometry (0.1 % of each dimension) or Poisson's ratio
            (0.01) differ; names the field, the file's value and the design's.
    """
    stated = design.ribs.solid_cell
    if stated is None:
        return None
    why = unit_cell_misplaced(design)
    if why is not None:
        raise InputError(f"ribs.solid_cell: {why}")
    path = design.folder / stated
    try:
        status = os.stat(path)
        cell = _read_once(str(path), (status.st_mtime_ns, status.st_size))
    except OSError as error:
        raise InputError(
            f"ribs.solid_cell: {path}: can't be read ({error.strerror or error}); write it with "
            "'gridshell prove FILE --save CELL.toml'"
        ) from None
    except (InputError, ValueError) as error:
        raise InputError("\n".join(
            f"ribs.solid_cell: {line}" for line in str(error).splitlines())) from None
    _compare(cell, design, cell_along, cell_round, poisson)
    return cell


def _compare(
    cell: UnitCell, design: Design, cell_along: Quantity, cell_round: Quantity, poisson: Quantity
) -> None:
    solved, ribs = cell.geometry, design.ribs
    file = PurePath(str(ribs.solid_cell)).name

    def refuse(field: str, was: str, now: str, accepted: str) -> InputError:
        return InputError(
            f"ribs.solid_cell: {file} was solved for {field} {was}, the design has {now} "
            f"({accepted}); solve it again with 'gridshell prove FILE --save', or leave it out"
        )

    for field, was_word, now_word in (
        ("ribs.pattern", solved.pattern, ribs.pattern),
        ("ribs.orientation", solved.orientation, ribs.orientation),
        ("ribs.side", solved.side, ribs.side),
    ):
        if was_word != now_word:
            raise refuse(field, was_word, now_word, "must be the same")
    for field, was, now, unit, scale in (
        ("skin.thickness", solved.skin_thickness, design.skin.thickness, "mm", 1e3),
        ("ribs.height", solved.rib_height, ribs.height, "mm", 1e3),
        ("ribs.width", solved.rib_width, ribs.width, "mm", 1e3),
        ("ribs.draft", solved.draft, ribs.draft, "deg", 180 / np.pi),
        ("ribs.corner_radius", solved.corner_radius, ribs.corner_radius, "mm", 1e3),
        ("ribs.root_fillet", solved.root_fillet, ribs.root_fillet, "mm", 1e3),
        ("cell along the tube", solved.cell_along, cell_along, "mm", 1e3),
        ("cell round the tube", solved.cell_round, cell_round, "mm", 1e3),
    ):
        worst = _farthest(was, now)
        if abs(worst - was) > LENGTH_TOLERANCE * max(abs(was), abs(worst)):
            raise refuse(field, f"{was * scale:.6g} {unit}", f"{worst * scale:.6g} {unit}",
                         f"{LENGTH_TOLERANCE:.1%} may differ")
    worst = _farthest(cell.poisson, poisson)
    if not abs(worst - cell.poisson) <= POISSON_TOLERANCE:
        raise refuse("Poisson's ratio", f"{cell.poisson:.4g}", f"{worst:.4g} at its temperature",
                     f"{POISSON_TOLERANCE:g} may differ")


def _farthest(was: float, now: Quantity) -> float:
    """The value of one or many designs that is farthest from the file's."""
    values = np.ravel(np.asarray(now, dtype=float))
    return float(values[np.argmax(np.abs(values - was))])
