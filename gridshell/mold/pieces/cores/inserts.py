"""What carries the ribs in place of a rigid half: sliding pieces, or a rubber insert.

The half itself becomes a body with a recess along the casting: a ring of sliding pieces or an
insert of cast silicone lies in it between the two prints, which hold it along the tube. The insert
has a mold of its own, larger by the shrinkage of the rubber.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, Material
from gridshell.define.tables.mold import Mold
from gridshell.material.resolve import properties
from gridshell.mold.pieces.cores.sliding import CorePiece, sliding_wall, split_ring
from gridshell.mold.pieces.halves import cavity_solid, core_solid, relieved
from gridshell.mold.pieces.layout import Layout, insert_layout, part_profile
from gridshell.mold.pieces.solids.plain import prism
from gridshell.mold.pieces.splitting import Span
from gridshell.mold.relief.faces import Island

RUBBER_NAME = "silicone-mold"  # of the library


def carried_wall(plan: Layout, mold: Mold, design: Design) -> float:
    """Thickness of what carries the ribs, under them, mm; 0 for a rigid half.

    Raises:
        InputError: it does not go into the bore.
    """
    if mold.core == "rigid" or not design.has_ribs:
        return 0.0
    if mold.core == "sliding":
        stated = None if mold.core_wall is None else float(mold.core_wall) * 1e3
        return sliding_wall(plan, stated)
    wall = float(mold.rubber_wall(float(design.ribs.height))) * 1e3
    if plan.base == plan.inner and wall > 0.6 * plan.inner:
        raise InputError(
            f"mold.core_wall: {wall:.1f} mm of rubber leave no body in a bore of "
            f"{2 * plan.inner:.1f} mm; state at most {0.6 * plan.inner:.1f} mm"
        )
    return wall


def insert_growth(mold: Mold) -> float:
    """Size of the mold of a rubber insert over the insert's own.

    Args:
        mold: the `[mold]` table.
    """
    shrinks = mold.insert_shrinkage
    if shrinks is None:
        shrinks = properties(Material(RUBBER_NAME), temperature=ROOM_TEMPERATURE).shrinkage
    return 1 / (1 - float(shrinks or 0.0))


def recess_radius(plan: Layout, mold: Mold, wall: float) -> float | None:
    """Radius of the recess in the half that carries the ribs, mm; None for a rigid half.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        wall: from `carried_wall`.
    """
    if not wall:
        return None
    if plan.base != plan.inner:
        return plan.outer + wall
    # Sliding pieces sit on the body with a slip fit; rubber fills what there is.
    return plan.inner - wall - (plan.clearance if mold.core == "sliding" else 0.0)


def carried_ring(
    plan: Layout, mold: Mold, islands: Sequence[Island], wall: float
) -> Any:
    """The ring between body and casting with its ribs: the insert, or all sliding pieces in one.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        islands: pockets and cut-outs, laid at the size of the mold.
        wall: from `carried_wall`.
    """
    if plan.base == plan.inner:
        ring = replace(plan, outer=plan.inner, inner=plan.inner - wall)
    else:
        ring = replace(plan, inner=plan.outer, outer=plan.outer + wall)
    return relieved(prism(part_profile(ring), 0.0, plan.length), plan, islands, mold)


def slid(
    plan: Layout, mold: Mold, islands: Sequence[Island], wall: float,
    pieces: Sequence[CorePiece],
) -> list[Any]:
    """The sliding pieces of a core as solids, in their order.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        islands: pockets and cut-outs, laid at the size of the mold.
        wall: from `carried_wall`.
        pieces: of the core.
    """
    return split_ring(carried_ring(plan, mold, islands, wall), plan, pieces, wall)


def insert_half(
    plan: Layout, mold: Mold, islands: Sequence[Island], wall: float, role: str, grow: float
) -> Any:
    """A half of the mold that the rubber insert is cast in; it has the ribs on the insert's side.

    Args:
        plan: sizes of the halves that the insert is for, mm.
        mold: the `[mold]` table.
        islands: pockets and cut-outs, laid at the size of this mold; () for its smooth half.
        wall: from `carried_wall`.
        role: insert-core or insert-cavity.
        grow: size of this mold over the insert's.
    """
    own = insert_layout(plan, mold, wall, grow)
    mold = replace(mold, end_draft=0.0)  # rubber peels off, and its ends fit between two prints
    span = Span(own.start, own.end, False, False)
    make = core_solid if role == "insert-core" else cavity_solid
    return relieved(make(own, mold, span), own, islands, mold)
