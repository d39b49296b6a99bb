"""The mold of a tube without a seam: two smooth cavity halves round a core that collapses.

Draws: the cavity halves come apart, the tapered arbor is drawn out along the tube, then keys and
wide pieces move towards the axis. The print of the arbor at its high end and a cap at the other
close it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.cores.sliding import CorePiece, split_ring
from gridshell.mold.pieces.features.fittings import flange_holes, flash_grooves
from gridshell.mold.pieces.halves import bore_solid
from gridshell.mold.pieces.layout import Layout, cavity_profile
from gridshell.mold.pieces.solids.booleans import combined, cut_out
from gridshell.mold.pieces.solids.joining import solid_of
from gridshell.mold.pieces.solids.plain import box, pin, prism
from gridshell.mold.pieces.splitting import Span
from gridshell.mold.relief.closed import lay_closed_tube
from gridshell.mold.relief.faces import Island

STEEPEST, TAPER_SHARE = math.radians(1.0), 0.25  # taper of the arbor; of the wall that it may take
PILOT = 0.7  # radius of the arbor within the cap, of its own
LOWER, UPPER, ARBOR, CAP = "cavity-lower", "cavity-upper", "core-arbor", "core-cap"


def arbor_radii(plan: Layout, wall: float) -> tuple[float, float]:
    """Radius of the arbor at both ends of the casting, the larger where it is drawn out, mm.

    Args:
        plan: sizes of the halves, mm.
        wall: thickness of the sliding pieces at the thin end of the arbor, mm.
    """
    low = plan.inner - wall
    return low, low + min(plan.length * math.tan(STEEPEST), TAPER_SHARE * wall)


def pilot_radius(plan: Layout, wall: float) -> float:
    """Radius of the arbor's pilot within the cap, mm.

    Args:
        plan: sizes of the halves, mm.
        wall: thickness of the sliding pieces, mm.
    """
    return PILOT * arbor_radii(plan, wall)[0]


def arbor_tapping(plan: Layout, mold: Mold, wall: float) -> float:
    """Diameter of the holes to be tapped in the arbor's ends, mm; twice as deep.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        wall: thickness of the sliding pieces, mm.
    """
    return float(min(mold.jack_diameter * 1e3, pilot_radius(plan, wall)))


def cap_bore(plan: Layout, wall: float) -> float:
    """Radius of the cap's bore, a slip fit on the pilot, mm.

    Args:
        plan: sizes of the halves, mm.
        wall: thickness of the sliding pieces, mm.
    """
    return pilot_radius(plan, wall) + plan.clearance


def _cone(plan: Layout, wall: float, beyond: float) -> Any:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    low, high = arbor_radii(plan, wall)
    more = (high - low) / plan.length * beyond
    axis = gp_Ax2(gp_Pnt(-beyond, 0, 0), gp_Dir(1, 0, 0))
    return BRepPrimAPI_MakeCone(
        axis, low - more, high + more, plan.length + 2 * beyond).Shape()


def arbor_solid(plan: Layout, mold: Mold, wall: float) -> Any:
    """The tapered arbor with its print, a pilot for the cap, and tapping holes at both ends.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        wall: thickness of the sliding pieces, mm.
    """
    pilot = pilot_radius(plan, wall)
    body = combined("fuse", _cone(plan, wall, 0.0), [
        pin((plan.start, 0, 0), (0, 0, 0), 2 * pilot),
        pin((plan.length, 0, 0), (plan.end, 0, 0), 2 * plan.inner),
    ])
    size = arbor_tapping(plan, mold, wall)
    return cut_out(body, [
        pin((plan.start - 1, 0, 0), (plan.start + 2 * size, 0, 0), size),
        pin((plan.end + 1, 0, 0), (plan.end - 2 * size, 0, 0), size),
    ])


def cap_solid(plan: Layout, wall: float) -> Any:
    """The print at the low end, a ring on the arbor's pilot.

    Args:
        plan: sizes of the halves, mm.
        wall: thickness of the sliding pieces, mm.
    """
    bore = cap_bore(plan, wall)
    return cut_out(pin((plan.start, 0, 0), (0, 0, 0), 2 * plan.inner), [
        pin((plan.start - 1, 0, 0), (1.0, 0, 0), 2 * bore)])


def collapsing(
    plan: Layout, mold: Mold, islands: Sequence[Island], wall: float,
    pieces: Sequence[CorePiece],
) -> list[Any]:
    """The sliding pieces round the arbor, in their order.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        islands: pockets of the whole tube, laid at the size of the mold.
        wall: thickness of the pieces, mm.
        pieces: of the core.
    """
    within = 0.9 * arbor_radii(plan, wall)[0]  # the arbor makes the bore of the ring
    ring = solid_of(lay_closed_tube(
        plan.base, within, plan.length, islands, mold.mesh_tolerance * 1e3))
    return split_ring(combined("cut", ring, [_cone(plan, wall, 1.0)]), plan, pieces, wall)


def lower_solid(plan: Layout, mold: Mold) -> Any:
    """The lower cavity half: the upper one mirrored, without gates, holding the dowels."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf

    span = Span(plan.start, plan.end, False, False)
    cuts = [bore_solid(plan, mold)]
    cuts += [
        pin((hole.x, hole.y, plan.parting - 1), (hole.x, hole.y, plan.top + 1), hole.diameter)
        for hole in flange_holes(plan, mold, span, core=True)
    ]
    cuts += [
        box((low[0], low[1], plan.parting - 1), (high[0], high[1], 2 * plan.parting - low[2]))
        for low, high in flash_grooves(plan, mold)
    ]
    upper = cut_out(prism(cavity_profile(plan), span.start, span.end), cuts)
    mirror = gp_Trsf()
    mirror.SetMirror(gp_Ax2(gp_Pnt(0, 0, plan.parting), gp_Dir(0, 0, 1)))
    return BRepBuilderAPI_Transform(upper, mirror, True).Shape()
