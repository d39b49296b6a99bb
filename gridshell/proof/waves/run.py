"""The whole tube with every rib in place, in solid elements, beside the formulas.

A tube of equal cells is known from one unit cell on its true radius and the phase by which its
waves turn from cell to cell; see `gridshell.proof.waves.cell` and `gridshell.proof.waves.waves`.
Seams and lands are replaced by more of the grid, as the formulas do.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.proof.cell.compare import cell_of
from gridshell.proof.cell.geometry import RESOLUTIONS
from gridshell.proof.cell.homogenize import converged, homogenize
from gridshell.proof.waves.bending import bending_load
from gridshell.proof.waves.cell import TubeCell
from gridshell.proof.waves.search import ShellTheory, lowest_mode
from gridshell.proof.waves.waves import WaveMode, WaveTube
from gridshell.tube.buckling.bending import longest_waves, true_bending_load
from gridshell.tube.buckling.general import buckling_loads, resultant, two_helices
from gridshell.tube.section.column import Member
from gridshell.tube.strength.local_use import pocket_use
from gridshell.wall.assess import Wall, assess_wall
from gridshell.wall.stress import strain_of, stress_of

LOADS = ("compression", "bending", "lateral", "hydrostatic", "torsion")
UNITS = {"compression": "N", "bending": "N m", "lateral": "Pa", "hydrostatic": "Pa",
         "torsion": "N m"}
CLOSE = 0.6  # general over local load above which the two are likely to help each other


@dataclass(frozen=True)
class TubeRow:
    """One number of the tube, formula and solid.

    Attributes:
        name: what.
        unit: SI.
        formula: of the smeared wall, before any knockdown.
        solid: of the tube of solid cells, most of the mesh error taken out.
        notes: the waves, and what to keep in mind.
    """

    name: str
    unit: str
    formula: float
    solid: float
    notes: tuple[str, ...] = ()

    @property
    def ratio(self) -> float:
        """Formula over solid: above 1 the formula promises too much."""
        return self.formula / self.solid if self.solid else float("nan")


@dataclass(frozen=True)
class WholeTubeResult:
    """Formula against discrete ribs for one design.

    Attributes:
        rows: stiffness, column, general instability for each load, then local buckling.
        lowest: name of what comes first in compression.
        unknowns: of the cell.
        seconds: time taken.
        notes: what the model leaves out.
        modes: shape of the general mode of each load, for pictures.
        tube: the model.
    """

    rows: tuple[TubeRow, ...]
    lowest: str
    unknowns: int
    seconds: float
    notes: tuple[str, ...]
    modes: dict[str, WaveMode]
    tube: WaveTube

    def row(self, name: str) -> TubeRow:
        """The row of a name."""
        return next(row for row in self.rows if row.name == name)

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and words, for JSON."""
        return {
            "rows": [{**asdict(row), "ratio": row.ratio} for row in self.rows],
            "lowest_in_compression": self.lowest,
            "unknowns_of_cell": self.unknowns,
            "seconds": round(self.seconds, 1),
            "notes": list(self.notes),
        }


def seamless(design: Design) -> Design:
    """The tube in one piece with its grid from end to end, which is what the formulas treat."""
    return with_values(design, {
        "tube.segments": 1, "tube.sections": 1, "tube.seam_land": 0.0, "tube.end_land": 0.0,
        "ribs.smallest_pocket": 0.0,
    })


def run_whole_tube(
    design: Design,
    properties: Properties | None = None,
    loads: tuple[str, ...] = LOADS,
    resolution: str = "coarse",
    local: bool = True,
    progress: Callable[[str], None] = lambda message: None,
) -> WholeTubeResult:
    """Stiffness and buckling of a tube with discrete ribs, beside the formulas.

    Ends: round and free to move along (exact for all loads but torsion, where two helices that
    cancel at the ends stand in, as in the formula).

    Args:
        design: one design.
        properties: of its material at the temperature of use; None: looked up.
        loads: which of `LOADS`.
        resolution: coarse (10,000 unknowns, about half a minute) or medium (50,000, minutes).
        local: also look for the exact lowest load in compression, where pockets and ribs may
            buckle first or together with the wall.
        progress: told what is being worked on.

    Raises:
        MissingPackage: scikit-fem is not installed.
        InputError: unknown load or resolution, or a pattern that has no cell.
    """
    for load in loads:
        if load not in LOADS:
            raise InputError(f"load {load!r} is unknown; known: {', '.join(LOADS)}")
    if resolution not in RESOLUTIONS:
        raise InputError(f"resolution {resolution!r} is unknown; known: {', '.join(RESOLUTIONS)}")
    started = time.perf_counter()
    design = seamless(design)
    if properties is None:
        properties = resolve(design.material, design.folder)
    built = assess_wall(design, properties)
    modulus, poisson = float(properties.modulus), float(properties.poisson)
    size = RESOLUTIONS[resolution]
    cell = cell_of(design, built.grid)
    length = float(design.tube.length)
    progress("solid cell")
    tube = WaveTube(TubeCell(cell, modulus, poisson, size), length)
    flat = replace(cell, radius=np.inf)
    rough = homogenize(flat, modulus, poisson, size)
    if cell.pattern == "plain":
        fine = rough
    else:
        fine, _ = converged(flat, modulus, poisson, RESOLUTIONS["medium"])
    # Shell theory on the solid cell's own A, B, D tells how the mesh error enters each load.
    on_rough, on_fine = (ShellTheory(w.A, w.B, w.D, tube) for w in (rough, fine))
    formula = ShellTheory(*built.curved, tube)

    rows = [
        TubeRow(name, unit, float(getattr(formula.beam, name)),
            value * float(getattr(on_fine.beam, name) / getattr(on_rough.beam, name)))
        for name, unit, value in (
            ("EA", "N", tube.EA), ("EI", "N m2", tube.EI), ("GJ", "N m2", tube.GJ))
    ]
    modes: dict[str, WaveMode] = {}
    matrix = tube.model.stress_matrix(tube.compression())
    column = tube.general(matrix, 1, 1)
    rows.append(TubeRow(
        "column", "N",
        float(Member("simply-supported", length, formula.beam.EI, formula.beam.GA).column_load),
        column.load * on_fine.load("compression", 1, 1) / on_rough.load("compression", 1, 1),
        ("pinned at both ends",),
    ))
    smeared = buckling_loads(
        built, tuple({"bending": "compression"}.get(load, load) for load in loads)
    )
    for load in loads:
        progress(f"general instability: {load}")
        wave = getattr(smeared, "compression" if load == "bending" else load)
        series = ""
        if load == "torsion":  # the solid tube takes two helices: so the formula here
            exact = float(resultant(load, cell.radius)) * float(wave.load)
            series = f"; the check's series of waves gives {exact:.4g} N m"
            wave = two_helices(built)
        perfect = float(wave.load) * float(resultant(load, cell.radius))
        if load == "bending":
            found, m, n, note, theory = _bending(tube, built, int(wave.n))
            note += f"; the rule of the design check gives {perfect:.4g} N m"
            perfect = theory
            modes[load] = tube.general(matrix, m, n)
        else:
            state = {
                "compression": tube.compression, "torsion": tube.torsion,
                "lateral": lambda: tube.pressure(False),
                "hydrostatic": lambda: tube.pressure(True),
            }[load]()
            mode, note = lowest_mode(tube, state, load, float(wave.m), int(wave.n), formula)
            modes[load], found, m, n = mode, mode.load, mode.m, mode.n
        share = on_fine.load(load, m, n) / on_rough.load(load, m, n)
        rows.append(TubeRow(
            f"general, {load}", UNITS[load], perfect, found * share,
            (f"solid {note}" if load == "bending" else
             f"formula {wave.description}; solid {note}"
             + series,),
        ))
    lowest = "general instability"
    if local and "compression" in loads:
        progress("local buckling in compression")
        more, lowest, first = _local(tube, matrix, modes["compression"], built)
        rows += more
        if first is not None:
            modes["local, compression"] = first
    notes = (
        "Solid cells, linear elastic, perfect; stress before buckling that of the middle of the "
        "tube; ends round and free to move along; seams and lands taken as grid.",
        "General instability as if pockets and ribs did not buckle by themselves; the exact "
        "lowest load beside it shows when they help.",
    )
    return WholeTubeResult(
        tuple(rows), lowest, unknowns=tube.model.count, seconds=time.perf_counter() - started,
        notes=notes, modes=modes, tube=tube,
    )


def _bending(tube: WaveTube, built: Wall, n: int) -> tuple[float, float, int, str, float]:
    """Lowest moment near the half waves along that shell theory chooses; its main wave.

    The compressed side alone buckles, often in shorter waves than the whole ring would choose,
    so the moment is above that of the compression load at the most compressed fiber. Waves
    shorter than two rib spacings are pockets and ribs, not looked at here.

    Returns:
        Moment, half waves along, waves round, words, and the moment of shell theory.
    """
    most = n + 5
    along = longest_waves(built, 400.0)
    theory, start = true_bending_load(built)
    known: dict[int, tuple[float, Array]] = {}

    def solve(m: int) -> float:
        if m not in known:
            known[m] = bending_load(tube, m, most)
        return known[m][0]

    best = start
    step = max(round(0.15 * start), 1)
    while step:
        near = {max(best - step, 1), min(best + step, int(along[-1]))} - {best}
        lower = min(near, key=solve, default=best)
        if solve(lower) < solve(best) * (1 - 1e-3):
            best = lower
        else:
            step = 0
    main = abs(int(np.argmax(known[best][1])) - most)
    words = f"{best} along, mainly {main} round"
    return solve(best), float(best), main, words, theory


def _local(
    tube: WaveTube, matrix: Any, general: WaveMode, built: Wall
) -> tuple[list[TubeRow], str, WaveMode | None]:
    """Exact lowest loads in compression: at the wave of the general mode, and all over."""
    cell = tube.model.cell
    exact = tube.modes(matrix, general.m, general.n, 2)[0]
    found = [exact]
    whole_x, half_y = tube.length / cell.along_axis, tube.cells_round // 2
    for m in (0.5 * whole_x, whole_x):
        for n in (0, half_y):
            found += tube.modes(matrix, m, n, 1)
    locals_ = [mode for mode in found if not mode.is_general]
    rows = [TubeRow(
        "compression, exact at that wave", "N", general.load, exact.load,
        ("formula: the general mode alone; solid: with the help of pockets and ribs"
         if exact.is_general else "pockets or ribs buckle first, in step with this wave",),
    )]
    lowest, first = "general instability", None
    if locals_ and built.design.has_ribs:
        first = min(locals_, key=lambda mode: mode.load)
        forces = np.array([-1 / (2 * np.pi * cell.radius), 0.0, 0.0])
        use, plate = pocket_use(built, stress_of(built, *strain_of(built, forces)).skin_middle)
        rows.append(TubeRow(
            "local, compression", "N", 1 / float(use) if use is not None else float("nan"),
            first.load, (f"skin pockets; formula: {plate}",),
        ))
        if first.load < exact.load or not exact.is_general:
            lowest = "local buckling"
        elif general.load > CLOSE * first.load:
            lowest = "general instability, helped by pockets near their own buckling"
    return rows, lowest, first
