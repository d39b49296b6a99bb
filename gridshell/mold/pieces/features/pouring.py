"""Gates and vents: how many, how wide, and where, for the way in which the mold stands.

The gates are at the low-x end, which is the top of a mold on its end and is raised a little when
the mold lies. Vents are where the air goes: in the corners of the upper land of a mold on its end,
at the crown of a mold that lies crown up, at both seams of one that lies crown down. A mold that
lies has vents at both ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Array
from gridshell.mold.pieces.layout import FUNNEL, Layout, gate_size, vent_size
from gridshell.mold.pieces.solids.plain import funnel, pin

BETWEEN = 1.0  # mm of mold left between two holes


@dataclass(frozen=True)
class EndHole:
    """A gate or vent through an end wall, along x.

    Attributes:
        what: gate or vent.
        angle: from +y, rad.
        radius: of its middle from the axis, mm.
        diameter: where it meets the casting, mm.
        far: whether it is in the end wall at high x.
    """

    what: str
    angle: float
    radius: float
    diameter: float
    far: bool = False


def gate_diameter(plan: Layout, mold: Mold) -> float:
    """Diameter of a gate where it meets the casting, mm."""
    return gate_size((plan.outer - plan.inner) / 1e3, mold) * 1e3


def vent_diameter(plan: Layout, mold: Mold) -> float:
    """Diameter of a vent, mm."""
    return vent_size((plan.outer - plan.inner) / 1e3, mold) * 1e3


def most_gates(plan: Layout, mold: Mold) -> int:
    """How many gates fit side by side along the end wall, with a vent between each two."""
    arc = 2 * plan.half_angle * plan.outer
    vent = vent_diameter(plan, mold) + BETWEEN if mold.vents else 0.0
    return max(1, int(arc / (gate_diameter(plan, mold) + BETWEEN + vent)))


def require_room(plan: Layout, mold: Mold) -> None:
    """Refuse more gates than the end wall holds.

    Raises:
        InputError: naming the field.
    """
    most = most_gates(plan, mold)
    if mold.gate_count > most:
        arc = 2 * plan.half_angle * plan.outer
        raise InputError(
            f"mold.gates: {mold.gates} gates of {gate_diameter(plan, mold):.3g} mm do not fit side "
            f"by side, with vents between them, on an end wall {arc:.0f} mm round; "
            f"at most {most}, or a smaller mold.gate_diameter")


def end_holes(plan: Layout, mold: Mold) -> list[EndHole]:
    """Gates and vents through the end walls of the cavity."""
    gate, vent = gate_diameter(plan, mold), vent_diameter(plan, mold)
    middle = plan.outer - 0.55 * gate  # clear of the core's print, within the wall's depth
    crown_up = mold.casting.filled == "crown-up"
    # The crown is left to the vents where it is the highest place.
    places = mold.gate_count + (mold.gate_count % 2 if crown_up else 0)
    gates = (plan.left + (np.arange(places) + 0.5) / places * 2 * plan.half_angle)[:mold.gate_count]
    holes = [EndHole("gate", float(angle), middle, gate) for angle in gates]
    radius = plan.outer - 0.55 * vent if crown_up else (plan.outer + plan.inner) / 2
    taken: dict[bool, list[float]] = {False: [], True: []}
    for wanted, far in _vent_places(plan, mold, vent):
        blocked = [] if far else [(float(a), gate) for a in gates]
        blocked += [(a, vent) for a in taken[far]]
        angle = _clear(wanted, vent, blocked, plan)
        if angle is not None:
            taken[far].append(angle)
            holes.append(EndHole("vent", angle, radius, vent, far))
    return holes


def _vent_places(plan: Layout, mold: Mold, vent: float) -> list[tuple[float, bool]]:
    """Angle wanted for each vent, and whether it is at the far end."""
    inset = min(2 * vent / plan.outer, plan.half_angle / 2)
    seams = (plan.left + inset, plan.right - inset)
    count, filled = mold.vents, mold.casting.filled
    if filled == "crown-up":
        return [(math.pi / 2, number % 2 == 1) for number in range(count)]
    if filled == "crown-down":
        return [(seams[number % 2], number // 2 % 2 == 1) for number in range(count)]
    # Just inside the seams and evenly between them.
    return [(float(a), False) for a in (np.linspace(*seams, count) if count > 1 else seams[:count])]


def _clear(
    wanted: float, vent: float, blocked: list[tuple[float, float]], plan: Layout
) -> float | None:
    """The angle nearest to the wanted one whose vent meets no other hole; None without room."""
    steps = np.linspace(plan.left, plan.right, 721)
    edge = (vent / 2 + BETWEEN) / plan.outer
    free = (steps >= plan.left + edge) & (steps <= plan.right - edge)
    for angle, diameter in blocked:
        free &= np.abs(steps - angle) * plan.outer >= (diameter + vent) / 2 + BETWEEN
    choices: Array = np.append(steps[free], wanted)
    fits = all(abs(wanted - a) * plan.outer >= (d + vent) / 2 + BETWEEN for a, d in blocked)
    if not fits:
        choices = choices[:-1]
    return float(choices[np.argmin(np.abs(choices - wanted))]) if len(choices) else None


def gates_and_vents(plan: Layout, mold: Mold, near: bool, far: bool) -> list[Any]:
    """Solids that cut the gates and vents of one piece of the cavity.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        near: whether the piece has the end wall at low x.
        far: whether it has the one at high x.
    """
    tools = []
    for hole in end_holes(plan, mold):
        if not (far if hole.far else near):
            continue
        y, z = hole.radius * math.cos(hole.angle), hole.radius * math.sin(hole.angle)
        start, end = (plan.length - 1, plan.end + 1) if hole.far else (plan.start - 1, 1.0)
        tools.append(pin((start, y, z), (end, y, z), hole.diameter))
        if hole.what == "gate":
            tools.append(_gate_funnel(plan, hole.radius, hole.angle, hole.diameter))
    return tools


def _gate_funnel(plan: Layout, radius: float, angle: float, gate: float) -> Any:
    """Widens away from the core's print towards the outside.

    It starts a little inside the gate's hole, so that no surfaces touch.
    """
    low = radius - 0.45 * gate
    mouth = min(3 * gate, plan.top - 2.0 - low)
    outer = low + mouth / 2
    inner_x, outer_x = plan.start + FUNNEL * plan.end_wall, plan.start - 0.01
    return funnel(
        (inner_x, radius * math.cos(angle), radius * math.sin(angle)), 0.9 * gate,
        (outer_x, outer * math.cos(angle), outer * math.sin(angle)), mouth,
    )
