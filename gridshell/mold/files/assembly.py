"""The whole of a mold set: every piece once, placed, as STEP, and the picture of all together."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from gridshell.define.types import Array
from gridshell.define.workers import Task
from gridshell.mold.files.preview import draw_preview
from gridshell.mold.files.solids import SolidCheck, face_count, joined_mesh, read_stl
from gridshell.mold.files.step import assemble_by_kernel, write_references
from gridshell.mold.files.step_product import COMPRESSED, Member, blocks, is_joinable, write_joined
from gridshell.mold.pieces.mold_set import MoldPiece, MoldSet
from gridshell.mold.pieces.oriented import standing

ASSEMBLY = "assembly"
# Faces of all pieces together above which an assembly refers to the pieces' own files, and
# everything in one file is compressed.
MOST_FACES = 20_000
_Stand = tuple[Path, Array, Array, tuple[float, float, float]]
"""File of a mesh, the turn and shift from where it works to where it lies, its color."""


def members_of(mold_set: MoldSet, pieces: Sequence[MoldPiece]) -> list[Member]:
    """Pieces as an assembly has them: where each stands, and the numbers of its file.

    Args:
        mold_set: every piece of a design.
        pieces: of it.
    """
    befores = blocks(pieces)
    return [
        Member(piece.name, before, after, offset)
        for piece, (before, after), offset in zip(
            pieces, itertools.pairwise(befores), offsets(mold_set, pieces), strict=True)]


def offsets(
    mold_set: MoldSet, pieces: Sequence[MoldPiece]
) -> list[tuple[float, float, float]]:
    """Where each piece stands in the assembly: the halves closed, the rest beside them, mm.

    Args:
        mold_set: every piece of a design.
        pieces: those in the assembly.
    """
    step = 2.4 * mold_set.plan.half_width
    beside = {
        "part": -step, "core": 0.0, "cavity": 0.0, "slide": 0.0, "arbor": 0.0, "insert": 0.0,
        "mandrel": step, "ring": 1.9 * step, "insert-core": -2.2 * step,
        "insert-cavity": -2.2 * step,
    }
    # Castings with cut-outs, and the halves that make them, stand in rows of their own.
    rows = {kind.name: index for index, kind in enumerate(mold_set.cast_segments)}
    return [
        (0.0, beside[piece.role], -rows.get(piece.casting, 0) * step) for piece in pieces
    ]


def assembly_steps(
    pieces: Sequence[MoldPiece], members: Sequence[Member], folder: Path, title: str
) -> list[Task]:
    """What writes the assembly of files that are there, as tasks that can be pickled.

    Every program reads one file that holds every piece once, placed. Of pieces with many faces
    (`MOST_FACES`) it would be as large as all others together: then it refers to their files, and
    one with everything in it is compressed.

    Args:
        pieces: each is written as ``NAME.step``.
        members: the same without their solids.
        folder: of the files.
        title: name of the assembly.
    """
    path = folder / f"{ASSEMBLY}.step"
    apart = sum(face_count(piece.solid) for piece in pieces) > MOST_FACES
    if all(is_joinable(member, folder) for member in members):
        whole = path.with_suffix(COMPRESSED) if apart else path
        tasks: list[Task] = [functools.partial(write_joined, members, whole, title)]
    elif apart:
        tasks = []
    else:
        assemble_by_kernel(pieces, members, path, title)  # solids can't be pickled
        return []
    return [*tasks, functools.partial(write_references, members, path, title)] if apart else tasks


def assembly_picture(
    mold_set: MoldSet, pieces: Sequence[MoldPiece], folder: Path, checks: dict[str, SolidCheck]
) -> list[Task]:
    """What draws the halves apart with the casting between them, in the order in which they meet.

    Args:
        mold_set: every piece of a design.
        pieces: those that are good, written as ``NAME.stl``.
        folder: of the files.
        checks: of each piece, by its name.
    """
    lift = 1.2 * mold_set.plan.outer
    height = {"core": 0.0, "slide": 0.0, "part": lift, "cavity": 2 * lift}
    if mold_set.design.tube.segments == 1:  # the core stands between the lower half and the part
        height |= {"core": -lift, "arbor": 0.0}
    # A rubber insert lies in the half that carries the ribs.
    height["insert"] = height["core" if mold_set.design.ribs.side == "inside" else "cavity"]
    stands: list[_Stand] = []
    for piece in pieces:
        if piece.role not in height or (piece.casting and not mold_set.mold.direct):
            continue
        low, high = np.array(checks[piece.name].bounds) * 1e3
        turn, move = standing(piece.role, mold_set.mold, low, high)
        up = np.array([0.0, 0.0, height[piece.role]])
        stands.append((folder / f"{piece.name}.stl", turn, move - turn @ up, piece.color))
    return [functools.partial(_draw, stands, folder / f"{ASSEMBLY}.png")] if stands else []


def _draw(stands: Sequence[_Stand], path: Path) -> None:
    scenes = []
    for file, turn, move, color in stands:
        vertices, corners = joined_mesh(read_stl(file))
        scenes.append(((vertices - move) @ turn, corners, color))  # back to where it works
    draw_preview(scenes, path, (-0.75, -0.9, 0.35))
