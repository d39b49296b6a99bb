"""The tubes with an imposed deviation that were solved as one mesh, and the formulas beside them.

`python -m gridshell.proof.as_built.cases TABLE.csv` solves them anew (an hour or more) and adds
each to the table as it is found; those that the table has already are passed over.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from gridshell.define.making import make_design
from gridshell.define.tables.design import Design
from gridshell.material.resolve import properties
from gridshell.proof.as_built.solid import PushedTube, push
from gridshell.tube.as_built.parts import with_parts
from gridshell.tube.as_built.perfect import perfect_tube
from gridshell.tube.as_built.shaped import Limit, imposed
from gridshell.tube.buckling.general import buckling_loads, resultant
from gridshell.wall.assess import Wall, assess_wall

TABLE = "pushed_tubes.csv"
_MATERIAL = {"name": "cast", "modulus": "3 GPa", "poisson": 0.35, "density": "1200 kg/m^3"}
_RADIUS = 0.05  # m, of the skin's middle surface


@dataclass(frozen=True)
class Case:
    """One tube and its deviation.

    Attributes:
        name: of the case.
        skin: thickness, m.
        length: m.
        ribs: the table of a definition file.
        shape: (half waves along, waves round) -> amplitude over the skin.
    """

    name: str
    skin: float
    length: float
    ribs: Mapping[str, Any]
    shape: Mapping[tuple[int, int], float]

    @property
    def design(self) -> Design:
        """The design."""
        height = self.ribs.get("height", "0 mm").split()[0]
        over = float(height) * 1e-3 if self.ribs.get("side") == "outside" else 0.0
        diameter = 2 * (_RADIUS + self.skin / 2 + over)
        return make_design(
            title=self.name, material=_MATERIAL, skin={"thickness": f"{self.skin!r} m"},
            tube={"outside_diameter": f"{diameter!r} m", "length": f"{self.length!r} m"},
            ribs=dict(self.ribs))

    @property
    def waves(self) -> int:
        """Waves round of the deviation that is not axisymmetric."""
        return max(n for _, n in self.shape)

    @property
    def amplitudes(self) -> dict[tuple[int, int], float]:
        """The deviation, m."""
        return {wave: share * self.skin for wave, share in self.shape.items()}


def _grid(pattern: str, side: str, height: float, width: float, spacing: float) -> dict[str, Any]:
    found = {"pattern": pattern, "side": side, "height": f"{height} mm", "width": f"{width} mm",
             "spacing": f"{spacing} mm"}
    if pattern == "orthogrid":
        found["hoop_spacing"] = f"{spacing} mm"
    return found


_PLAIN = {"pattern": "plain"}
_IN = _grid("isogrid", "inside", 3, 1.2, 18)
_OUT = _grid("isogrid", "outside", 3, 1.2, 18)
CASES = (
    Case("plain, R/t 25, mode", 2e-3, 0.1, _PLAIN, {(2, 4): 0.1}),
    Case("plain, R/t 50, mode", 1e-3, 0.1, _PLAIN, {(3, 6): 0.3}),
    Case("plain, R/t 50, rings", 1e-3, 0.1, _PLAIN, {(7, 0): 0.2, (1, 5): 0.01}),
    Case("plain, R/t 100, mode", 0.5e-3, 0.075, _PLAIN, {(3, 9): 0.2}),
    Case("plain, R/t 100, long wave", 0.5e-3, 0.075, _PLAIN, {(1, 6): 1.0}),
    Case("plain, R/t 200, mode", 0.25e-3, 0.05, _PLAIN, {(3, 12): 0.2}),
    Case("isogrid inside, mode", 1e-3, 0.09, _IN, {(2, 4): 0.5}),
    Case("isogrid inside, rings", 1e-3, 0.09, _IN, {(3, 0): 0.5, (1, 4): 0.02}),
    Case("isogrid inside, long wave", 1e-3, 0.09, _IN, {(1, 3): 1.5}),
    Case("isogrid outside, mode", 1e-3, 0.09, _OUT, {(1, 3): 0.5}),
    Case("isogrid outside, rings", 1e-3, 0.09, _OUT, {(3, 0): 0.5, (1, 4): 0.02}),
    Case("orthogrid inside, mode", 1e-3, 0.09, _grid("orthogrid", "inside", 3, 1.2, 13),
         {(2, 4): 0.2}),
    Case("orthogrid outside, mode", 1e-3, 0.09, _grid("orthogrid", "outside", 3, 1.2, 13),
         {(1, 3): 0.3}),
    Case("orthogrid outside, rings", 1e-3, 0.09, _grid("orthogrid", "outside", 3, 1.2, 13),
         {(3, 0): 0.5, (1, 4): 0.02}),
)


def built_of(design: Design) -> Wall:
    """The wall of a case."""
    return assess_wall(design, properties(design.material, design.folder))


def predicted(case: Case, ends: str = "clamped") -> tuple[float, Limit]:
    """Load of the perfect formulas, N, and the limit with the imposed deviation.

    Args:
        case: which tube.
        ends: as the solid tube has them.
    """
    built = built_of(case.design)
    wave = buckling_loads(built, ("compression",)).compression
    perfect = float(wave.load) * float(resultant("compression", built.grid.radius))
    return perfect, imposed(perfect_tube(built), case.amplitudes, case.waves, ends)


def expected_load(case: Case) -> float:
    """What the tube should carry: general instability with its deviation, less what its pockets
    and ribs take, N.

    Args:
        case: which tube.
    """
    perfect, limit = predicted(case)
    return float(with_parts(built_of(case.design), limit.factor)) * perfect


@dataclass(frozen=True)
class Row:
    """One solved tube of the table.

    Attributes:
        name: of the case.
        solved: highest load of the solid tube, N.
        reached: whether a lower load was found beyond it.
        unknowns: of the mesh.
    """

    name: str
    solved: float
    reached: bool
    unknowns: int


def table_path() -> Path:
    """The table that comes with the package."""
    return Path(str(files("gridshell.proof.as_built") / TABLE))


def read(path: Path | None = None) -> dict[str, Row]:
    """Solved tubes by name; none where there is no table yet.

    Args:
        path: of the table; None: the one of the package.
    """
    path = path or table_path()
    if not path.is_file():
        return {}
    with open(path, encoding="utf-8", newline="") as stream:
        return {
            row["name"]: Row(row["name"], float(row["solved_N"]), row["reached"] == "yes",
                             int(row["unknowns"]))
            for row in csv.DictReader(stream)
        }


def solve(case: Case, resolution: str = "coarse") -> tuple[Row, PushedTube]:
    """Solve one case anew.

    Args:
        case: which tube.
        resolution: of its mesh.
    """
    _, limit = predicted(case)
    found = push(case.design, case.amplitudes, limit.shortening, resolution=resolution)
    return Row(case.name, found.highest, found.passed, found.unknowns), found


def _main(path: Path) -> None:
    for case in CASES:
        known = read(path)
        if case.name in known:
            continue
        row, found = solve(case)
        fresh = not path.is_file()
        with open(path, "a", encoding="utf-8", newline="") as stream:
            table = csv.writer(stream)
            if fresh:
                table.writerow(["name", "solved_N", "reached", "unknowns"])
            table.writerow([row.name, f"{row.solved:.6g}", "yes" if row.reached else "no",
                            row.unknowns])
        print(f"{case.name}: {row.solved:.5g} N solved in {found.seconds:.0f} s, predicted over "
              f"solved {expected_load(case) / row.solved:.3f}", flush=True)


if __name__ == "__main__":
    _main(Path(sys.argv[1]))
