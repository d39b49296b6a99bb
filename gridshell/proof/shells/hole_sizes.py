"""Share of the compression load that one round hole leaves of a tube of shells, over its size.

Perfect tubes with plain walls, no land, by `gridshell.proof.shells.openings`; kept in
hole_sizes.csv. What `gridshell.tube.strength.cutouts.buckling_left` allows is held to it.
``python -m gridshell.proof.shells.hole_sizes`` solves them again (a quarter of an hour on one
core).
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from gridshell.define.tables.mold import Cutout
from gridshell.proof.shells.openings import OpenTube, openings
from gridshell.proof.shells.tube import ShellWall
from gridshell.wall.stiffness.smeared import skin_stiffness

DATA = Path(__file__).parent / "hole_sizes.csv"
COLUMNS = ("slender", "length", "size", "along", "round", "left")
# Radius over thickness, length over radius, facets along and round, half the hole's size over
# sqrt(R t).
TUBES = (
    (25.0, 1.0, (34, 208), (0.5, 0.7, 1.0)),
    (25.0, 2.0, (46, 146), (0.7, 1.0, 1.3, 1.6, 2.0, 2.5, 3.0, 4.0)),
    (100.0, 1.5, (52, 218), (1.0, 1.5, 2.0, 3.0)),
)


def solve(path: Path = DATA) -> None:
    """Solve every tube and write the table, row by row."""
    radius, modulus, poisson = 1.0, 1e9, 0.3
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for slender, long, facets, sizes in TUBES:
            thickness, length = radius / slender, long * radius
            A, D = skin_stiffness(modulus, poisson, thickness)
            shear = 5 / 6 * modulus / (2 * (1 + poisson)) * thickness
            wall = ShellWall((A, 0 * A, D), (shear, shear), 1.0)
            whole = OpenTube(wall, radius, length, np.zeros(facets, dtype=bool)).compression()
            for size in sizes:
                hole = Cutout(shape="round", position=length / 2,
                              diameter=2 * size * np.sqrt(radius * thickness))
                gone = openings([hole], radius, length, facets)
                left = OpenTube(wall, radius, length, gone).compression() / whole
                writer.writerow([slender, long, size, *facets, f"{left:.4f}"])
                file.flush()


if __name__ == "__main__":
    solve()
