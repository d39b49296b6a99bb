"""Sliding cores: how many pieces free the ribs, and whether each leaves its grooves on its pull."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.checks.release.flanks import Flanks, lock_angle, out_of_mold, panel_flanks
from gridshell.mold.checks.release.undercut import CLEAR, overhang, some_flanks
from gridshell.mold.checks.result import OK, MoldCheck
from gridshell.mold.pieces.cores.sliding import (
    MOST_PIECES,
    CorePiece,
    core_pieces,
    counts_to_try,
    piece_at,
)
from gridshell.mold.pieces.layout import layout
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.wall.geometry.lattice import Lattice

_PULLED = "normals of the ruled flanks against the pull of the piece they are on; derived here"


def locked_overhangs(
    design: Design, flanks: Flanks, pieces: Sequence[CorePiece], radii: tuple[float, float]
) -> list[float]:
    """Largest overhang of a locked side on each piece, m; 0 where all of them slide.

    Args:
        design: one design (no arrays).
        flanks: of one panel.
        pieces: of the core.
        radii: of base and floor, mm.
    """
    base, floor = radii
    index = piece_at(pieces, base, math.pi / 2 + flanks.angle, floor)
    found = []
    for number, piece in enumerate(pieces):
        own = some_flanks(flanks, (index == number) & ~flanks.corner)
        off = piece.angle - math.pi / 2  # from the crown
        way = out_of_mold(design) * np.array([0.0, math.sin(off), math.cos(off)])
        lean, sticks_out = overhang(own, way)
        found.append(float(sticks_out[lean > CLEAR].max(initial=0.0)))
    return found


def sliding_pieces(
    design: Design, grid: Lattice, mold: Mold, ribs: Ribbing
) -> tuple[CorePiece, ...]:
    """The fewest pieces of a core that all slide, or as many as stated.

    Raises:
        InputError: no such core frees the ribs; the message names what would.
    """
    plan = layout(design, mold, 1e3)
    half, radii = plan.half_angle, (plan.base, plan.floor)
    if design.ribs.side == "outside":
        raise InputError(
            "mold.core: 'sliding' is for ribs inside; ribs outside leave a mold of mold.core = "
            "'rubber', or one with more tube.segments"
        )
    counts = counts_to_try(half)
    stated = mold.core_pieces
    if stated is not None and stated not in counts:
        kind = "even" if half > math.pi - 1e-9 else "odd"
        raise InputError(
            f"mold.core_pieces: {stated}; wide pieces and keys stand in turn, so it must be an "
            f"{kind} number from {counts[0]} to {counts[-1]}"
        )
    flanks = panel_flanks(design, grid, ribs)
    for count in counts if stated is None else (stated,):
        pieces = core_pieces(half, count)
        if not any(locked_overhangs(design, flanks, pieces, radii)):
            return pieces
    cosine = max(abs(float(line.cosine)) for line in grid.families)
    most = counts[-1]
    draft = math.degrees(math.atan(math.tan(half / most) * cosine)) + 0.05
    start = math.degrees(float(lock_angle(design.ribs.draft, cosine)))
    if stated is not None:
        needed = math.ceil(math.degrees(half) / max(start, 1e-3))
        raise InputError(
            f"mold.core_pieces: with {stated} pieces ribs lock, from {start:.1f} deg off the pull "
            f"of a piece; leave it out or state at least {needed}, at most {most}"
        )
    raise InputError(
        f"mold.core: a sliding core of {MOST_PIECES} pieces at most does not free these ribs, "
        f"which lock from {start:.1f} deg off the pull of a piece; set ribs.draft to at least "
        f"{draft:.1f} deg, or mold.core = 'rubber'"
    )


def slide_check(
    design: Design, grid: Lattice, mold: Mold, ribs: Ribbing, flanks: Flanks
) -> MoldCheck:
    """That every piece of a sliding core leaves its grooves on a straight pull.

    Raises:
        InputError: as `sliding_pieces`.
    """
    pieces = sliding_pieces(design, grid, mold, ribs)
    plan = layout(design, mold, 1e3)
    worst = max(locked_overhangs(design, flanks, pieces, (plan.base, plan.floor)))
    keys = [str(piece.number) for piece in pieces if piece.key]
    closed = plan.half_angle > math.pi - 1e-9
    first = "draw the arbor out" if closed else "take the core's body away"
    return MoldCheck(
        "undercut of the sliding core", worst, limit=0.0, kind="length", verdict=OK,
        advice=(f"{len(pieces)} pieces, each pulled straight towards the axis: {first}, then the "
                f"keys (pieces {', '.join(keys)}), then the others"),
        source=_PULLED, notes=("value: overhang of the worst side of a pocket",),
        details={"pieces": len(pieces), "keys": [p.number for p in pieces if p.key]},
    )
