"""Features of the halves: screws and dowels, grooves, slots, keys at joints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from gridshell.define.tables.mold import BETWEEN, Mold
from gridshell.mold.pieces.layout import Layout, fastener_places
from gridshell.mold.pieces.solids.plain import box, pin
from gridshell.mold.pieces.splitting import Span

ROUND_HOLES = 2.0  # mm of flange round a jack hole


def places_along(plan: Layout, mold: Mold, span: Span) -> tuple[Any, float]:
    """Positions of the fasteners along a piece, and the distance between them."""
    plain = max(1.5 * mold.dowel_diameter, 2 * mold.screw_diameter) * 1e3
    joint = (mold.key_length + mold.dowel_diameter) * 1e3 + 2.0
    places = fastener_places(
        span.start, span.end, mold.fastener_pitch * 1e3,
        (joint if span.joint_start else plain, joint if span.joint_end else plain),
    )
    return places, float(places[1] - places[0])


@dataclass(frozen=True)
class FlangeHole:
    """A hole through a flange, along z.

    Attributes:
        what: screw, dowel or jack.
        x: along the tube, mm.
        y: across, mm.
        diameter: mm.
        fit: how it takes its screw or pin.
    """

    what: str
    x: float
    y: float
    diameter: float
    fit: str


def flange_holes(plan: Layout, mold: Mold, span: Span, core: bool) -> list[FlangeHole]:
    """Screw, dowel and jack holes of a piece.

    Three dowels, so that halves go together one way only. A jack hole is tapped in the cavity's
    flange alone: a screw in it bears on the core's flange and parts the halves.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        span: the piece along x, mm.
        core: whether the piece is of the core, which holds the pins tight.
    """
    places, _ = places_along(plan, mold, span)
    holes = []
    for side in (1, -1):
        dowels = {0, len(places) - 1} if side > 0 else {0}
        for index, x in enumerate(places):
            y = side * plan.fastener
            if index in dowels:
                diameter = mold.dowel_diameter + (0.0 if core else 2 * mold.clearance)
                fit = "press" if core else "slip"
                holes.append(FlangeHole("dowel", float(x), y, diameter * 1e3, fit))
            else:
                holes.append(FlangeHole(
                    "screw", float(x), y, mold.screw_diameter * 1e3, "clearance"))
    return holes if core else [*holes, *_jack_holes(plan, mold, span)]


def _jack_holes(plan: Layout, mold: Mold, span: Span) -> list[FlangeHole]:
    """Between the outermost holes of both flanges, where these leave room; else none."""
    places, pitch = places_along(plan, mold, span)
    beside = max(mold.dowel_diameter + 2 * mold.clearance, mold.screw_diameter) * 1e3
    across = mold.jack_diameter * 1e3
    y = plan.fastener
    if pry_slots(plan, mold, span):  # clear of the slot between the same holes
        y = min(y, _slot_edge(plan) - BETWEEN * 1e3 - across / 2)
    room = min(y - plan.shoulder, plan.half_width - y)
    if pitch < across + beside + 2 * ROUND_HOLES or room < across / 2 + ROUND_HOLES:
        return []
    middles = sorted({float(places[0] + places[1]) / 2, float(places[-2] + places[-1]) / 2})
    return [FlangeHole("jack", x, side * y, across, "tapped")
            for side in (1, -1) for x in middles]


def fasteners(plan: Layout, mold: Mold, span: Span, core: bool) -> list[Any]:
    low, high = (
        (plan.bottom - 1, plan.parting + 1) if core
        else (plan.parting - 1, plan.top + 1)
    )
    return [pin((hole.x, hole.y, low), (hole.x, hole.y, high), hole.diameter)
            for hole in flange_holes(plan, mold, span, core)]


Box = tuple[tuple[float, float, float], tuple[float, float, float]]
"""Lower and upper corner, mm."""


def flash_grooves(plan: Layout, mold: Mold) -> list[Box]:
    """Grooves in the core's flanges beside the casting."""
    if not mold.flash_width:
        return []
    near = plan.edge + mold.flash_gap * 1e3
    far, deep = near + mold.flash_width * 1e3, plan.parting - mold.flash_depth * 1e3
    return [
        ((0.0, min(side * near, side * far), deep),
         (plan.length, max(side * near, side * far), plan.parting))
        for side in (1, -1)
    ]


def _slot_edge(plan: Layout) -> float:
    """y from which pry slots run outwards, mm."""
    return max(plan.shoulder + 1.0, plan.half_width - 6.0)


def pry_slots(plan: Layout, mold: Mold, span: Span) -> list[Box]:
    """Slots for a lever at the parting of a cavity piece, between its outermost holes."""
    places, pitch = places_along(plan, mold, span)
    room = pitch - max(mold.dowel_diameter, mold.screw_diameter) * 1e3 - 4.0
    width = min(mold.pry_width * 1e3, room)
    if width < 4.0:
        return []
    inner = _slot_edge(plan)
    slots: list[Box] = []
    for x in sorted({float(places[0] + places[1]) / 2, float(places[-2] + places[-1]) / 2}):
        for side in (1, -1):
            low, high = sorted((side * inner, side * plan.half_width))
            slots.append(((x - width / 2, low, plan.parting),
                          (x + width / 2, high, plan.parting + mold.pry_depth * 1e3)))
    return slots


def cutting(boxes: Sequence[Box], down: bool, sideways: bool = False) -> list[Any]:
    """Solids that cut boxes out, standing over where they are open."""
    tools = []
    for (x0, y0, z0), (x1, y1, z1) in boxes:
        outward = 1.0 if sideways else 0.0
        low, high = (y0, y1 + outward) if y0 > 0 else (y0 - outward, y1)
        tools.append(box((x0, low, z0 - (0.0 if down else 1.0)),
                         (x1, high, z1 + (1.0 if down else 0.0))))
    return tools


def key_boxes(plan: Layout, mold: Mold, span: Span, core: bool) -> tuple[list[Box], list[Box]]:
    """Keys on the high-x end of a piece, and the sockets for those of the piece before it.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        span: the piece along x, mm.
        core: whether the piece is of the core.
    """
    length, slip = mold.key_length * 1e3, mold.clearance * 1e3
    ledge = (plan.half_width - plan.shoulder) / 2
    thick = plan.flange
    middle = plan.parting + (-thick / 2 if core else thick / 2)
    shapes = [
        ((side * plan.fastener, middle), (0.4 * ledge, thick / 4)) for side in (1, -1)
    ]
    if core:
        center = (plan.bottom + plan.inner) / 2
        shapes.append(((0.0, center), (plan.edge / 4, (plan.inner - plan.bottom) / 8)))
    made: list[Box] = [
        ((span.end, y - half_y, z - half_z), (span.end + length, y + half_y, z + half_z))
        for (y, z), (half_y, half_z) in shapes if span.joint_end]
    sockets: list[Box] = [
        ((span.start, y - half_y - slip, z - half_z - slip),
         (span.start + length + slip, y + half_y + slip, z + half_z + slip))
        for (y, z), (half_y, half_z) in shapes if span.joint_start]
    return made, sockets


@dataclass(frozen=True)
class JointPin:
    """A hole for a pin across a joint, along x.

    Attributes:
        x: of the joint, mm.
        y: across, mm.
        z: mm.
        diameter: mm.
        inward: 1 where the hole runs to higher x, else -1.
    """

    x: float
    y: float
    z: float
    diameter: float
    inward: int

    @property
    def depth(self) -> float:
        """Of the hole, mm."""
        return 2 * self.diameter


def joint_pins(plan: Layout, mold: Mold, span: Span, core: bool) -> list[JointPin]:
    """Holes for the pins across the joints of a piece.

    Args:
        plan: sizes of the halves, mm.
        mold: the `[mold]` table.
        span: the piece along x, mm.
        core: whether the piece is of the core.
    """
    return [JointPin(at, y, z, diameter, inward)
            for joint, at, inward in (
                (span.joint_start, span.start, 1), (span.joint_end, span.end, -1)) if joint
            for y, z, diameter in _joint_pins(plan, mold, core)]


def keys(plan: Layout, mold: Mold, span: Span, core: bool) -> tuple[list[Any], list[Any]]:
    """Solids of the keys of a piece, and of what is cut for sockets and pins at its joints."""
    made, sockets = key_boxes(plan, mold, span, core)
    cuts = [box((low[0] - 1, *low[1:]), high) for low, high in sockets]
    cuts += [pin((hole.x - hole.inward, hole.y, hole.z),
                 (hole.x + hole.inward * hole.depth, hole.y, hole.z), hole.diameter)
             for hole in joint_pins(plan, mold, span, core)]
    return [box(*key) for key in made], cuts


def _joint_pins(plan: Layout, mold: Mold, core: bool) -> list[tuple[float, float, float]]:
    """(y, z, diameter) of the pins across a joint."""
    dowel = mold.dowel_diameter * 1e3
    if core:
        room = (plan.inner - plan.bottom) / 2
        return [
            (side * plan.edge / 2, plan.bottom + plan.flange / 2, min(dowel, 0.5 * plan.flange,
                                                                      room))
            for side in (1, -1)
        ]
    return [(0.0, (plan.outer + plan.top) / 2, min(dowel, 0.5 * (plan.top - plan.outer)))]
