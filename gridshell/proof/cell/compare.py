"""Formula beside the unit cell for one design: flat, then on the tube's radius."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import without_unit_cell
from gridshell.define.tables.design import Design
from gridshell.material.properties import Properties
from gridshell.proof.cell.curved import curved_stiffness, shell_stiffness
from gridshell.proof.cell.formula import Stiffness, cell_formulas
from gridshell.proof.cell.geometry import PATTERNS, RESOLUTIONS, Cell
from gridshell.proof.cell.homogenize import converged, finite_elements
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import Lattice, lattice

_PLACES = {"11": (0, 0), "22": (1, 1), "12": (0, 1), "66": (2, 2)}
_UNITS = {"A": "N/m", "B": "N", "D": "N m"}


@dataclass(frozen=True)
class StiffnessRow:
    """One stiffness three ways.

    Attributes:
        name: such as "A11" or "EA".
        unit: SI.
        handbook: smeared thin ribs.
        improved: for ribs of finite width (EA and GJ on the tube's radius, as `gridshell tube`
            has them).
        solid: of the unit cell.
    """

    name: str
    unit: str
    handbook: float
    improved: float
    solid: float

    @property
    def handbook_ratio(self) -> float:
        """Handbook over unit cell."""
        return self.handbook / self.solid if self.solid else float("nan")

    @property
    def improved_ratio(self) -> float:
        """Formula over unit cell; what a stiffness of the formula is to be divided by."""
        return self.improved / self.solid if self.solid else float("nan")


@dataclass(frozen=True)
class CellResult:
    """Formula beside the unit cell of one design.

    Attributes:
        cell: what was meshed, on the tube's true radius.
        rows: each stiffness three ways: flat wall A, B, D, then the tube's EA and GJ.
        solid: A, B, D of the flat unit cell, SI; the correction for wall and tube.
        mesh: coarse, medium or fine.
        mesh_error: what the two meshes of the flat cell leave open, relative; NaN for the coarse
            mesh alone.
        unknowns: of the finite-element model of the flat cell.
        seconds: time taken.
        notes: what to keep in mind.
    """

    cell: Cell
    rows: tuple[StiffnessRow, ...]
    solid: Stiffness
    mesh: str
    mesh_error: float
    unknowns: int
    seconds: float
    notes: tuple[str, ...]

    @property
    def worst(self) -> StiffnessRow:
        """The row where the finite-width formula is farthest off.

        Entries 12 and 66 of a matrix count over the root of 11 x 22, as in the map: one that is
        nearly zero says nothing about the wall.
        """
        solid = {row.name: row.solid for row in self.rows}

        def off(row: StiffnessRow) -> float:
            if not np.isfinite(row.improved_ratio):
                return 0.0
            scale = abs(row.solid)
            pair = [solid.get(row.name[0] + entry) for entry in ("11", "22")]
            if row.name[1:] in ("12", "66") and None not in pair:
                scale = float(np.sqrt(abs(np.prod(np.array(pair, dtype=float)))))
            return abs(row.improved - row.solid) / scale if scale else 0.0

        return max(self.rows, key=off)


def cell_of(design: Design, grid: Lattice | None = None) -> Cell:
    """The repeating rectangle of a design on its true radius.

    Args:
        design: one design.
        grid: its lattice, if it is known already.

    Raises:
        InputError: the pattern has no such cell.
    """
    ribs = design.ribs
    if ribs.pattern not in PATTERNS:
        raise InputError(
            f"ribs.pattern {ribs.pattern!r} has no repeating rectangle to prove; known: "
            + ", ".join(PATTERNS)
        )
    grid = lattice(design) if grid is None else grid
    along, around = float(grid.cell_height), float(grid.cell_width)
    if ribs.pattern == "isogrid":  # two rows or two columns of triangles repeat
        along, around = (2 * along, around) if ribs.orientation == "hoop" else (along, 2 * around)
    if ribs.pattern == "plain":
        along = around = float(grid.radius) / 4
    return Cell(
        pattern=ribs.pattern, along_axis=along, round_hoop=around,
        thickness=float(design.skin.thickness), height=float(ribs.height),
        width=float(ribs.width), draft=float(ribs.draft),
        corner_radius=float(ribs.corner_radius), root_fillet=float(ribs.root_fillet),
        orientation=ribs.orientation, side=1 if ribs.side == "outside" else -1,
        radius=float(grid.radius),
    )


def run_cell(
    design: Design, properties: Properties, resolution: str = "medium", curved: bool = True
) -> CellResult:
    """Solve the unit cell of a design and set it beside the formulas.

    Args:
        design: one design.
        properties: of its material at the temperature of use.
        resolution: coarse (about 3,000 unknowns, 1 s), medium (12,000, 5 s) or fine (30,000,
            30 s). Medium is within 1 % of fine.
        curved: also solve the cell on the tube's radius, for EA and GJ.

    Raises:
        MissingPackage: scikit-fem is not installed.
        InputError: the pattern has no cell, or its corners overlap.
    """
    if resolution not in RESOLUTIONS:
        raise InputError(f"resolution {resolution!r} is unknown; known: {', '.join(RESOLUTIONS)}")
    finite_elements()
    started = time.perf_counter()
    size = RESOLUTIONS[resolution]
    cell = cell_of(design)
    modulus, poisson = float(properties.modulus), float(properties.poisson)
    flat = replace(cell, radius=np.inf)
    found, left = converged(flat, modulus, poisson, size)
    solid = Stiffness(found.A, found.B, found.D)
    handbook, improved = cell_formulas(cell, modulus, poisson)
    rows = [
        StiffnessRow(matrix + name, _UNITS[matrix], *(
            float(getattr(source, matrix)[place]) for source in (handbook, improved, solid)))
        for matrix in "ABD" for name, place in _PLACES.items()
        if matrix != "B" or cell.pattern != "plain"
    ]
    notes = [
        "Solid cell: linear elastic, periodic, about the skin's middle surface; "
        + ("coarse mesh, a percent or two too stiff." if np.isnan(left) else
           f"mesh error taken out by two meshes, about {100 * left:.1f} % at most."),
    ]
    if curved:
        bent = curved_stiffness(cell, modulus, poisson, size)
        # What the tube works with: the formula on its radius.
        built = assess_wall(without_unit_cell(design), properties)
        shells = [
            shell_stiffness(w, cell.radius) for w in (handbook, Stiffness(*built.curved))
        ]
        r = cell.radius
        # A closed tube does not open: its hoop opening is zero, its radius is free.
        for name, unit, entry, scale in (
            ("EA", "N", 0, 2 * np.pi * r), ("GJ", "N m2", 2, 2 * np.pi * r**3),
        ):
            values = [float(m[entry, entry]) * scale for m in (*shells, bent)]
            rows.append(StiffnessRow(name, unit, *values))
        notes.append("EA and GJ: the cell on its true radius, lands and seams not counted.")
    return CellResult(
        cell=cell, rows=tuple(rows), solid=solid, mesh=resolution, mesh_error=left,
        unknowns=found.unknowns, seconds=time.perf_counter() - started, notes=tuple(notes),
    )
