"""Random tubes, solved as shells and kept: the formulas of the whole tube beside them.

Fifty designs are drawn over what the definition accepts in its sensible middle, in the order of a
Sobol sequence; a design that the definition refuses is drawn again, no other is left out. Each is
solved as a tube of shells (`gridshell.proof.shells.tube`) that has the wall's A, B, D on its
radius and its transverse shear, so the comparison judges shell theory, search of waves, ends and
beam formulas, and not the smearing of ribs (unit cells judge that). The answers are kept in
shell_tubes.csv (modulus 1 GPa) with the A, B, D that they hold for; formulas are evaluated afresh.
``python -m gridshell.proof.shells.sample`` solves all again (minutes on one core).
"""

from __future__ import annotations

import csv
import functools
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.errors import DefinitionError
from gridshell.define.files.replacing import replacing
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.material.properties import Properties
from gridshell.proof.maps.tubes import stated
from gridshell.proof.shells.tube import ShellTube, ShellWall, unit_state
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling.general import buckling_loads, resultant
from gridshell.tube.buckling.wave_stiffness import wave_stiffness
from gridshell.tube.buckling.waves import LOADS, lowest_wave
from gridshell.tube.section.column import Member
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import Wall, assess_wall

DATA = Path(__file__).parent / "shell_tubes.csv"
BEAM = ("EA", "EI", "GJ", "column")
SUPPORTS = ("simply-supported", "free-free")  # of the frequencies
SHAPE = ("diameter", "length", "skin", "height", "width", "spacing", "hoop_spacing", "draft",
         "corner_radius", "root_fillet", "poisson")
WALL = (*(name + entry for name in "ABD" for entry in ("11", "22", "12", "66")),
        "shear_x", "shear_y", "areal_mass")
SEED = 20
TITLE = "Invented: tube of the shell sample"
_ALONG, _ROUND = 14, 40  # facets in a half wave along and in a wave round, coarse mesh
_PLACES = {"11": (0, 0), "22": (1, 1), "12": (0, 1), "66": (2, 2)}


@dataclass(frozen=True)
class ShellRow:
    """One tube solved as shells.

    Attributes:
        design: the tube.
        properties: of its material.
        wall: A, B, D on the radius, transverse shear and mass, as the shells had them.
        solved: EA, EI, GJ, column, general loads and first frequencies of the shells by name,
            SI; a frequency as "simply-supported" and "free-free", Hz.
        waves: half waves along and waves round of each general load.
    """

    design: Design
    properties: Properties
    wall: ShellWall
    solved: dict[str, float]
    waves: dict[str, tuple[int, int]]

    @property
    def radius(self) -> float:
        """Of the skin's middle surface, m."""
        return float(self.design.skin_radius)

    @property
    def depth(self) -> float:
        """Skin and rib over the radius."""
        return float(self.design.ribs.height + self.design.skin.thickness) / self.radius

    @property
    def length(self) -> float:
        """Of the tube, m."""
        return float(self.design.tube.length)

    def theory(self) -> dict[str, float]:
        """The project's formulas on the very wall that the shells had, by the names of `solved`.

        General loads without the bowing of the skin between ribs, which shells know nothing of.
        """
        A, B, D = self.wall.stiffness
        radius, length = self.radius, self.length
        beam = beam_stiffness(A, B, D, radius)
        law = wave_stiffness(A, B, D, radius, shear=self.wall.shear)
        loads = {
            name: float(lowest_wave(name, law, length).load) * float(resultant(name, radius))
            for name in LOADS
        }
        return {
            "EA": float(beam.EA), "EI": float(beam.EI), "GJ": float(beam.GJ),
            "column": float(
                Member("simply-supported", length, beam.EI, beam.GA).column_load), **loads,
        }

    def tube(self) -> dict[str, float]:
        """What `gridshell tube` has: general loads of perfect theory with the bowing of the skin
        between ribs, and first frequencies; by the names of `solved`."""
        found = assess_tube(self.design, self.properties, needed=LOADS)
        loads = {
            name: float(getattr(found.buckling, name).load) * float(resultant(name, self.radius))
            for name in LOADS
        }
        return {**loads, **{name: float(found.frequencies[name]) for name in SUPPORTS}}


def draws(count: int) -> Iterator[dict[str, str | float]]:
    """Random tubes over the sensible middle of what is accepted: heights 0.5 to 6 skins, drafts to
    4 deg, radius over skin 15 to 400, length over radius 1 to 30, ribs inside and outside.

    Args:
        count: of accepted designs.
    """
    from scipy.stats import qmc

    number = 0
    for p in qmc.Sobol(11, seed=SEED).random(4096):
        skin = 1e-3
        radius = skin * np.exp(np.log(15) + p[0] * np.log(400 / 15))
        height = skin * np.exp(np.log(0.5) + p[1] * np.log(12))
        width = height * (0.25 + 0.75 * p[2])
        spacing = 2 * np.pi * radius / np.rint(np.exp(np.log(6) + p[3] * np.log(10)))
        pattern, side = CELL_PATTERNS[number % 3], ("inside", "outside")[number // 3 % 2]
        row: dict[str, str | float] = {
            "pattern": pattern, "side": side, "diameter": 2 * radius,
            "length": radius * np.exp(p[4] * np.log(30)), "skin": skin, "height": height,
            "width": width, "spacing": spacing,
            "hoop_spacing": spacing * (0.5 + 1.5 * p[5]) if pattern == "orthogrid" else 0.0,
            "draft": float(np.radians(4 * p[6])), "corner_radius": width * p[7],
            "root_fillet": min(width, height) * 0.5 * p[8], "poisson": 0.25 + 0.23 * p[9],
        }
        try:
            stated(row, TITLE)
        except DefinitionError:
            continue
        yield row
        number += 1
        if number == count:
            return


def shell_wall(built: Wall) -> ShellWall:
    """What a shell of this wall is made of: A, B, D on the radius, shear, mass."""
    skin = 5 / 6 * float(built.properties.modulus) / (2 * (1 + float(built.properties.poisson)))
    shear = [float(value) for value in built.transverse_shear]
    x, y = (value if np.isfinite(value) else skin * float(built.design.skin.thickness)
            for value in shear)
    A, B, D = (np.array(matrix, float) for matrix in built.curved)
    return ShellWall((A, B, D), (x, y), float(built.areal_mass))


def solve_row(
    wall: ShellWall, radius: float, length: float, guess: dict[str, tuple[float, int]]
) -> tuple[dict[str, float], dict[str, tuple[int, int]]]:
    """Stiffness, column, lowest general loads and frequencies of one tube of shells.

    Args:
        wall: of the shells.
        radius: of the skin's middle surface, m.
        length: m.
        guess: half waves along and waves round that the formula finds for each load; every n from
            0 (pressure: 2) to twice that and 4 more is solved, n = 1 left out.

    Returns:
        Answers by name, SI; and half waves along and waves round of each general load.
    """
    most = max(m for m, _ in guess.values())
    along = int(np.clip(_ALONG * most, 60, 420))
    coarse = ShellTube(wall, radius, length, along, _ROUND)
    fine = ShellTube(wall, radius, length, 2 * along, 2 * _ROUND)
    solved = dict(coarse.beam())
    column = coarse.mode(1, unit_state("compression", radius))
    # A short tube buckles with n = 1 in waves of its wall first: no column to compare.
    solved["column"] = float("nan") if column is None or column.m > 1 else column.load
    waves = {}
    for name in LOADS:
        first = 0 if name == "compression" else 2
        rounds = [n for n in range(first, 2 * guess[name][1] + 5) if n != 1]
        start = coarse.lowest(name, rounds).n
        near = [n for n in (start - 1, start, start + 1) if n >= first and n != 1]
        mode = fine.lowest(name, near)
        # The error of both meshes falls with the square of the facet's size.
        solved[name] = (4 * mode.load - coarse.lowest(name, [mode.n]).load) / 3
        waves[name] = (mode.m, mode.n)
    for support in SUPPORTS:
        solved[support] = coarse.frequency(support)
    return solved, waves


def solve(
    count: int = 50, path: Path = DATA, progress: Callable[[str], None] = lambda _: None
) -> None:
    """Solve the sample and write it (beside, then replace).

    Args:
        count: of tubes.
        path: table to write.
        progress: told number and pattern.

    Raises:
        MissingPackage: pyfe3d is not installed.
    """
    rows: list[list[str]] = []
    for number, row in enumerate(draws(count), start=1):
        progress(f"tube {number} of {count}: {row['pattern']}")
        design, known = stated(row, TITLE)
        built = assess_wall(design, known)
        wall = shell_wall(built)
        found = buckling_loads(built, LOADS)
        guess = {name: (float(getattr(found, name).m), int(getattr(found, name).n))
                 for name in LOADS}
        solved, waves = solve_row(
            wall, float(design.skin_radius), float(design.tube.length), guess)
        rows.append([
            str(row["pattern"]), str(row["side"]), *(f"{float(row[name]):.9g}" for name in SHAPE),
            *(f"{value:.9g}" for value in _wall_numbers(wall)),
            *(f"{solved[name]:.6g}" for name in (*BEAM, *LOADS, *SUPPORTS)),
            *(str(number) for name in LOADS for number in waves[name]),
        ])
    with replacing(path, True) as scratch, open(
        scratch, "w", newline="", encoding="utf-8"
    ) as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([
            "pattern", "side", *SHAPE, *WALL, *BEAM, *LOADS, *SUPPORTS,
            *(name + what for name in LOADS for what in (" m", " n"))])
        writer.writerows(rows)


def _wall_numbers(wall: ShellWall) -> list[float]:
    entries = [float(matrix[place]) for matrix in wall.stiffness for place in _PLACES.values()]
    return [*entries, *wall.shear, wall.areal_mass]


@functools.lru_cache(maxsize=2)
def read(path: Path = DATA) -> tuple[ShellRow, ...]:
    """The solved tubes."""
    found = []
    with open(path, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            design, known = stated(dict(row), TITLE)
            matrices = []
            for name in "ABD":
                matrix = np.zeros((3, 3))
                for entry, (i, j) in _PLACES.items():
                    matrix[i, j] = matrix[j, i] = float(row[name + entry])
                matrices.append(matrix)
            wall = ShellWall(
                (matrices[0], matrices[1], matrices[2]),
                (float(row["shear_x"]), float(row["shear_y"])), float(row["areal_mass"]))
            found.append(ShellRow(
                design, known, wall,
                {name: float(row[name]) for name in (*BEAM, *LOADS, *SUPPORTS)},
                {name: (int(row[name + " m"]), int(row[name + " n"])) for name in LOADS},
            ))
    return tuple(found)


def ratios(rows: tuple[ShellRow, ...]) -> tuple[dict[str, Array], dict[str, Array]]:
    """Formula over shells, one number a row.

    Args:
        rows: of `read`.

    Returns:
        By name: theory on the same wall (`BEAM` and `LOADS`; NaN where a short tube has no column
        load), and what `gridshell tube` has (`LOADS` and `SUPPORTS`).
    """
    theory, tube = [row.theory() for row in rows], [row.tube() for row in rows]
    solved = [row.solved for row in rows]

    def over(found: list[dict[str, float]], names: tuple[str, ...]) -> dict[str, Array]:
        return {name: np.array([
            one[name] / judge[name] for one, judge in zip(found, solved, strict=True)
        ]) for name in names}

    return over(theory, (*BEAM, *LOADS)), over(tube, (*LOADS, *SUPPORTS))


if __name__ == "__main__":
    solve(progress=lambda step: print(f"\r{step} ", end="", file=sys.stderr, flush=True))
