"""Unit cells outside of the map: how far the formula may be too stiff where it was never held.

Shapes over most of what a definition file accepts, each with at least one ratio outside of
`gridshell.wall.stiffness.verified_range.MAPPED`, drawn before any was solved and none left out but
those that the mesh can't make (ribs that leave no straight piece between nodes). Kept in
outside_cells.csv as in `gridshell.proof.maps.cells`; ``python -m gridshell.proof.maps.outside``
solves them again (half an hour on one core).
"""

from __future__ import annotations

import csv
import dataclasses
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, Material, Ribs, Skin, Tube
from gridshell.define.types import Array
from gridshell.material.resolve import properties
from gridshell.proof.cell.geometry import Cell
from gridshell.proof.maps.cells import ENTRIES, SHAPE, unit_rectangle
from gridshell.tube.buckling.general import buckling_loads
from gridshell.tube.section.lands import tube_stiffness
from gridshell.wall.assess import Wall, assess_wall

DATA = Path(__file__).parent / "outside_cells.csv"
COLUMNS = ("pattern", "stretch", *SHAPE)
LOADS = ("compression", "lateral", "hydrostatic", "torsion")
# Of the tubes that the cells are compared on: node distance, m; radius over depth, length over
# radius.
_NODES, _SLENDER, _LONG = 0.02, (8.0, 40.0), 3.0


def shapes(pattern: str, count: int) -> Iterator[dict[str, float]]:
    """Spread of shapes outside of the map (a Sobol sequence), lengths over the rectangle's.

    Args:
        pattern: of the ribs.
        count: points of the sequence; those that close the pockets or lie inside the map are left
            out.
    """
    from scipy.stats import qmc

    low = np.log([0.01, 0.1, 0.06])  # width, height / width, skin / width
    high = np.log([0.35, 12.0, 8.0])
    for point in qmc.Sobol(8, seed=11).random(count):
        width, tall, skin = np.exp(low + point[:3] * (high - low))
        stretch = float(np.exp((2 * point[7] - 1) * 0.5)) if point[7] > 0.5 else 1.0
        height = width * min(tall, 0.6 / width)
        draft = np.radians(60.0 * (point[5] - 0.5)) if point[5] > 0.5 else 0.0
        x, y = unit_rectangle(pattern)
        x *= stretch
        root = width + 2 * height * np.tan(draft)
        if pattern == "isogrid":
            room = x * y / (y + np.hypot(x, y)) / 2
        elif pattern == "orthogrid":
            room = min(x, y) / 2
        else:
            room = x * y / np.hypot(x, y) / 2
        room = 0.9 * room - root / 2
        if room <= 0:
            continue
        radius = min(3 * width * max(point[3] - 0.4, 0.0) / 0.6, room)
        fillet = min(width * max(point[4] - 0.4, 0.0) / 0.6, 0.9 * height, room)
        yield {
            "stretch": stretch, "width": width, "height": height, "thickness": width * skin,
            "corner_radius": radius, "root_fillet": fillet, "draft": float(draft),
            "poisson": 0.49 * point[6],
        }


def tubes(pattern: str, shape: dict[str, float]) -> Iterator[Wall]:
    """Walls of two tubes with that cell, one stout and one slender, by formula."""
    x, y = (size * _NODES for size in unit_rectangle(pattern))
    x *= shape["stretch"]
    sizes = {name: shape[name] * _NODES for name in SHAPE[:5]}
    along = x / 2 if pattern == "isogrid" else x
    for slender in _SLENDER:
        radius = slender * (sizes["thickness"] + sizes["height"])
        around = max(6, int(np.ceil(2 * np.pi * radius / y)))
        radius = around * y / (2 * np.pi)
        rows = max(3, int(np.ceil(_LONG * radius / along)))
        design = Design(
            "Invented: a tube with the unit cell of a map",
            Material("invented", modulus=1e9, poisson=shape["poisson"], density=1e3),
            Tube(2 * radius + sizes["thickness"], rows * along),
            Skin(sizes["thickness"]),
            Ribs(pattern=pattern, height=sizes["height"], width=sizes["width"],
                 draft=shape["draft"], spacing=y, hoop_spacing=x, angle=np.arctan2(y, x),
                 corner_radius=sizes["corner_radius"], root_fillet=sizes["root_fillet"]),
        )
        yield assess_wall(design, properties(design.material), around, rows)


def with_cell(wall: Wall, solid: dict[str, Array]) -> Wall:
    """The same wall with A, B, D of the solved cell (entries 11, 22, 12, 66 per unit)."""
    found = {}
    for power, name in enumerate("ABD", start=1):
        matrix = np.zeros((3, 3))
        (matrix[0, 0], matrix[1, 1], matrix[0, 1], matrix[2, 2]) = solid[name]
        matrix[1, 0] = matrix[0, 1]
        found[name] = matrix * 1e9 * _NODES**power
    return dataclasses.replace(wall, A=found["A"], B=found["B"], D=found["D"])


def over_cell(wall: Wall, solid: dict[str, Array]) -> dict[str, float]:
    """Formula over unit cell for one tube: EA, EI, GJ and the loads of general instability."""
    cell = with_cell(wall, solid)
    one, two = tube_stiffness(wall), tube_stiffness(cell)
    ratios = {name: float(getattr(one, name) / getattr(two, name)) for name in ("EA", "EI", "GJ")}
    one_load, two_load = buckling_loads(wall, LOADS), buckling_loads(cell, LOADS)
    for name in LOADS:
        ratios[name] = float(getattr(one_load, name).load / getattr(two_load, name).load)
    return ratios


def read(path: Path = DATA) -> list[tuple[str, dict[str, float], dict[str, Array]]]:
    """The solved cells: pattern, shape, and A, B, D as (4,) entries 11, 22, 12, 66."""
    with open(path, newline="", encoding="utf-8") as file:
        return [
            (row["pattern"], {name: float(row[name]) for name in COLUMNS[1:]},
             {m: np.array([float(row[m + e]) for e in ENTRIES]) for m in "ABD"})
            for row in csv.DictReader(file)
        ]


def solve(
    count: int = 32, path: Path = DATA, progress: Callable[[str], None] = lambda _: None
) -> None:
    """Solve the spread of cells for each pattern and write them, row by row.

    Args:
        count: points of the spread for each pattern.
        path: table to write.
        progress: told pattern and number.
    """
    from gridshell.proof.cell.homogenize import converged

    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([*COLUMNS, *(m + e for m in "ABD" for e in ENTRIES)])
        for pattern in CELL_PATTERNS:
            for number, shape in enumerate(shapes(pattern, count), start=1):
                progress(f"{pattern}: cell {number}")
                if not all(bool(wall.outside_map) for wall in tubes(pattern, shape)):
                    continue
                x, y = unit_rectangle(pattern)
                sizes: dict[str, Any] = {
                    name: value for name, value in shape.items()
                    if name not in ("stretch", "poisson")}
                try:
                    wall, _ = converged(
                        Cell(pattern, x * shape["stretch"], round_hoop=y, **sizes), 1.0,
                        shape["poisson"])
                except InputError:  # corners that meet: no such cell
                    continue
                writer.writerow(
                    [pattern, *(f"{shape[name]:.6g}" for name in COLUMNS[1:]),
                     *(f"{matrix[i, j]:.6g}" for matrix in (wall.A, wall.B, wall.D)
                       for i, j in ((0, 0), (1, 1), (0, 1), (2, 2)))])
                file.flush()


if __name__ == "__main__":
    solve(progress=lambda step: print(f"\r{step} ", end="", file=sys.stderr, flush=True))
