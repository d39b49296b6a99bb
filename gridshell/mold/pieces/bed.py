"""The pieces on a printer's bed or in a mill's stock: where they are split, and how large they are.

Printed pieces lie as they print best (`oriented.py`): a core on its underside, a cavity with its
bore up, a mandrel upright, a ring flat. The third side of the bed is upright.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.cores.mandrel import mandrel_length, mandrel_radius
from gridshell.mold.pieces.layout import Layout
from gridshell.mold.pieces.splitting import fits_upright, longest_piece, splits
from gridshell.mold.relief.ribbing import Ribbing, clean_planes

WAYS = {"core": "on its underside", "cavity": "bore up", "mandrel": "upright",
        "end-ring": "flat", "core-arbor": "on its print"}


def bed_of(mold: Mold) -> list[float] | None:
    """Sides of the bed or stock, mm; None if not stated."""
    return None if mold.bed is None else [side * 1e3 for side in mold.bed]


def split_planes(
    plan: Layout, mold: Mold, ribs: Sequence[Ribbing], scale: float
) -> tuple[tuple[float, ...], bool]:
    """Where the halves are split along x, mm, and whether all planes run along ribs.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        ribs: pockets of each kind of cast segment; a plane is shared by all.
        scale: mm of the solid per m of the part.

    Raises:
        InputError: the cross section alone does not fit the bed.
    """
    clean = [clean_planes(found, scale) for found in ribs]
    shared = clean[0]
    for other in clean[1:]:
        shared = shared[[bool(np.isclose(other, x).any()) for x in shared]]
    return splits(plan, bed_of(mold), mold.key_length * 1e3, shared, mold.process == "print")


def mandrel_edges(design: Design, mold: Mold) -> list[float]:
    """Where the mandrel is split for the bed, mm along it, both ends included."""
    whole, bed = mandrel_length(design, mold), bed_of(mold)
    count = 1
    if bed is not None:
        across = 2 * mandrel_radius(design, mold)
        stands = mold.process == "print" and across <= min(bed[:2])
        most = bed[2] if stands else longest_piece(bed, across, across)
        if most > 0:
            count = max(math.ceil(whole / most - 1e-9), 1)  # a bed may be as long as a street
    return [whole * i / count for i in range(count + 1)]


def lying_sizes(
    plan: Layout, design: Design, mold: Mold, planes: Sequence[float]
) -> dict[str, tuple[float, float, float]]:
    """Length, width and height of the largest piece of each kind, as it prints best, mm.

    Args:
        plan: sizes of the halves, mm.
        design: one design (no arrays).
        mold: the `[mold]` table.
        planes: where the halves are split along x, mm.
    """
    edges = [plan.start, *planes, plan.end]
    keys = [mold.key_length * 1e3] * len(planes) + [0.0]  # on the high-x end of all but the last
    longest = max(b - a + key for (a, b), key in zip(itertools.pairwise(edges), keys, strict=True))
    across = 2 * mandrel_radius(design, mold)
    ring = float(design.tube.outside_diameter) * 1e3 + 2 * mold.ring_wall * 1e3
    core = (plan.floor if plan.base == plan.inner else plan.inner) - plan.bottom
    # Below the parting the end walls reach down to the core's seat.
    low = min(plan.parting, (plan.inner + plan.clearance) * math.sin(plan.left))
    rods = mandrel_edges(design, mold)
    if design.tube.segments == 1:  # both halves are smooth, round an arbor
        across_print = 2 * plan.inner
        return {
            "cavity": (longest, 2 * plan.half_width, plan.top - plan.parting),
            "core-arbor": (across_print, across_print, plan.end - plan.start),
            "mandrel": (across, across, rods[1] - rods[0]),
            "end-ring": (ring, ring, (mold.ring_wall + mold.ring_height) * 1e3),
        }
    return {
        "core": (longest, 2 * plan.half_width, max(core, plan.parting - plan.bottom)),
        "cavity": (longest, 2 * plan.half_width, plan.top - low),
        "mandrel": (across, across, rods[1] - rods[0]),
        "end-ring": (ring, ring, (mold.ring_wall + mold.ring_height) * 1e3),
    }


def misfits(
    plan: Layout, design: Design, mold: Mold, planes: Sequence[float]
) -> dict[str, tuple[tuple[float, float, float], bool]]:
    """Pieces that do not fit the bed as they print best: their size, and whether another way fits.

    Args:
        plan: sizes of the halves, mm.
        design: one design (no arrays).
        mold: the `[mold]` table.
        planes: where the halves are split along x, mm.
    """
    bed = bed_of(mold)
    if bed is None:
        return {}
    found = {}
    for name, (long, wide, high) in lying_sizes(plan, design, mold, planes).items():
        turned = longest_piece(bed, wide, high) >= long
        if not (fits_upright(bed, (long, wide), high) if mold.process == "print" else turned):
            found[name] = ((long, wide, high), turned)
    return found
