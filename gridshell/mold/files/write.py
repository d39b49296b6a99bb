"""Write every file of a mold set: STEP, STL, 3MF and pictures, each piece checked on the way."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.define.workers import Task, run_all
from gridshell.mold.files.alike import kinds_hold
from gridshell.mold.files.assembly import (
    ASSEMBLY,
    assembly_picture,
    assembly_steps,
    members_of,
)
from gridshell.mold.files.plates import Footprint, packed, plate_names, write_plates
from gridshell.mold.files.preview import draw_preview, preload
from gridshell.mold.files.shape_records import Records, UnknownShapeError, records_of
from gridshell.mold.files.solids import (
    MESH_AGREEMENT,
    SolidCheck,
    face_count,
    forget_mesh,
    is_closed,
    is_valid,
    is_watertight,
    joined_mesh,
    mesh_solid,
    mesh_volume,
    read_stl,
    solid_volume,
    write_stl,
    write_triangles,
)
from gridshell.mold.files.step import faces_in, measure_step, write_step
from gridshell.mold.files.step_product import COMPRESSED
from gridshell.mold.files.threemf import write_3mf
from gridshell.mold.pieces.mold_set import MoldPiece, MoldSet
from gridshell.mold.pieces.oriented import is_printed, standing

FORMATS = ("step", "stl", "3mf", "png")
# Reading a STEP file back takes the kernel five times as long as writing it. Small ones are read;
# of large ones, made by the same code, the faces in the text are counted.
READ_BACK = 500  # faces
CHECK_ALL = 5000  # faces, up to which each is put to the kernel's checker; see `alike`
REFINEMENTS = 3  # times that a mesh is made finer before it is called faulty


def planned_names(pieces: Sequence[str], formats: Sequence[str] = FORMATS) -> list[str]:
    """Names of the files that `write_pieces` writes.

    Args:
        pieces: names of the pieces.
        formats: of step, stl, 3mf, png.
    """
    names = [f"{piece}.{ending}" for piece in pieces for ending in formats]
    # As many plates as pieces at most; how many is known when the pieces are.
    names += plate_names(len(pieces)) if "3mf" in formats else []
    names += [f"{ASSEMBLY}{COMPRESSED}"] if "step" in formats else []
    return names + [f"{ASSEMBLY}.{ending}" for ending in ("step", "png") if ending in formats]


def write_pieces(
    mold_set: MoldSet, folder: Path, formats: Sequence[str] = FORMATS,
    progress: Callable[[str], None] | None = None, workers: int | None = None,
    measured: Callable[[Sequence[SolidCheck]], None] | None = None,
) -> list[SolidCheck]:
    """Write and check every piece into a folder that is there (see `output_folder`).

    Args:
        mold_set: every piece of a design.
        folder: where the files belong.
        formats: of step, stl, 3mf, png.
        progress: told each step.
        workers: processes; as many as cores if left out.
        measured: called when every piece is written, before the rest is.
    """
    say = progress or (lambda line: None)
    members = members_of(mold_set, mold_set.pieces)
    tasks: list[Task] = [
        functools.partial(write_piece, mold_set, piece, folder, tuple(formats), member.before)
        for piece, member in zip(mold_set.pieces, members, strict=True)
    ]
    weights = [float(face_count(piece.solid)) for piece in mold_set.pieces]
    if "png" in formats:
        preload()
    total = len(tasks)
    say(f"writing and checking {total} pieces")

    def together(results: Sequence[Any]) -> list[Task]:
        """What needs every piece: the assembly and its picture."""
        found = {check.name: check for check in results}
        if measured is not None:
            measured(results)
        good = [piece for piece in mold_set.pieces if not found[piece.name].faults]
        later = assembly_picture(mold_set, good, folder, found) if "png" in formats else []
        if "step" in formats and good:
            later += assembly_steps(
                good, [member for member in members if not found[member.name].faults], folder,
                mold_set.design.title)
        return later

    checks: list[SolidCheck] = run_all(
        tasks, weights, lambda done: say(f"written {done} of {total}"), workers, together)
    good = _without_faulty(mold_set, checks, folder)
    if "3mf" in formats:
        _write_plates(mold_set, good, folder, {check.name: check for check in checks})
    if "stl" not in formats:
        for piece in good:
            (folder / f"{piece.name}.stl").unlink()
    return checks


def _write_plates(
    mold_set: MoldSet, pieces: Sequence[MoldPiece], folder: Path, checks: dict[str, SolidCheck]
) -> None:
    """Plates of the pieces that are printed, where a bed is stated and any holds more than one."""
    mold = mold_set.mold
    # An insert is cast of rubber.
    printed = [piece for piece in pieces
               if is_printed(piece.role, mold) and piece.role != "insert"]
    if mold.bed is None or not printed:
        return
    prints = []
    for piece in printed:
        turn, move = stands_on_bed(mold_set, piece, checks[piece.name])
        corners = np.array(checks[piece.name].bounds) * 1e3 @ turn.T + move
        low, high = corners.min(axis=0), corners.max(axis=0)
        prints.append(Footprint(
            piece.name, float(high[0] - low[0]), float(high[1] - low[1]),
            (float(low[0]), float(low[1])), piece.quantity))
    plates = packed(prints, [side * 1e3 for side in mold.bed])
    if any(len(plate) > 1 for plate in plates):
        write_plates(folder, plates)


def _without_faulty(
    mold_set: MoldSet, checks: Sequence[SolidCheck], folder: Path
) -> list[MoldPiece]:
    """The good pieces; files of the others are taken away."""
    faulty = {check.name for check in checks if check.faults}
    for name in faulty:
        for ending in FORMATS:
            (folder / f"{name}.{ending}").unlink(missing_ok=True)
    return [piece for piece in mold_set.pieces if piece.name not in faulty]


def write_piece(
    mold_set: MoldSet, piece: MoldPiece, folder: Path, formats: Sequence[str] = FORMATS,
    before: int = 0,
) -> SolidCheck:
    """Write one piece in each format (always as STL) and check solid, mesh and STEP.

    Args:
        mold_set: every piece of a design.
        piece: one piece.
        folder: where the files belong.
        formats: of step, stl, 3mf, png.
        before: the number that the first one in its STEP file follows.
    """
    records = _records_of_many(piece)
    check, vertices, corners = _meshed(piece, check_solid(piece, records), mold_set, folder)
    turn, move = stands_on_bed(mold_set, piece, check)
    set_down = vertices @ turn.T + move
    write_triangles(folder / f"{piece.name}.stl", set_down[corners], piece.name)
    if "3mf" in formats:
        write_3mf(folder / f"{piece.name}.3mf", piece.name, set_down, corners)
    if "png" in formats:
        draw_preview(
            [(vertices, corners, piece.color)], folder / f"{piece.name}.png",
            look(piece, mold_set),
        )
    if "step" in formats:
        step = folder / f"{piece.name}.step"
        write_step(piece, step, records, before)
        if check.faces <= READ_BACK:
            volume, faces = measure_step(step)
            check = dataclasses.replace(check, step_volume=volume * 1e-9, step_faces=faces)
        else:
            check = dataclasses.replace(check, step_faces=faces_in(step))
    return check


def stands_on_bed(
    mold_set: MoldSet, piece: MoldPiece, check: SolidCheck
) -> tuple[Array, Array]:
    """Rotation (3, 3) and shift (3,), mm, of a piece in its STL and 3MF; see `standing`.

    Args:
        mold_set: every piece of a design.
        piece: one piece.
        check: of it, with its bounds.
    """
    low, high = np.array(check.bounds) * 1e3
    return standing(piece.role, mold_set.mold, low, high)


def _meshed(
    piece: MoldPiece, check: SolidCheck, mold_set: MoldSet, folder: Path
) -> tuple[SolidCheck, Array, np.ndarray]:
    """Mesh a piece finely enough that its volume holds, and write its STL."""
    stl = folder / f"{piece.name}.stl"
    tolerance = mesh_tolerance(piece, check.volume, mold_set)
    for attempt in range(REFINEMENTS + 1):
        if attempt:
            tolerance /= 3
            if attempt > 1:
                forget_mesh(piece.solid)  # the ready meshes of sides and fillets with it
        mesh_solid(piece.solid, tolerance)
        write_stl(piece.solid, stl)
        vertices, corners = joined_mesh(read_stl(stl))
        check = dataclasses.replace(
            check, triangles=len(corners), watertight=is_watertight(corners),
            mesh_volume=mesh_volume(vertices, corners) * 1e-9, bounds=_bounds(vertices),
        )
        if check.mesh_holds and check.watertight:
            break
    return check, vertices, corners


def mesh_tolerance(piece: MoldPiece, volume: float, mold_set: MoldSet) -> float:
    """How far facets of a piece may leave its surface, mm: as stated, or less.

    Chords of the smooth face take up to two thirds of the deflection off a thin shell all over, so
    a large thin casting needs a finer mesh than its bulky mold. Half of what the check lets pass is
    left to the ribs.

    Args:
        piece: one piece.
        volume: of its solid, m3.
        mold_set: every piece of a design.
    """
    stated = float(mold_set.mold.mesh_tolerance) * 1e3
    plan = mold_set.plan
    if piece.role != "part":
        return stated
    face = 2 * plan.half_angle * plan.outer * plan.length / mold_set.factor**2
    return min(stated, MESH_AGREEMENT / 2 * volume * 1e9 / face)


def _records_of_many(piece: MoldPiece) -> Records | None:
    """Records of a piece with so many faces that not every one is put to the kernel's checker."""
    if face_count(piece.solid) <= CHECK_ALL:
        return None
    try:
        return records_of(piece.solid)
    except UnknownShapeError:
        return None


def check_solid(piece: MoldPiece, records: Records | None = None) -> SolidCheck:
    """Validity, closure and volume of a piece's solid; its mesh is not looked at yet.

    Args:
        piece: one piece.
        records: of its solid; without them the kernel checks every face.
    """
    valid, closed = (
        (is_valid(piece.solid), is_closed(piece.solid)) if records is None
        else kinds_hold(piece.solid, records))
    return SolidCheck(
        piece.name, valid, closed=closed,
        volume=solid_volume(piece.solid) * 1e-9, faces=face_count(piece.solid),
        bounds=((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)), triangles=0, watertight=False, mesh_volume=0.0,
    )


def _bounds(vertices: Array) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    low, high = vertices.min(axis=0) * 1e-3, vertices.max(axis=0) * 1e-3
    return (
        (float(low[0]), float(low[1]), float(low[2])),
        (float(high[0]), float(high[1]), float(high[2])),
    )


def look(piece: MoldPiece, mold_set: MoldSet) -> tuple[float, float, float]:
    """Direction from the piece to the eye that shows the side that matters."""
    inside = mold_set.design.ribs.side == "inside"
    outer_insert = piece.role == "insert" and not inside
    inner_part = piece.role == "part" and piece.ribbed and inside
    if piece.role in ("cavity", "insert-cavity") or outer_insert or inner_part:
        return (-0.5, -0.7, -0.9)  # into the bore, from below
    return (-0.5, -0.7, 0.9)
