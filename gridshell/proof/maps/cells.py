"""Map of the formulas' error over rib width, height, skin, radius and fillet.

The stiffness of about ninety solid cells, spread over the shapes people cast, print and mill,
is kept in unit_cells.csv (per unit modulus and unit node distance). The formulas are
evaluated afresh each time, so the map always speaks of the formulas as they are. ``gridshell prove
--map`` shows it, with ``--solve CELLS.csv`` after solving every cell again (about 10 minutes on one
core); ``python -m gridshell.proof.maps.cells`` replaces the cells that are kept here.
"""

from __future__ import annotations

import csv
import functools
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.errors import InputError
from gridshell.define.files.replacing import replacing
from gridshell.define.types import Array
from gridshell.proof.cell.formula import cell_formulas
from gridshell.proof.cell.geometry import Cell

DATA = Path(__file__).parent / "unit_cells.csv"
FRESH = Path(__file__).parent / "fresh_cells.csv"
"""Cells toward and beyond the edges of that map; nothing was fitted or chosen on them."""
SHAPE = ("width", "height", "thickness", "corner_radius", "root_fillet", "draft", "poisson")
ENTRIES = ("11", "22", "12", "66")


@dataclass(frozen=True)
class UnitCells:
    """The solved cells: shapes over node distance, stiffness per unit modulus.

    Attributes:
        pattern: name of each row's pattern.
        shape: column arrays by the names in `SHAPE`; lengths over the node distance, draft in
            rad.
        solid: by "A", "B", "D": (rows, 4) of entries 11, 22, 12, 66.
    """

    pattern: tuple[str, ...]
    shape: dict[str, Array]
    solid: dict[str, Array]


class Errors(NamedTuple):
    """Formula over solid less one, (rows, 4) in each of A, B, D; the entries 12 and 66 are over
    sqrt(11 x 22), since one that is nearly zero says nothing about the wall."""

    A: Array
    B: Array
    D: Array

    @property
    def worst(self) -> Array:
        """Largest magnitude in each row."""
        return np.asarray(np.max(np.abs(np.concatenate(self, axis=1)), axis=1))


def unit_rectangle(pattern: str) -> tuple[float, float]:
    """Axial and hoop size of the repeating rectangle with node distance 1 along the ribs."""
    if pattern == "isogrid":
        return float(np.sqrt(3.0)), 1.0
    return (1.0, 1.0) if pattern == "orthogrid" else (float(np.sqrt(2.0)), float(np.sqrt(2.0)))


def shapes(count: int) -> Iterator[dict[str, float]]:
    """Spread of cell shapes (a Sobol sequence; the pockets stay open and the ribs straight)."""
    from scipy.stats import qmc

    low = np.log([0.025, 0.5, 0.25])  # width / node distance, height / width, skin / width
    high = np.log([0.16, 4.0, 2.0])
    for point in qmc.Sobol(7, seed=5).random(count):
        width, tall, skin = np.exp(low + point[:3] * (high - low))
        height = width * tall
        if height > 0.35:
            continue
        draft = np.radians(5.0 * point[5]) if point[5] > 0.4 else 0.0
        root = width + 2 * height * np.tan(draft)
        room = 0.24 - root / 2
        if room <= 0:
            continue
        radius = min(1.2 * width * max(point[3] - 0.25, 0.0) / 0.75, room)
        fillet = min(0.5 * width * max(point[4] - 0.3, 0.0) / 0.7, 0.9 * height, room)
        yield {
            "width": width, "height": height, "thickness": width * skin,
            "corner_radius": radius, "root_fillet": fillet, "draft": float(draft),
            "poisson": 0.28 + 0.2 * point[6],
        }


def solve(
    count: int = 32, path: Path = DATA, progress: Callable[[str], None] = lambda _: None,
    force: bool = True,
) -> None:
    """Solve the spread of cells for each pattern and write them (beside, then replace).

    Args:
        count: shapes of the spread, of which impossible ones are left out.
        path: table to write.
        force: replace one that is there.
        progress: told pattern and number.

    Raises:
        MissingPackage: scikit-fem is not installed.
        InputError: the file can't be written.
    """
    from gridshell.proof.cell.homogenize import converged, finite_elements

    finite_elements()
    rows: list[list[str]] = []
    for pattern in CELL_PATTERNS:
        x, y = unit_rectangle(pattern)
        for number, shape in enumerate(shapes(count), start=1):
            progress(f"{pattern}: cell {number} of {count}")
            cell = Cell(
                pattern, x, round_hoop=y, thickness=shape["thickness"], height=shape["height"],
                width=shape["width"], draft=shape["draft"], corner_radius=shape["corner_radius"],
                root_fillet=shape["root_fillet"],
            )
            try:
                wall, _ = converged(cell, 1.0, shape["poisson"])
            except InputError:  # corners that meet: no such cell
                continue
            found = [
                matrix[i, j] for matrix in (wall.A, wall.B, wall.D)
                for i, j in ((0, 0), (1, 1), (0, 1), (2, 2))
            ]
            rows.append([pattern, *(f"{shape[name]:.6g}" for name in SHAPE),
                         *(f"{value:.6g}" for value in found)])
    with replacing(path, force) as scratch, open(
        scratch, "w", newline="", encoding="utf-8"
    ) as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["pattern", *SHAPE, *(m + e for m in "ABD" for e in ENTRIES)])
        writer.writerows(rows)


@functools.lru_cache(maxsize=2)
def read(path: Path = DATA) -> UnitCells:
    """The solved cells."""
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return UnitCells(
        tuple(row["pattern"] for row in rows),
        {name: np.array([float(row[name]) for row in rows]) for name in SHAPE},
        {m: np.array([[float(row[m + e]) for e in ENTRIES] for row in rows]) for m in "ABD"},
    )


def errors(cells: UnitCells) -> tuple[Errors, Errors]:
    """Errors of the handbook's formula and of the improved one on the solved cells."""
    found = [{m: np.empty((len(cells.pattern), 4)) for m in "ABD"} for _ in range(2)]
    for pattern in CELL_PATTERNS:
        rows = np.array([name == pattern for name in cells.pattern])
        x, y = unit_rectangle(pattern)
        shape: dict[str, Any] = {name: cells.shape[name][rows] for name in SHAPE}
        poisson = shape.pop("poisson")
        both = cell_formulas(Cell(pattern, x, y, **shape), 1.0, poisson)
        for place, formula in zip(found, both, strict=True):
            for matrix in "ABD":
                place[matrix][rows] = compare(
                    getattr(formula, matrix), cells.solid[matrix][rows]
                )
    handbook, improved = (Errors(place["A"], place["B"], place["D"]) for place in found)
    return handbook, improved


def compare(formula: Array, solid: Array) -> Array:
    """Relative errors (..., 4) of a formula's (..., 3, 3) against solid entries (..., 4)."""
    entries = np.stack(
        [formula[..., 0, 0], formula[..., 1, 1], formula[..., 0, 1], formula[..., 2, 2]], axis=-1
    )
    return np.asarray((entries - solid) / _scale(np.broadcast_to(solid, entries.shape)))


def _scale(solid: Array) -> Array:
    """What errors of the entries 11, 22, 12, 66 count over: 12 and 66 over sqrt(11 x 22)."""
    scale = np.array(solid)
    scale[..., 2:] = np.sqrt(np.abs(solid[..., 0] * solid[..., 1]))[..., None]
    return scale


def difference(cells: UnitCells, others: UnitCells) -> float | None:
    """Largest relative difference of the same cells solved twice; None if they are other cells.

    Entries 12 and 66 count over the root of 11 x 22.
    """
    if cells.pattern != others.pattern or any(
        not np.allclose(cells.shape[name], others.shape[name], rtol=1e-5) for name in SHAPE
    ):
        return None
    worst = 0.0
    for matrix in "ABD":
        moved = (cells.solid[matrix] - others.solid[matrix]) / _scale(others.solid[matrix])
        worst = max(worst, float(np.max(np.abs(moved))))
    return worst


if __name__ == "__main__":
    solve(progress=lambda step: print(f"\r{step} ", end="", file=sys.stderr, flush=True))
