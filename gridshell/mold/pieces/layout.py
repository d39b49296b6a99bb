"""Where everything in a mold goes: radii, parting, flanges, end walls, splits, holes.

The pull is along +z, the tube's axis is x, the crown of the casting is at +z. The halves part on
the casting's seam faces (radial planes) and on flat flanges outside it. All lengths here are mm of
the solid, shrinkage included.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, with_values
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Array
from gridshell.mold.pieces.solids.plain import Arc, Point2, Profile, at_angle

USUAL_GATE, GATE_SHARE = 0.6, 0.8  # of the wall's depth
DISH_SHARE = 0.25  # of the end wall, that its draft may take
FUNNEL = 0.7  # of the end wall, that a gate's funnel takes


@dataclass(frozen=True)
class Layout:
    """Sizes of the two halves, mm.

    Attributes:
        length: of the casting.
        outer: radius of the outer side, ribs included.
        inner: radius of the inner side, ribs included.
        base: radius of the rib tips.
        floor: radius of the pocket floors, the skin's face on the rib side.
        far: radius of the smooth side.
        half_angle: of the casting as seen from the axis, rad.
        end_wall: mold beyond each end.
        parting: height z of the flanges' parting.
        half_width: of the flanges.
        edge: y of the casting's outer edge at the parting.
        shoulder: half width of the cavity's body.
        bottom: z of the core's underside.
        top: z of the cavity's top.
        flange: thickness of each flange.
        clearance: between the core's prints and the cavity's end walls.
        fastener: y of the line of screws and dowels.
    """

    length: float
    outer: float
    inner: float
    base: float
    floor: float
    far: float
    half_angle: float
    end_wall: float
    parting: float
    half_width: float
    edge: float
    shoulder: float
    bottom: float
    top: float
    flange: float
    clearance: float
    fastener: float

    @property
    def left(self) -> float:
        """Angle where the casting starts."""
        return math.pi / 2 - self.half_angle

    @property
    def right(self) -> float:
        """Angle where it ends."""
        return math.pi / 2 + self.half_angle

    @property
    def start(self) -> float:
        """x where the mold starts."""
        return -self.end_wall

    @property
    def end(self) -> float:
        """x where the mold ends."""
        return self.length + self.end_wall


def layout(design: Design, mold: Mold, scale: float) -> Layout:
    """Sizes of the halves of a design's mold; ``scale`` is mm of the mold per m of the part.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
        scale: mm of the solid per m of the part.
    """
    high = float(design.rib_height) * scale
    outer = float(design.tube.outside_diameter) / 2 * scale
    inner = outer - float(design.skin.thickness) * scale - high
    inside = design.ribs.side == "inside"
    half_angle = math.pi / design.tube.segments
    # A rubber liner under ribs outside lies between the casting and the cavity's wall.
    liner = 0.0
    if mold.core == "rubber" and not inside and design.has_ribs:
        liner = mold.rubber_wall(float(design.ribs.height)) * 1e3
    return _around(
        mold, half_angle, length=float(design.section_length) * scale, outer=outer, inner=inner,
        base=inner if inside else outer, floor=inner + high if inside else outer - high,
        far=outer if inside else inner, liner=liner,
    )


def mold_layout(design: Design, mold: Mold, scale: float) -> Layout:
    """Sizes of the halves; round a tube without a seam they part like those of half shells.

    Args:
        design: one design (no arrays).
        mold: the `[mold]` table.
        scale: mm of the solid per m of the part.
    """
    if design.tube.segments == 1 and not mold.direct:
        design = with_values(design, {"tube.segments": 2})
    return layout(design, mold, scale)


def insert_layout(plan: Layout, mold: Mold, wall: float, grow: float) -> Layout:
    """Sizes of the mold of a rubber insert, mm.

    Args:
        plan: sizes of the halves that the insert is for, mm.
        mold: the `[mold]` table.
        wall: thickness of the insert under the ribs, mm.
        grow: size of this mold over the insert's.
    """
    inside = plan.base == plan.inner
    inner = (plan.inner - wall if inside else plan.outer) * grow
    outer = (plan.inner if inside else plan.outer + wall) * grow
    return _around(
        mold, plan.half_angle, length=plan.length * grow, outer=outer, inner=inner,
        base=outer if inside else inner, floor=plan.floor * grow, far=inner if inside else outer,
        liner=max(plan.floor * grow - outer, 0.0),
    )


def _around(
    mold: Mold, half_angle: float, *, length: float, outer: float, inner: float, base: float,
    floor: float, far: float, liner: float,
) -> Layout:
    """Blocks round a casting of these radii; ``liner``: between it and the cavity's wall, mm."""
    left = math.pi / 2 - half_angle
    parting, edge = outer * math.sin(left), outer * math.cos(left)
    flange, wall = mold.flange_thickness * 1e3, mold.wall * 1e3 + liner
    width = mold.flange_width * 1e3 + liner
    return Layout(
        length=length, outer=outer, inner=inner, base=base, floor=floor, far=far,
        half_angle=half_angle, end_wall=mold.end_wall * 1e3, parting=parting,
        half_width=edge + width, edge=edge, shoulder=edge + wall,
        bottom=min(parting, min(inner, floor) * math.sin(left)) - flange, top=outer + wall,
        flange=flange, clearance=mold.clearance * 1e3,
        fastener=edge + wall + (width - wall) / 2,
    )


def part_profile(plan: Layout) -> Profile:
    """Cross section of the casting."""
    return [
        at_angle(plan.inner, plan.left), at_angle(plan.outer, plan.left),
        Arc(at_angle(plan.outer, math.pi / 2)),
        at_angle(plan.outer, plan.right), at_angle(plan.inner, plan.right),
        Arc(at_angle(plan.inner, math.pi / 2)),
    ]


def core_profile(plan: Layout) -> Profile:
    """Cross section of the core half, the same all along it."""
    wide, low, up = plan.half_width, plan.bottom, plan.parting
    # For half shells seam face and flange lie in one plane, with no corner between them.
    return _straightened([
        at_angle(plan.inner, plan.left), at_angle(plan.outer, plan.left), (wide, up), (wide, low),
        (-wide, low), (-wide, up), at_angle(plan.outer, plan.right),
        at_angle(plan.inner, plan.right), Arc(at_angle(plan.inner, math.pi / 2)),
    ])


def cavity_profile(plan: Layout) -> Profile:
    """Cross section of the cavity half through its end walls, the core's print seated."""
    seat = plan.inner + plan.clearance
    up, wide, side = plan.parting, plan.half_width, plan.shoulder
    ledge = min(up + plan.flange, plan.top)
    return _straightened([
        (wide, up), (wide, ledge), (side, ledge), (side, plan.top), (-side, plan.top),
        (-side, ledge), (-wide, ledge), (-wide, up), at_angle(plan.outer, plan.right),
        at_angle(seat, plan.right), Arc(at_angle(seat, math.pi / 2)),
        at_angle(seat, plan.left), at_angle(plan.outer, plan.left),
    ])


def bore_profile(plan: Layout) -> Profile:
    """The sector that the cavity half is bored out by between its end walls."""
    return [
        (0.0, 0.0), at_angle(plan.outer, plan.left), Arc(at_angle(plan.outer, math.pi / 2)),
        at_angle(plan.outer, plan.right),
    ] if plan.half_angle < math.pi / 2 - 1e-9 else [
        at_angle(plan.outer, plan.left), Arc(at_angle(plan.outer, math.pi / 2)),
        at_angle(plan.outer, plan.right),
    ]


def end_dish(plan: Layout, mold: Mold, radius: float) -> float:
    """How far an end wall of the cavity stands back at a radius, for the part to leave it, mm.

    Its face is a cone through the edge of the bore: it leans by ``mold.end_draft`` at the crown,
    by the cosine of that at an angle from it, and not at all at the seams of a half shell.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        radius: mm.
    """
    return max(plan.outer - radius, 0.0) * math.tan(mold.end_draft)


def require_end_walls(plan: Layout, mold: Mold) -> None:
    """Refuse a draft that leaves too little of the end walls.

    Raises:
        InputError: naming the field.
    """
    most = DISH_SHARE * plan.end_wall
    if end_dish(plan, mold, plan.inner) > most:
        largest = math.degrees(math.atan(most / (plan.outer - plan.inner)))
        raise InputError(
            f"mold.end_draft: {math.degrees(mold.end_draft):.3g} deg takes "
            f"{end_dish(plan, mold, plan.inner):.2g} mm off end walls of {plan.end_wall:g} mm; "
            f"state at most {math.floor(largest * 10) / 10:g} deg, or a longer mold.end_wall")


def _straightened(profile: Sequence[Point2 | Arc]) -> Profile:
    """The profile without corners that lie on a straight line between their neighbors."""
    kept: list[Point2 | Arc] = []
    count = len(profile)
    for index, item in enumerate(profile):
        before, after = profile[index - 1], profile[(index + 1) % count]
        if not any(isinstance(i, Arc) for i in (before, item, after)):
            (ay, az), (by, bz), (cy, cz) = before, item, after  # type: ignore[misc]
            turn = (by - ay) * (cz - bz) - (bz - az) * (cy - by)
            if abs(turn) < 1e-9 * max(1.0, abs(by) + abs(cy) + abs(ay)):
                continue
        kept.append(item)
    return kept


def gate_size(depth: float, mold: Mold) -> float:
    """Diameter of a gate where it meets the casting: as stated, as far as the wall holds it.

    Args:
        depth: of the casting's wall, m.
        mold: the `[mold]` table.
    """
    if mold.gate_diameter is None:
        return USUAL_GATE * depth
    return float(min(mold.gate_diameter, GATE_SHARE * depth))


def vent_size(depth: float, mold: Mold) -> float:
    """Diameter of a vent, as stated, as far as the wall holds it.

    Args:
        depth: of the casting's wall, m.
        mold: the `[mold]` table.
    """
    return float(min(mold.vent_diameter, GATE_SHARE * depth))


def reduced_holes(design: Design, mold: Mold) -> list[str]:
    """What is made smaller than stated because the wall does not hold it, each as a line."""
    depth = float(design.skin.thickness + design.rib_height)
    notes = []
    for field, stated, used in (
        ("gate_diameter", mold.gate_diameter, gate_size(depth, mold)),
        ("vent_diameter", mold.vent_diameter, vent_size(depth, mold)),
    ):
        if stated is not None and used < stated * (1 - 1e-9):
            notes.append(
                f"mold.{field}: {stated * 1e3:g} mm is more than {GATE_SHARE:.0%} of the wall's "
                f"depth of {depth * 1e3:.3g} mm; {used * 1e3:.3g} mm is made"
            )
    return notes


def fastener_places(
    start: float, end: float, pitch: float, margins: tuple[float, float]
) -> Array:
    """Positions of the screws and dowels along one piece, at least three, mm.

    Args:
        start: x where the piece starts, mm.
        end: x where it ends, mm.
        pitch: greatest distance, mm.
        margins: from the two ends to the first and last, mm.
    """
    first, last = start + margins[0], end - margins[1]
    count = max(2, math.ceil((last - first) / pitch))
    return np.linspace(first, last, count + 1)
