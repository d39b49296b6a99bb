"""A part turned and set down as it is made: on its end for a printer, ribs up for a mill."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from gridshell.define.tables.mold import Mold
from gridshell.define.types import Array
from gridshell.mold.pieces.layout import Layout

UPRIGHT = np.array([[0.0, 0, -1], [0, 1, 0], [1, 0, 0]])  # the tube's axis becomes z
ON_ITS_HEAD = np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]])  # and its end is below
CROWN_DOWN = np.diag([1.0, -1, -1])


def print_turn(role: str) -> Array:
    """Rotation (3, 3) of a mold piece into the orientation to print it.

    Core on its flat underside, cavity with its bore up; mandrel and sliding pieces upright, the
    arbor of a collapsing core on its print, ring flat.

    Args:
        role: of the piece.
    """
    turns = {"cavity": CROWN_DOWN, "insert-cavity": CROWN_DOWN, "mandrel": UPRIGHT,
             "ring": UPRIGHT, "slide": UPRIGHT, "arbor": ON_ITS_HEAD}
    return turns.get(role, np.eye(3))


def is_printed(role: str, mold: Mold) -> bool:
    """Whether the mesh of a piece is set on a printer's bed; castings are not.

    Args:
        role: of the piece.
        mold: the `[mold]` table.
    """
    return mold.process == "print-part" or (mold.process == "print" and role != "part")


QUARTER = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])  # about the upright axis


def standing(
    role: str, mold: Mold, low: Sequence[float], high: Sequence[float]
) -> tuple[Array, Array]:
    """Rotation (3, 3) and shift (3,) that set a piece on a printer's bed, for its mesh files.

    On z = 0 in the orientation to print it, in the middle of `mold.bed` or, without one, with its
    corner at zero; turned a quarter where only that fits. Castings and pieces that are milled stay
    where they are.

    Args:
        role: of the piece.
        mold: the `[mold]` table.
        low: its lower corner where it works, mm.
        high: its upper corner, mm.
    """
    if not is_printed(role, mold):
        return np.eye(3), np.zeros(3)
    turn = np.eye(3) if mold.direct else print_turn(role)
    sides = np.abs(turn) @ np.subtract(high, low)
    bed = None if mold.bed is None else np.array(mold.bed) * 1e3
    if bed is not None and np.any(sides[:2] > bed[:2]) and np.all(sides[1::-1] <= bed[:2]):
        turn, sides = QUARTER @ turn, sides[[1, 0, 2]]
    # Boxes turned by right angles are boxes again.
    corner = np.minimum(turn @ np.asarray(low), turn @ np.asarray(high))
    room = np.zeros(3) if bed is None else np.array([*(bed[:2] - sides[:2]) / 2, 0.0])
    return turn, room - corner


def as_made(solid: Any, plan: Layout, process: str) -> Any:
    """A part in the orientation to make it, standing on z = 0.

    Printed parts stand on their end, so that every layer is a cross section. Milled segments lie
    along x with the ribs up: bore up for ribs inside, crown up for ribs outside.

    Args:
        solid: the part, its axis along x and its crown at z > 0, mm.
        plan: its sizes, mm.
        process: print-part or machine-part.
    """
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
    from OCP.TopLoc import TopLoc_Location

    turn, move = gp_Trsf(), gp_Trsf()
    if process == "print-part":
        turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 1, 0)), -math.pi / 2)
    elif plan.base == plan.inner:
        turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0)), math.pi)
        move.SetTranslation(gp_Vec(0, 0, plan.outer))
    else:
        lowest = min(plan.inner * math.sin(plan.left), plan.outer * math.sin(plan.left))
        move.SetTranslation(gp_Vec(0, 0, -lowest))
    return solid.Moved(TopLoc_Location(move.Multiplied(turn)))
