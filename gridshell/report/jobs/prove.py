"""The work of `gridshell prove FILE`: unit cell, pocket and rib, whole tube, pictures, file."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import replacing
from gridshell.define.files.unit_cell import check_unit_cell_path, write_unit_cell
from gridshell.define.files.unit_cell_match import without_unit_cell
from gridshell.define.schema import nearest
from gridshell.define.tables.design import Design
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties
from gridshell.proof.cell.compare import CellResult, run_cell
from gridshell.proof.cell.save import check_can_be_saved, saved_cell
from gridshell.proof.mesh.deck import SolverFailed, solver
from gridshell.proof.mesh.run import ENDS, FullModelResult, run_full_model
from gridshell.proof.plates.pocket import LocalMode, local_modes
from gridshell.proof.waves.run import LOADS, WholeTubeResult, run_whole_tube

# Bending couples all waves round the tube and takes minutes; it is solved when it is asked for.
USUAL_LOADS = tuple(load for load in LOADS if load != "bending")
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Verification:
    """What was found for one design.

    Attributes:
        design: one design.
        properties: of its material.
        cell: formula beside the unit cell.
        local: pocket and rib as plates.
        whole: the whole tube with every rib in place; None if not asked for.
        full: the whole tube in one mesh; None if not asked for.
    """

    design: Design
    properties: Properties
    cell: CellResult
    local: Sequence[LocalMode]
    whole: WholeTubeResult | None
    full: FullModelResult | None = None


def read_ends(text: str) -> tuple[str, ...]:
    """The ends of ``--ends``.

    Raises:
        InputError: none or an unknown one.
    """
    ends = tuple(dict.fromkeys(part.strip() for part in text.split(",")))
    for one in ends:
        if one not in ENDS:
            raise InputError(f"--ends: {one!r} is not known; known: {', '.join(ENDS)}")
    return ends


def read_loads(text: str) -> tuple[str, ...]:
    """The loads of ``--loads``.

    Raises:
        InputError: none, an unknown one, or one twice.
    """
    loads = tuple(part.strip() for part in text.split(","))
    for load in loads:
        if load not in LOADS:
            hint = nearest(load, LOADS) if load else "known: " + ", ".join(LOADS)
            raise InputError(f"--loads: {load!r} is not a load; {hint}")
    if len(set(loads)) < len(loads):
        raise InputError(f"--loads: {text!r} names a load twice")
    return loads


def check_save(design: Design, mesh: str, path: str | Path) -> None:
    """Refuse a ``--save`` that can't end well, before the work is done.

    Raises:
        InputError: see `gridshell.proof.cell.save.check_can_be_saved`; or not a .toml.
    """
    check_unit_cell_path(path)
    check_can_be_saved(design, mesh)


def prove(
    design: Design, mesh: str, loads: tuple[str, ...], progress: Progress = lambda _: None,
    full_loads: tuple[str, ...] = (), ends: tuple[str, ...] = ENDS,
) -> Verification:
    """Solve what `gridshell prove` shows. A solid cell that the design states is left aside.

    Args:
        design: one design.
        mesh: of the solid cell: coarse, medium or fine.
        loads: of the whole tube with discrete ribs; empty leaves it out.
        progress: told what is being worked on.
        full_loads: of the whole tube in one mesh; empty leaves it out.
        ends: of the whole tube in one mesh.

    Raises:
        MissingPackage: scikit-fem (or, for the one mesh, the solver) is not installed.
        InputError: the pattern has no cell, the material can't be resolved, or the solver of the
            one mesh gave no answer.
    """
    design = without_unit_cell(design)
    if full_loads:
        solver()  # found before the other work is done
    known = properties(design.material, design.folder)
    progress("solid cell")
    cell = run_cell(design, known, mesh)
    progress("pocket and rib")
    local = local_modes(design, known) if design.has_ribs else ()
    whole = run_whole_tube(design, known, loads, progress=progress) if loads else None
    full = None
    if full_loads:
        try:
            full = run_full_model(
                design, known, full_loads, ends, progress=progress, threads=os.cpu_count() or 1)
        except SolverFailed as error:
            raise InputError(f"--full: {error}; try fewer loads, one kind of ends, or a shorter "
                             "tube") from None
    return Verification(design, known, cell, local, whole, full)


def save(proof: Verification, path: str | Path, force: bool = False) -> None:
    """Write the solid cell as the file that ``ribs.solid_cell`` names."""
    write_unit_cell(saved_cell(proof.cell, proof.design, proof.properties), path, force)


def picture_paths(
    path: str | Path, whole: WholeTubeResult | None, full: FullModelResult | None = None
) -> dict[str, Path]:
    """The pictures of a proof: "cell" at the path itself; with a whole tube "ratios" and one for
    each mode beside it, as NAME-ratios.png, NAME-compression.png...; with the one mesh a mode for
    each load and kind of ends, as NAME-full-compression-round.png..."""
    target = Path(path)
    names = [] if whole is None else ["ratios", *whole.modes]
    if full is not None:
        names += [f"full, {load}, {ends}" for (load, ends), found in full.modes.items() if found]
    return {"cell": target, **{
        name: target.with_name(f"{target.stem}-{name.replace(', ', '-')}{target.suffix}")
        for name in names
    }}


def draw(proof: Verification, path: str | Path, progress: Progress = lambda _: None) -> list[Path]:
    """Write the pictures and say which.

    Raises:
        InputError: a file can't be written.
    """
    from gridshell.report.plots.proof.full_model import draw_full_mode
    from gridshell.report.plots.proof.unit_cell import draw_cell
    from gridshell.report.plots.proof.whole_tube import draw_mode, draw_ratios

    paths = picture_paths(path, proof.whole, proof.full)
    for name, target in paths.items():
        progress(f"picture {target.name}")
        if name == "cell":
            with replacing(target) as scratch:
                draw_cell(proof.cell, scratch)
        elif name.startswith("full, ") and proof.full is not None:
            _, load, ends = name.split(", ")
            draw_full_mode(proof.full, load, ends, target)
        elif proof.whole is not None:
            if name == "ratios":
                draw_ratios(proof.whole, target)
            else:
                draw_mode(proof.whole, name, target)
    return list(paths.values())
