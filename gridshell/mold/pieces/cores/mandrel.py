"""The joining mandrel, on which cast segments are bonded, and the end ring that sets the length.

Both fit the finished part, so they carry no shrinkage. With a ring at each end, its outer face
flush with the mandrel's end, the rings' shoulders stand one section apart and hold every segment
concentric.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.solids.booleans import cut_out
from gridshell.mold.pieces.solids.plain import pin


def mandrel_length(design: Design, mold: Mold) -> float:
    """From ring face to ring face, mm."""
    return float(design.section_length + 2 * mold.ring_wall) * 1e3


def mandrel_radius(design: Design, mold: Mold) -> float:
    """Slip fit in the bore of the part, mm."""
    bore = design.tube.outside_diameter / 2 - design.skin.thickness - design.rib_height
    return float(bore - mold.clearance) * 1e3


def end_hole(
    design: Design, mold: Mold, start: float, end: float, true_end: bool
) -> tuple[float, float]:
    """Diameter and depth of the hole in an end of a piece of the mandrel, mm.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
        start: where the piece starts along the mandrel, mm.
        end: where it ends, mm.
        true_end: an end of the mandrel, with a hole to be tapped; else a joint, for a dowel.
    """
    diameter = (mold.jack_diameter if true_end else mold.dowel_diameter) * 1e3
    diameter = min(diameter, mandrel_radius(design, mold))
    return diameter, min(2.5 * diameter, 0.4 * (end - start))


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
        diameter, deep = end_hole(design, mold, start, end, at <= 0 or at >= whole)
        holes.append(pin((at - inward, 0, 0), (at + inward * deep, 0, 0), diameter))
    return cut_out(pin((start, 0, 0), (end, 0, 0), 2 * radius), holes)


@dataclass(frozen=True)
class Ring:
    """Sizes of an end ring, mm.

    Attributes:
        outside: radius.
        seat: radius of the seat of the tube.
        bore: radius of the bore that the mandrel runs in.
        wall: length of the bore, up to the shoulder.
        length: of the ring.
    """

    outside: float
    seat: float
    bore: float
    wall: float
    length: float


def ring_sizes(design: Design, mold: Mold) -> Ring:
    """Sizes of one end ring."""
    tube = float(design.tube.outside_diameter) / 2 * 1e3
    wall, slip = mold.ring_wall * 1e3, mold.clearance * 1e3
    # The mandrel already carries one clearance; a second keeps ring and mandrel a slip fit.
    return Ring(outside=tube + wall, seat=tube + slip, bore=mandrel_radius(design, mold) + slip,
                wall=wall, length=wall + mold.ring_height * 1e3)


def ring_solid(design: Design, mold: Mold) -> Any:
    """One end ring, its outer face at x = 0."""
    ring = ring_sizes(design, mold)
    body = pin((0, 0, 0), (ring.length, 0, 0), 2 * ring.outside)
    seat = pin((ring.wall, 0, 0), (ring.length + 1, 0, 0), 2 * ring.seat)
    bore = pin((-1, 0, 0), (ring.wall + 1, 0, 0), 2 * ring.bore)
    return cut_out(body, [seat, bore])
