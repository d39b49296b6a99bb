"""The joining mandrel, on which cast segments are bonded, and the end ring that sets the length.

Both fit the finished part, so they carry no shrinkage. With a ring at each end, its outer face
flush with the mandrel's end, the rings' shoulders stand one section apart and hold every segment
concentric.
"""

from __future__ import annotations

from typing import Any

from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.booleans import cut_out
from gridshell.mold.pieces.plain import pin


def mandrel_length(design: Design, mold: Mold) -> float:
    """From ring face to ring face, mm.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
    """
    return float(design.section_length + 2 * mold.ring_wall) * 1e3


def mandrel_radius(design: Design, mold: Mold) -> float:
    """Slip fit in the bore of the part, mm.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
    """
    bore = design.tube.outside_diameter / 2 - design.skin.thickness - design.rib_height
    return float(bore - mold.clearance) * 1e3


def mandrel_solid(design: Design, mold: Mold, start: float, end: float) -> Any:
    """The mandrel, or the piece of it between two positions along it, mm.

    Its true ends carry jack-out holes to be tapped; ends that are joints carry a dowel hole.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
        start: where the piece starts along it, mm.
        end: where it ends, mm.
    """
    radius, whole = mandrel_radius(design, mold), mandrel_length(design, mold)
    holes = []
    for at, inward in ((start, 1), (end, -1)):
        is_end = at <= 0 or at >= whole
        diameter = (mold.jack_diameter if is_end else mold.dowel_diameter) * 1e3
        diameter = min(diameter, radius)
        deep = min(2.5 * diameter, 0.4 * (end - start))
        holes.append(pin((at - inward, 0, 0), (at + inward * deep, 0, 0), diameter))
    return cut_out(pin((start, 0, 0), (end, 0, 0), 2 * radius), holes)


def ring_solid(design: Design, mold: Mold) -> Any:
    """One end ring, its outer face at x = 0.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
    """
    outside = float(design.tube.outside_diameter) / 2 * 1e3
    wall, reach, slip = mold.ring_wall * 1e3, mold.ring_height * 1e3, mold.clearance * 1e3
    body = pin((0, 0, 0), (wall + reach, 0, 0), 2 * (outside + wall))
    seat = pin((wall, 0, 0), (wall + reach + 1, 0, 0), 2 * (outside + slip))
    # The mandrel already carries one clearance; a second keeps ring and mandrel a slip fit.
    bore = pin((-1, 0, 0), (wall + 1, 0, 0), 2 * (mandrel_radius(design, mold) + slip))
    return cut_out(body, [seat, bore])
