"""Map of general instability: formula against whole tubes of solid cells, over many designs.

The lowest loads of 36 tubes with every rib in place, spread over what people cast and mill, are
kept in solid_tubes.csv (modulus 1 GPa). The limits of the range notes were chosen on them, so what
the notes claim is held to 10 more, fresh_tubes.csv, that were solved afterwards and that nothing
was fitted to or chosen on. The formulas are evaluated afresh each time. ``python -m
gridshell.proof.maps.tubes`` solves all again (three quarters of an hour on one core).
"""

from __future__ import annotations

import csv
import functools
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from gridshell.define.constants import CELL_PATTERNS, SIDES
from gridshell.define.errors import InputError
from gridshell.define.files.reading import design_from_table
from gridshell.define.files.replacing import replacing
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.material.properties import Properties
from gridshell.tube.buckling.general import (
    buckling_loads,
    resultant,
    ribs_per_half_wave,
    two_helices,
)
from gridshell.wall.assess import Wall, assess_wall

DATA = Path(__file__).parent / "solid_tubes.csv"
FRESH = Path(__file__).parent / "fresh_tubes.csv"
SEEDS = {DATA: 11, FRESH: 2026}
LOADS = ("compression", "lateral", "torsion")
LENGTHS = ("diameter", "length", "skin", "height", "width", "spacing", "hoop_spacing",
           "corner_radius", "root_fillet")
MODULUS, DENSITY = 1e9, 1000.0  # Pa, kg/m3


@dataclass(frozen=True)
class SolidTube:
    """One solved tube.

    Attributes:
        design: what was solved.
        properties: of its material.
        solid: lowest general load by name: N, Pa, N m.
        waves: half waves along and waves round of each.
    """

    design: Design
    properties: Properties
    solid: dict[str, float]
    waves: dict[str, tuple[float, int]]

    @property
    def wall(self) -> Wall:
        """The smeared wall of the design."""
        return assess_wall(self.design, self.properties)

    def formula(self) -> dict[str, float]:
        """Lowest general loads of perfect theory, as `solid`.

        Torsion by two helices that cancel at the ends, as the solid tubes were solved (the
        checks of `tube` use the series of `gridshell.tube.buckling.waves`).
        """
        built = self.wall
        radius = float(built.grid.radius)
        loads = replace(
            buckling_loads(built, ("compression", "lateral")), torsion=two_helices(built))
        return {
            name: float(getattr(loads, name).load) * float(resultant(name, radius))
            for name in LOADS
        }

    def ratios(self, handbook: bool = False) -> dict[str, float]:
        """Formula over solid, or that of the handbook's thin ribs."""
        tube = self
        if handbook:
            thin = with_values(self.design, {"ribs.formula": "thin"})
            tube = replace(self, design=thin)
        return {name: load / self.solid[name] for name, load in tube.formula().items()}

    def smears(self) -> dict[str, bool]:
        """Whether each wave spans the two ribs that smearing needs."""
        built = self.wall
        loads = buckling_loads(built, LOADS)
        return {
            name: bool(ribs_per_half_wave(built, getattr(loads, name)) >= 2) for name in LOADS
        }


def designs(
    count: int, seed: int = SEEDS[DATA]
) -> Iterator[tuple[dict[str, str | float], Design, Properties]]:
    """Spread of invented tubes: patterns in turn, ribs inside and outside, a Sobol sequence.

    Args:
        count: of tubes.
        seed: of the sequence.
    """
    from scipy.stats import qmc

    # radius/skin, height/skin, width/height, cells round, hoop over axial spacing, length/radius
    low = np.array([np.log(25), np.log(1.2), 0.3, np.log(9), 0.75, np.log(3)])
    high = np.array([np.log(200), np.log(5), 0.6, np.log(30), 1.35, np.log(12)])
    number = 0
    for point in qmc.Sobol(8, seed=seed).random(1024):
        slim, tall, stout, cells, ratio, long = low + point[:6] * (high - low)
        skin = 1e-3
        radius, height = skin * np.exp(slim), skin * np.exp(tall)
        width = height * stout
        spacing = 2 * np.pi * radius / np.rint(np.exp(cells))
        if not (0.04 < width / spacing < 0.15 and height / radius < 0.14 and height < spacing / 3):
            continue
        pattern, side = CELL_PATTERNS[number % 3], SIDES[number // 3 % 2]
        table: dict[str, str | float] = {
            "pattern": pattern, "side": side, "diameter": 2 * radius,
            "length": radius * np.exp(long), "skin": skin, "height": height, "width": width,
            "spacing": spacing, "hoop_spacing": spacing * ratio if pattern == "orthogrid" else 0.0,
            "corner_radius": width * 0.8 * point[6], "root_fillet": width * 0.3 * point[6],
            "poisson": 0.3 + 0.15 * point[7],
        }
        yield table, *stated(table)
        number += 1
        if number == count:
            return


def stated(
    row: Mapping[str, str | float], title: str = "Invented: tube of the map"
) -> tuple[Design, Properties]:
    """A row of a table of random tubes as a checked design, and its material of 1 GPa.

    Args:
        row: of a table, lengths in m, draft in rad.
        title: of the design.

    Raises:
        DefinitionError: the definition does not accept it.
    """
    def meters(*names: str) -> dict[str, str]:
        return {name: f"{float(row[name]):.9g} m" for name in names}

    ribs: dict[str, object] = {
        "pattern": row["pattern"], "side": row["side"],
        **meters("spacing", "height", "width", "corner_radius", "root_fillet"),
    }
    if "draft" in row:
        ribs["draft"] = f"{float(row['draft']):.9g} rad"
    if row["pattern"] == "orthogrid":
        ribs |= meters("hoop_spacing")
    if row["pattern"] == "diagonal":
        ribs["angle"] = "45 deg"
    poisson = float(row["poisson"])
    lengths = meters("diameter", "length", "skin")
    design = design_from_table({
        "title": title,
        "material": {"name": "unit", "modulus": "1 GPa", "poisson": poisson,
                     "density": f"{DENSITY:g} kg/m^3", "strength": "10 MPa"},
        "tube": {"outside_diameter": lengths["diameter"], "length": lengths["length"]},
        "skin": {"thickness": lengths["skin"]}, "ribs": ribs,
    })
    return design, Properties("unit", 294.0, MODULUS, poisson, DENSITY, 10e6)


def solve(
    count: int = 36, path: Path = DATA, progress: Callable[[str], None] = lambda _: None,
    seed: int = SEEDS[DATA],
) -> None:
    """Solve the spread of tubes and write them (beside, then replace).

    Args:
        count: tubes.
        path: table to write.
        progress: told number and pattern.
        seed: of the spread.

    Raises:
        MissingPackage: scikit-fem is not installed.
    """
    from gridshell.proof.waves.run import run_whole_tube

    rows: list[list[str]] = []
    for number, (table, design, properties) in enumerate(designs(count, seed), start=1):
        progress(f"tube {number} of {count}: {table['pattern']}")
        try:
            found = run_whole_tube(design, properties, LOADS, local=False)
        except InputError:  # corners that meet: no such cell
            continue
        row = [str(table["pattern"]), str(table["side"]),
               *(f"{float(table[name]):.9g}" for name in (*LENGTHS, "poisson"))]
        for name in LOADS:
            mode = found.modes[name]
            row += [f"{found.row(f'general, {name}').solid:.6g}", f"{mode.m:.6g}", str(mode.n)]
        rows.append(row)
        _write(rows, path)


def _write(rows: list[list[str]], path: Path) -> None:
    with replacing(path, True) as scratch, open(
        scratch, "w", newline="", encoding="utf-8"
    ) as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["pattern", "side", *LENGTHS, "poisson",
                         *(name + what for name in LOADS for what in ("", " m", " n"))])
        writer.writerows(rows)


@functools.lru_cache(maxsize=2)
def read(path: Path = DATA) -> tuple[SolidTube, ...]:
    """The solved tubes."""
    found = []
    with open(path, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            design, properties = stated(dict(row))
            found.append(SolidTube(
                design, properties,
                {name: float(row[name]) for name in LOADS},
                {name: (float(row[name + " m"]), int(row[name + " n"])) for name in LOADS},
            ))
    return tuple(found)


def table(tubes: tuple[SolidTube, ...], handbook: bool = False) -> Array:
    """Formula over solid, (tubes, loads in the order of `LOADS`)."""
    found = [tube.ratios(handbook) for tube in tubes]
    return np.array([[ratio[name] for name in LOADS] for ratio in found])


if __name__ == "__main__":
    for count, path in ((36, DATA), (10, FRESH)):
        solve(count, path, lambda step: print(f"\r{step} ", end="", file=sys.stderr, flush=True),
              SEEDS[path])
