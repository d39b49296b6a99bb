"""Formula against solid for one design: wall stiffness flat, tube stiffness on the true radius."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import without_unit_cell
from gridshell.define.tables.design import Design
from gridshell.define.types import Array, IntArray
from gridshell.material.properties import Properties
from gridshell.proof.cell.curved import curved_stiffness, shell_stiffness
from gridshell.proof.cell.formula import Stiffness, cell_formulas
from gridshell.proof.cell.homogenize import converged, finite_elements
from gridshell.proof.cell.mesh import COARSE, FINE, MEDIUM, PATTERNS, Cell
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.lattice import Lattice, lattice

RESOLUTIONS = {"coarse": COARSE, "medium": MEDIUM, "fine": FINE}
_PLACES = {"11": (0, 0), "22": (1, 1), "12": (0, 1), "66": (2, 2)}
_UNITS = {"A": "N/m", "B": "N", "D": "N m"}


@dataclass(frozen=True)
class Comparison:
    """One number three ways.

    Attributes:
        name: such as "A11" or "EA". unit: SI.
        handbook: smeared thin ribs. improved: with the fat-rib terms (EA and GJ on the tube's
            radius, as `gridshell tube` has them). solid: of the solid cell.
    """

    name: str
    unit: str
    handbook: float
    improved: float
    solid: float

    @property
    def handbook_ratio(self) -> float:
        """Handbook over solid."""
        return self.handbook / self.solid if self.solid else float("nan")

    @property
    def improved_ratio(self) -> float:
        """Improved formula over solid; what a stiffness of the formula is to be divided by."""
        return self.improved / self.solid if self.solid else float("nan")


@dataclass(frozen=True)
class CellResult:
    """Formula against solid for the cell of one design.

    Attributes:
        cell: what was meshed, on the tube's true radius.
        rows: each stiffness three ways: flat wall A, B, D, then the tube's EA and GJ.
        solid: A, B, D of the flat solid cell, SI; the correction for wall and tube.
        mesh, mesh_error: of the flat cell; what its two meshes leave open, relative (not a number
            for the coarse mesh alone).
        unknowns: of the finite-element model of the flat cell.
        seconds: time taken.
        notes: what to keep in mind.
    """

    cell: Cell
    rows: tuple[Comparison, ...]
    solid: Stiffness
    mesh: str
    mesh_error: float
    unknowns: int
    seconds: float
    notes: tuple[str, ...]

    @property
    def worst(self) -> Comparison:
        """The row where the improved formula is farthest off.

        Entries 12 and 66 of a matrix count over the root of 11 x 22, as in the map: one that is
        nearly zero says nothing about the wall.
        """
        solid = {row.name: row.solid for row in self.rows}

        def off(row: Comparison) -> float:
            if not np.isfinite(row.improved_ratio):
                return 0.0
            scale = abs(row.solid)
            pair = [solid.get(row.name[0] + entry) for entry in ("11", "22")]
            if row.name[1:] in ("12", "66") and None not in pair:
                scale = float(np.sqrt(abs(np.prod(np.array(pair, dtype=float)))))
            return abs(row.improved - row.solid) / scale if scale else 0.0

        return max(self.rows, key=off)


def cell_of(design: Design, grid: Lattice | None = None) -> Cell:
    """The repeating rectangle of a (scalar) design, on its true radius.

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
        ribs.pattern, along, around, float(design.skin.thickness), float(ribs.height),
        float(ribs.width), float(ribs.draft), float(ribs.corner_radius),
        float(ribs.root_fillet), ribs.orientation, 1 if ribs.side == "outside" else -1,
        float(grid.radius),
    )


def run_cell(
    design: Design, properties: Properties, resolution: str = "medium", curved: bool = True
) -> CellResult:
    """Solve the solid cell of a design and set it beside the formulas.

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
    handbook, improved = cell_formulas(
        cell.pattern, cell.along_axis, cell.round_hoop, cell.thickness, cell.height, cell.width,
        cell.draft, cell.corner_radius, cell.root_fillet, modulus, poisson, cell.orientation,
        cell.side,
    )
    rows = [
        Comparison(matrix + name, _UNITS[matrix], *(
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
        for name, unit, entry, scale in (
            ("EA", "N", 0, 2 * np.pi * r), ("GJ", "N m2", 2, 2 * np.pi * r**3),
        ):
            values = [float(_axial_or_twist(m, entry)) * scale for m in (*shells, bent)]
            rows.append(Comparison(name, unit, *values))
        notes.append("EA and GJ: the cell on its true radius, lands and seams not counted.")
    return CellResult(cell, tuple(rows), solid, resolution, left, found.unknowns,
                      time.perf_counter() - started, tuple(notes))


def _axial_or_twist(matrix: Array, entry: int) -> float:
    # A closed tube does not open: its hoop opening is zero, its radius is free.
    return float(matrix[entry, entry])


def draw_cell(result: CellResult, path: Path) -> None:
    """Picture of the solid mesh (a quarter of the cell) beside the ratios; format by suffix."""
    from matplotlib.figure import Figure
    from mpl_toolkits.mplot3d.art3d import (  # type: ignore[import-untyped]
        Poly3DCollection,
    )

    from gridshell.proof.cell.mesh import quarter_cell

    points, corners = quarter_cell(replace(result.cell, radius=np.inf), MEDIUM)
    faces = _outer_faces(corners)
    shown = points.T[faces] * 1e3
    figure = Figure(figsize=(11, 4.8), layout="constrained")
    left: Any = figure.add_subplot(1, 2, 1, projection="3d")
    side = result.cell.side
    shown = shown * np.array([1, 1, side])  # ribs upward, whichever side they are on
    left.add_collection3d(Poly3DCollection(
        list(shown), facecolors=_shades(shown), edgecolors="#33475b", linewidths=0.3,
    ))
    low, high = shown.reshape(-1, 3).min(axis=0), shown.reshape(-1, 3).max(axis=0)
    left.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), zlim=(low[2], high[2]))
    left.set_box_aspect(high - low, zoom=0.92)
    left.view_init(elev=38, azim=-60)
    left.set_axis_off()
    left.set_title(f"Quarter of the cell, {(high - low)[0]:.1f} x {(high - low)[1]:.1f} mm",
                   fontsize=10)
    right = figure.add_subplot(1, 2, 2)
    rows = [row for row in result.rows if np.isfinite(row.handbook_ratio)]
    place = np.arange(len(rows))[::-1]
    right.axvline(0, color="black", linewidth=0.8)
    right.plot([100 * (row.handbook_ratio - 1) for row in rows], place, "o", color="#b5541c",
               label="handbook, thin ribs")
    right.plot([100 * (row.improved_ratio - 1) for row in rows], place, "D", color="#1c6db5",
               label="with fat-rib terms", markersize=5)
    right.set_yticks(place, [row.name for row in rows])
    right.set_xlabel("formula over solid cell, difference in %")
    right.grid(axis="x", linewidth=0.4)
    right.legend(loc="best", fontsize=8, framealpha=1)
    figure.savefig(path, dpi=130)


def _shades(faces: Array) -> Array:
    """Colors by the slope of each face (n, 4, 3), whichever way round its corners are."""
    normal = np.abs(np.cross(faces[:, 2] - faces[:, 0], faces[:, 3] - faces[:, 1]))
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
    light = normal @ np.array([0.15, 0.35, 0.5])
    return np.asarray(np.outer(0.45 + light, np.array([0.79, 0.87, 0.95])).clip(0, 1))


def _outer_faces(corners: IntArray) -> IntArray:
    quads = [(0, 1, 4, 2), (3, 5, 7, 6), (0, 1, 5, 3), (2, 4, 7, 6), (0, 2, 6, 3), (1, 4, 7, 5)]
    faces = np.concatenate([corners[list(quad)].T for quad in quads])
    _, first, count = np.unique(
        np.sort(faces, axis=1), axis=0, return_index=True, return_counts=True
    )
    return np.asarray(faces[first[count == 1]])
