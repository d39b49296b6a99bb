"""Maker of the two tables that the wall formula reads: rib layers with their nodes, and strips.

    python -m gridshell.proof.plates.tables layers
    python -m gridshell.proof.plates.tables strips

Each writes its CSV beside `gridshell.wall.stiffness` (about 15 and 5 minutes on one core). Shapes
are spread over everything a definition file may state: ribs from thin to closing the pocket.
"""

from __future__ import annotations

import csv
import itertools
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import replacing
from gridshell.proof.cell.formula import cell_lines
from gridshell.proof.cell.geometry import Cell
from gridshell.proof.plates.node import grid_stiffness
from gridshell.proof.plates.strip import solved_lengths
from gridshell.wall.stiffness.rib_layer import (
    LAYER_AXES,
    LAYERS,
    radius_of,
    solid_share,
    unit_rectangle,
)
from gridshell.wall.stiffness.strip import STRIP_AXES, STRIPS, VALUES

Row = list[float | str]


def layer_rows(progress: Callable[[str], None] = lambda _: None) -> Iterator[Row]:
    """Stiffness of the rib layer over every shape, Poisson's ratio zero, per unit modulus.

    Widths of 0 and 1 (no ribs, no pockets) need no solution.
    """
    for pattern, (shapes, widths, roundings) in LAYER_AXES.items():
        for shape, wide, rounding in itertools.product(shapes, widths, roundings):
            if wide in (0.0, 1.0) or shape == 0.0:
                continue
            progress(f"{pattern} {shape:g} {wide:g} {rounding:g}")
            x, y, inradius = unit_rectangle(pattern, shape)
            width = 2 * inradius * wide
            room = inradius * (1 - wide) * (1 - 1e-6)
            radius = radius_of(width, room, rounding)
            cell = Cell(pattern, x, y, 1.0, width=width, corner_radius=radius)
            try:
                solved = grid_stiffness(cell, 0.0)
            except InputError:  # no straight rib between two nodes is left; not meshed
                continue
            lines, node_area = cell_lines(cell)
            solid, _ = solid_share(pattern, [line.pitch for line in lines], node_area,
                                   [width] * len(lines), radius)
            yield [
                pattern, shape, wide, rounding, float(solid),
                *(float(f"{solved[i, j]:.7g}") for i, j in ((0, 0), (1, 1), (0, 1), (2, 2))),
            ]


def strip_rows(progress: Callable[[str], None] = lambda _: None) -> Iterator[Row]:
    """Strip lengths over rib width of every section, see `solved_lengths`."""
    for thin, tall, round_ in itertools.product(*STRIP_AXES):
        progress(f"skin {thin:g} height {tall:g} fillet {round_:g}")
        found = solved_lengths(thin, 1.0, tall, round_ * min(1.0, tall))
        yield [thin, tall, round_, *(float(f"{getattr(found, name):.7g}") for name in VALUES)]


def write(path: Path, heading: list[str], rows: Iterator[Row]) -> None:
    """Write a table beside its place, then replace."""
    with replacing(path, True) as scratch, open(
        scratch, "w", newline="", encoding="utf-8"
    ) as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(heading)
        writer.writerows(rows)


def main(what: str) -> None:
    """Write the table named: layers or strips."""
    def progress(step: str) -> None:
        print(f"\r{step:40}", end="", file=sys.stderr, flush=True)

    if what == "layers":
        write(LAYERS, ["pattern", "shape", "width", "rounding", "fraction",
                       "G11", "G22", "G12", "G66"], layer_rows(progress))
    else:
        write(STRIPS, ["skin", "height", "fillet", *VALUES], strip_rows(progress))


if __name__ == "__main__":
    main(sys.argv[1])
