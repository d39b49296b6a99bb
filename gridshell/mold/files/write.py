"""Write every file of a mold set: STEP, STL, 3MF and pictures, each piece checked on the way."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.files.preview import draw_preview, preload
from gridshell.mold.files.solids import (
    SolidCheck,
    face_count,
    is_closed,
    is_valid,
    is_watertight,
    joined_mesh,
    mesh_solid,
    mesh_volume,
    read_stl,
    solid_volume,
    write_stl,
)
from gridshell.mold.files.step import measure_step, write_step
from gridshell.mold.files.threemf import write_3mf
from gridshell.mold.files.workers import Task, run_all
from gridshell.mold.pieces.mold_set import MoldPiece, MoldSet

FORMATS = ("step", "stl", "3mf", "png")
ASSEMBLY = "assembly"


def planned_names(mold_set: MoldSet, formats: Sequence[str] = FORMATS) -> list[str]:
    """Names of the files that `write_pieces` writes.

    Args:
        mold_set: every piece of a design.
        formats: of step, stl, 3mf, png.
    """
    names = [f"{piece.name}.{ending}" for piece in mold_set.pieces for ending in formats]
    return names + [f"{ASSEMBLY}.{ending}" for ending in ("step", "png") if ending in formats]


def write_pieces(
    mold_set: MoldSet, folder: Path, formats: Sequence[str] = FORMATS,
    progress: Callable[[str], None] | None = None, workers: int | None = None,
    more: Sequence[Task] = (),
) -> list[SolidCheck]:
    """Write and check every piece into a folder that is there (see `output_folder`).

    ``more``: other tasks without result, such as drawings, to run beside the pieces.

    Args:
        mold_set: every piece of a design.
        folder: where the files belong.
        formats: of step, stl, 3mf, png.
        progress: told each step.
        workers: processes; as many as cores if left out.
        more: other tasks without result, such as drawings, to run beside the pieces.
    """
    say = progress or (lambda line: None)
    tasks: list[Task] = [
        _piece_task(mold_set, piece, folder, tuple(formats)) for piece in mold_set.pieces
    ]
    weights = [float(face_count(piece.solid)) for piece in mold_set.pieces]
    if "step" in formats:
        tasks.append(lambda: _write_assembly(mold_set, folder))
        weights.append(0.6 * sum(weights))
    tasks += more
    weights += [0.0] * len(more)
    if "png" in formats:
        preload()
    total = len(tasks)
    say(f"writing and checking {len(mold_set.pieces)} pieces")
    results = run_all(tasks, weights, lambda done: say(f"written {done} of {total}"), workers)
    if "png" in formats:
        _draw_assembly(mold_set, folder)
    if "stl" not in formats:
        for piece in mold_set.pieces:
            (folder / f"{piece.name}.stl").unlink()
    return [result for result in results if isinstance(result, SolidCheck)]


def _piece_task(
    mold_set: MoldSet, piece: MoldPiece, folder: Path, formats: tuple[str, ...]
) -> Task:
    return lambda: write_piece(mold_set, piece, folder, formats)


def write_piece(
    mold_set: MoldSet, piece: MoldPiece, folder: Path, formats: Sequence[str] = FORMATS
) -> SolidCheck:
    """Write one piece in each format (always as STL) and check solid, mesh and STEP.

    Args:
        mold_set: every piece of a design.
        piece: one piece.
        folder: where the files belong.
        formats: of step, stl, 3mf, png.
    """
    solid = piece.solid
    check = check_solid(piece)
    mesh_solid(solid, mold_set.mold.mesh_tolerance * 1e3)
    stl = folder / f"{piece.name}.stl"
    write_stl(solid, stl)
    vertices, corners = joined_mesh(read_stl(stl))
    check = dataclasses.replace(
        check, triangles=len(corners), watertight=is_watertight(corners),
        mesh_volume=mesh_volume(vertices, corners) * 1e-9,
        bounds=_bounds(vertices),
    )
    if "3mf" in formats:
        write_3mf(folder / f"{piece.name}.3mf", piece.name, vertices, corners)
    if "png" in formats:
        draw_preview(
            [(vertices, corners, piece.color)], folder / f"{piece.name}.png", look(piece),
        )
    if "step" in formats:
        step = folder / f"{piece.name}.step"
        write_step([piece], step, piece.name)
        volume, faces = measure_step(step)
        check = dataclasses.replace(check, step_volume=volume * 1e-9, step_faces=faces)
    return check


def check_solid(piece: MoldPiece) -> SolidCheck:
    """Validity, closure and volume of a piece's solid; its mesh is not looked at yet.

    Args:
        piece: one piece.
    """
    return SolidCheck(
        piece.name, is_valid(piece.solid), is_closed(piece.solid),
        solid_volume(piece.solid) * 1e-9, face_count(piece.solid),
        ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)), 0, False, 0.0,
    )


def _bounds(vertices: Array) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    low, high = vertices.min(axis=0) * 1e-3, vertices.max(axis=0) * 1e-3
    return (
        (float(low[0]), float(low[1]), float(low[2])),
        (float(high[0]), float(high[1]), float(high[2])),
    )


def look(piece: MoldPiece) -> tuple[float, float, float]:
    """Direction from the piece to the eye that shows the side that matters.

    Args:
        piece: one piece.
    """
    if piece.role == "cavity" or (piece.role == "part" and piece.ribbed):
        return (-0.5, -0.7, -0.9)  # into the bore, from below
    return (-0.5, -0.7, 0.9)


def assembly_offsets(mold_set: MoldSet) -> list[tuple[float, float, float]]:
    """Where each piece stands in the assembly: the halves closed, the rest beside them, mm.

    Args:
        mold_set: every piece of a design.
    """
    plan = mold_set.plan
    step = 2.4 * (plan.half_width if plan else 100.0)
    beside = {"part": -step, "core": 0.0, "cavity": 0.0, "mandrel": step, "ring": 1.9 * step}
    # Castings with cut-outs, and the halves that make them, stand in rows of their own.
    rows = {kind.name: index for index, kind in enumerate(mold_set.cast_segments)}
    return [
        (0.0, beside[piece.role], -rows[piece.casting] * step) for piece in mold_set.pieces
    ]


def _write_assembly(mold_set: MoldSet, folder: Path) -> None:
    write_step(
        mold_set.pieces, folder / f"{ASSEMBLY}.step", mold_set.design.title,
        assembly_offsets(mold_set),
    )


def _draw_assembly(mold_set: MoldSet, folder: Path) -> None:
    """The halves apart with the casting between them, in the order in which they meet."""
    plan = mold_set.plan
    lift = 1.2 * (plan.outer if plan else 100.0)
    height = {"core": 0.0, "part": lift, "cavity": 2 * lift}
    scenes = []
    for piece in mold_set.pieces:
        if piece.role not in height or piece.casting:
            continue
        vertices, corners = joined_mesh(read_stl(folder / f"{piece.name}.stl"))
        scenes.append((vertices + np.array([0, 0, height[piece.role]]), corners, piece.color))
    draw_preview(scenes, folder / f"{ASSEMBLY}.png", (-0.75, -0.9, 0.35))
