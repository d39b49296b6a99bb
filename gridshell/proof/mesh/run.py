"""The whole tube in one mesh, every rib in it and real ends, solved by a second program.

`gridshell.proof.waves` knows the tube from one cell and its waves; its ends are those of the
formulas. Here the tube is meshed from end to end (`mesh`) and given to CalculiX (`deck`), a program
that shares no line with the first. Two kinds of ends:

- *round*: the ends stay circles (no hoop motion, no bulge), may grow evenly and shift outward
  evenly as the load wants, and warp freely along the axis. The load is the axial stress that the
  middle of the tube has.
- *clamped*: a rigid plate holds every point of the end. It moves along the axis; in bending it
  also tilts; it turns in torsion. That is a tube potted into the plates of a testing machine.

Lands and seams are left out, as in `gridshell.proof.waves.run.seamless`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.proof.cell.compare import cell_of
from gridshell.proof.cell.geometry import Cell, Resolution
from gridshell.proof.mesh.deck import SolverFailed, solver
from gridshell.proof.mesh.ends import FullTube
from gridshell.proof.mesh.mesh import fitted, tube_mesh
from gridshell.proof.mesh.modes import FullMode, modes_of
from gridshell.proof.waves.run import LOADS, UNITS, TubeRow, seamless
from gridshell.tube.buckling.general import buckling_loads, resultant
from gridshell.tube.section.column import Member
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import Wall, assess_wall

ENDS = ("round", "clamped")
RESOLUTIONS = {
    "coarse": Resolution(1, 1, across=1, fan=1, skin_layers=1, fillet_layers=1, rib_layers=1),
    "medium": Resolution(2, 2, across=1, fan=1, skin_layers=1, fillet_layers=1, rib_layers=2),
}
MOST_UNKNOWNS = 900_000  # some 8 GB in the solver
MODES = 4  # buckling factors asked for
FIRST_GUESS = 0.5  # load given to the solver over the formula's: factors near 1 to 4 are best


@dataclass(frozen=True)
class FullRow(TubeRow):
    """One number of the meshed tube; `formula` is for round ends, but for the column, whose plates
    can't tilt when clamped.

    Attributes:
        ends: round or clamped.
    """

    ends: str = "round"


@dataclass(frozen=True)
class FullModelResult:
    """Formula against the meshed tube, for one design.

    Attributes:
        rows: stiffness, then lowest buckling load of each load, for each kind of ends.
        unknowns: of the largest mesh solved.
        seconds: time taken.
        notes: what the model leaves out.
        modes: buckling modes by (load, ends), lowest first.
        length: of the meshed tube, m.
        radius: of its skin's middle surface, m.
    """

    rows: tuple[FullRow, ...]
    unknowns: int
    seconds: float
    notes: tuple[str, ...]
    modes: dict[tuple[str, str], tuple[FullMode, ...]]
    length: float
    radius: float

    def row(self, name: str, ends: str) -> FullRow:
        """The row of a name and kind of ends."""
        return next(row for row in self.rows if (row.name, row.ends) == (name, ends))

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and words, for JSON; None for a number that does not exist."""
        def plain(row: FullRow) -> dict[str, Any]:
            values = {**asdict(row), "ratio": row.ratio}
            return {name: None if value != value else value for name, value in values.items()}

        return {
            "rows": [plain(row) for row in self.rows],
            "modes": [
                {"load": load, "ends": ends, "value": mode.load, "along": mode.along,
                 "round": mode.around, "general_share": mode.share}
                for (load, ends), found in self.modes.items() for mode in found
            ],
            "unknowns": self.unknowns,
            "seconds": round(self.seconds, 1),
            "notes": list(self.notes),
        }


def _formulas(
    built: Wall, cell: Cell, length: float, loads: tuple[str, ...]
) -> tuple[dict[str, float], dict[str, tuple[str, ...]]]:
    """Stiffness and perfect buckling loads of the smeared wall, and what to say of each."""
    beam = beam_stiffness(*built.curved, cell.radius)
    value = {name: float(getattr(beam, name)) for name in ("EA", "EI", "GJ")}
    notes: dict[str, tuple[str, ...]] = {}
    smeared = buckling_loads(
        built, tuple({"bending": "compression"}.get(load, load) for load in loads)
    )
    for load in loads:
        wave = getattr(smeared, "compression" if load == "bending" else load)
        value[load] = float(wave.load) * float(resultant(load, cell.radius))
        notes[load] = (f"formula {wave.description}",)
    if "compression" in loads:
        general = value["compression"]
        # Plates that can't tilt: a column of half the length between its points of no moment.
        for kind, free, words in (("round", length, "with pinned ends"),
                                  ("clamped", length / 2, "between plates that can't tilt")):
            column = float(Member("simply-supported", free, beam.EI, beam.GA).column_load)
            value[f"compression, {kind}"] = min(general, column)
            if column < general:
                notes[f"compression, {kind}"] = (f"formula: column {words}",)
    if "bending" in loads:
        notes["bending"] = ("formula: compression load at the most compressed fiber",)
    return value, notes


def run_full_model(
    design: Design,
    properties: Properties | None = None,
    loads: tuple[str, ...] = LOADS,
    ends: tuple[str, ...] = ENDS,
    resolution: str = "coarse",
    progress: Callable[[str], None] = lambda message: None,
    threads: int = 1,
) -> FullModelResult:
    """Stiffness and linear buckling of the whole meshed tube, beside the formulas.

    Half of the tube, at one side of the plane of bending, is meshed; modes that are not symmetric
    about that plane have a twin that is, except where the pattern itself forbids the turn. Torsion
    needs the whole tube to buckle and is left out, with a note, where that is too large.

    Args:
        design: one design.
        properties: of its material at the temperature of use; None: looked up.
        loads: which of `LOADS`.
        ends: which of `ENDS`.
        resolution: coarse or medium (about five times the unknowns).
        progress: told what is being worked on.
        threads: of the solver.

    Raises:
        MissingPackage: CalculiX is not installed.
        InputError: unknown load, ends or resolution, a pattern that has no cell, or a tube too
            large for this model.
        SolverFailed: the program ended without an answer.
    """
    for field, given, known in (("load", loads, LOADS), ("ends", ends, ENDS),
                                ("resolution", (resolution,), tuple(RESOLUTIONS))):
        for word in given:
            if word not in known:
                raise InputError(f"{field} {word!r} is unknown; known: {', '.join(known)}")
    started = time.perf_counter()
    solver()
    design = seamless(design)
    if properties is None:
        properties = resolve(design.material, design.folder)
    built = assess_wall(design, properties)
    cell, length = cell_of(design, built.grid), float(design.tube.length)
    size = RESOLUTIONS[resolution]
    _check_size(cell, length, size)
    progress("mesh")
    mesh = tube_mesh(cell, length, size)
    half = FullTube(mesh, cell, properties, threads)
    whole = None
    if "torsion" in loads and 2 * mesh.unknowns <= MOST_UNKNOWNS:
        whole = FullTube(tube_mesh(cell, length, size, whole=True), cell, properties, threads)
    nodes = _nodes(cell, length)
    formula, said = _formulas(built, cell, length, loads)

    rows: list[FullRow] = []
    modes: dict[tuple[str, str], tuple[FullMode, ...]] = {}
    notes = [
        "One mesh from end to end in 20-node elements, linear elastic, perfect; seams and lands "
        "taken as grid. The formulas presume ends that are round and free to move along.",
        "Pressure stays normal to the skin: the second variation of the enclosed volume is added "
        "to each mode by its energy.",
    ]
    for kind in ends:
        progress(f"stiffness, {kind} ends")
        for name, value in half.stiffness(kind).items():
            rows.append(FullRow(
                name, "N" if name == "EA" else "N m2", formula[name], value,
                () if kind == "round" else
                ("solid: ends included, from the motion of the plates",), kind))
    for load in loads:
        tube = whole if load == "torsion" else half
        if tube is None:
            notes.append(
                f"Torsion not buckled: it needs the whole tube, {2 * mesh.unknowns:,} unknowns, "
                f"more than {MOST_UNKNOWNS:,}."
            )
            continue
        for kind in ends:
            progress(f"buckling, {load}, {kind} ends")
            key = f"{load}, {kind}"
            perfect = formula.get(key, formula[load])
            found = modes_of(tube, load, kind, FIRST_GUESS * perfect, MODES, nodes)
            if not found:
                raise SolverFailed(f"no buckling load in {load} with {kind} ends")
            modes[load, kind] = found
            words = [*said.get(key, said[load]), f"solid {found[0].words}"]
            if len(found) > 1:
                words.append("next " + ", ".join(f"{m.load / found[0].load:.3f}"
                                                 for m in found[1:]) + " of it")
            if kind == "clamped" and (load, "round") in modes:
                gain = found[0].load / modes[load, "round"][0].load
                words.append(f"{gain:.3f} of the load with round ends")
            rows.append(FullRow(
                load, UNITS[load], perfect, found[0].load, tuple(words), kind))
    return FullModelResult(
        tuple(rows), max(mesh.unknowns, whole.mesh.unknowns if whole else 0),
        seconds=time.perf_counter() - started, notes=tuple(notes), modes=modes, length=length,
        radius=cell.radius,
    )


def _nodes(cell: Cell, length: float) -> tuple[float, float]:
    """Rows of rib nodes along the tube and nodes round it; no end of them in a plain wall."""
    if cell.pattern == "plain":
        return np.inf, np.inf
    _, along, around = fitted(cell, length)
    rows, columns = along / 2, around / 2
    if cell.pattern == "diagonal" or (cell.pattern == "isogrid" and cell.orientation == "hoop"):
        rows *= 2  # the repeating rectangle holds a node in its middle
    if cell.pattern == "diagonal" or (cell.pattern == "isogrid" and cell.orientation == "axial"):
        columns *= 2
    return rows, columns


def _check_size(cell: Cell, length: float, size: Resolution) -> None:
    """Refuse a mesh that would not fit, before it is made."""
    cell, along, around = fitted(cell, length)
    if cell.pattern == "plain":
        per = 15.0  # about 5 nodes for each element
    else:
        small = tube_mesh(cell, 2 * cell.along_axis, size)
        per = small.unknowns / (4 * around / 2)
    count = per * along * around / 2
    if count > MOST_UNKNOWNS:
        raise InputError(
            f"tube.length {length * 1e3:.4g} mm makes about {count:,.0f} unknowns, more than "
            f"{MOST_UNKNOWNS:,}; take a shorter tube, or gridshell's own wave model"
        )
