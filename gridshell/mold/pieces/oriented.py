"""A part turned and set down as it is made: on its end for a printer, ribs up for a mill."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.pieces.layout import Layout

UPRIGHT = np.array([[0.0, 0, -1], [0, 1, 0], [1, 0, 0]])  # the tube's axis becomes z
CROWN_DOWN = np.diag([1.0, -1, -1])


def print_turn(role: str) -> Array:
    """Rotation (3, 3) of a mold piece into the orientation to print it.

    Core on its flat underside, cavity with its bore up, mandrel upright, end ring flat.

    Args:
        role: of the piece.
    """
    turns = {"cavity": CROWN_DOWN, "mandrel": UPRIGHT, "ring": UPRIGHT}
    return turns.get(role, np.eye(3))


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
