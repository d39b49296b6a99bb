"""A core in pieces that each pull straight: keys first, then what stands between them.

The ring that carries the ribs is cut along its length into pieces, keys and wide ones in turn. What
holds it from inside goes first: the body of a half shell drops away, the tapered arbor of a tube
without a seam is drawn out along it. Then each key, whose sides close on its pull with a lean of
`SHUT_OFF`, moves towards the axis, and last the wide pieces, which have room on both sides by then.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array
from gridshell.mold.pieces.layout import Layout
from gridshell.mold.pieces.solids.booleans import walk

SHUT_OFF = math.radians(1.0)  # lean of the faces between pieces, so that they part at once
MOST_PIECES = 17  # of a core; more are not handled one by one (common practice, no source)
FEWEST, FEWEST_ROUND = 3, 6  # of a half shell, and of a tube without a seam
SPARE = 1.0  # mm, that a piece moves beyond the depth of its grooves


@dataclass(frozen=True)
class CorePiece:
    """One piece of a core that slides.

    Attributes:
        number: from 1, in the order round the core.
        angle: of its middle, from +y, rad.
        half: half of the angle that it takes at the base, rad.
        key: whether it goes before its neighbors.
    """

    number: int
    angle: float
    half: float
    key: bool

    @property
    def outward(self) -> Array:
        """Unit vector (3,) from the axis to its middle; it is pulled the other way."""
        return np.array([0.0, math.cos(self.angle), math.sin(self.angle)])


def core_pieces(half_angle: float, count: int) -> tuple[CorePiece, ...]:
    """The pieces of a core, wide ones and keys in turn.

    Args:
        half_angle: of the casting as seen from the axis, rad; pi for a tube without a seam.
        count: of pieces: odd for a casting with edges, even round a tube.

    >>> [piece.key for piece in core_pieces(math.pi / 2, 3)]
    [False, True, False]
    """
    half = half_angle / count
    # From the edge at the right; round a tube the middle of the first piece is there.
    first = math.pi / 2 - half_angle + (half if half_angle < math.pi - 1e-9 else 0.0)
    return tuple(
        CorePiece(number + 1, first + 2 * half * number, half, number % 2 == 1)
        for number in range(count)
    )


def counts_to_try(half_angle: float) -> range:
    """Numbers of pieces that a core may have.

    Args:
        half_angle: of the casting, rad; pi for a tube without a seam.
    """
    closed = half_angle > math.pi - 1e-9
    return range(FEWEST_ROUND if closed else FEWEST, MOST_PIECES + 1, 2)


def piece_at(pieces: Sequence[CorePiece], base: float, angle: Array, radius: float) -> Array:
    """Index of the piece that a place at an angle (from +y, rad) and a radius belongs to.

    Args:
        pieces: of the core.
        base: radius at the rib tips, mm.
        angle: (n,) from +y, rad.
        radius: of the places, mm.
    """
    angle = np.asarray(angle, float)
    nearest = np.stack([np.cos(angle - piece.angle) for piece in pieces]).argmax(axis=0)
    for index, piece in enumerate(pieces):
        if piece.key:
            away = angle - piece.angle
            room = _half_width(piece, base, radius * np.cos(away))
            held = (np.abs(radius * np.sin(away)) <= room) & (np.cos(away) > 0)
            # Beside a key, but not within it: its neighbor on that side.
            count = len(pieces)
            beside = np.where(np.sin(away) > 0, (index + 1) % count, (index - 1) % count)
            nearest = np.where(held, index, np.where(nearest == index, beside, nearest))
    return nearest


def _half_width(piece: CorePiece, base: float, outward: Array | float) -> Array:
    """Half of a key's width at a distance from the axis along its pull, mm."""
    return np.asarray(base * math.sin(piece.half) + math.tan(SHUT_OFF) * (
        base * math.cos(piece.half) - np.asarray(outward)))


def joint_place(piece: CorePiece, base: float, side: float, outward: float) -> Array:
    """A point (3,) of the joint on one side of a key, mm; x is 0.

    Args:
        piece: a key.
        base: radius at the rib tips, mm.
        side: 1 or -1.
        outward: distance from the axis along the key's pull, mm.
    """
    across = np.array([0.0, -math.sin(piece.angle), math.cos(piece.angle)])
    return np.asarray(
        piece.outward * outward + across * side * float(_half_width(piece, base, outward)))


def travel(plan: Layout) -> float:
    """How far a piece moves until its pockets are clear of the part, mm."""
    return abs(plan.floor - plan.base) + SPARE


def sliding_wall(plan: Layout, stated: float | None) -> float:
    """Thickness of the ring of sliding pieces under the ribs, mm.

    Args:
        plan: sizes of the halves, mm.
        stated: `mold.core_wall`, mm; None: 0.3 of the radius, at least 6 mm.

    Raises:
        InputError: no room is left inside.
    """
    least = max(travel(plan), 4.0)
    most = plan.inner - least
    wall = max(6.0, 0.3 * plan.inner) if stated is None else stated
    if most < 3.0:
        raise InputError(
            f"mold.core: a bore of {2 * plan.inner:.1f} mm leaves no room for sliding pieces; use "
            "mold.core = 'rubber' or a larger tube.outside_diameter"
        )
    if stated is not None and not 3.0 <= wall <= min(most, 0.4 * plan.inner):
        raise InputError(
            f"mold.core_wall: {wall:g} mm; sliding pieces in a bore of {2 * plan.inner:.1f} mm "
            f"take 3 to {min(most, 0.4 * plan.inner):.1f} mm"
        )
    return min(wall, most, 0.4 * plan.inner)


def split_ring(
    ring: Any, plan: Layout, pieces: Sequence[CorePiece], wall: float
) -> list[Any]:
    """A ring with its ribs cut into pieces, in their order.

    Args:
        ring: the solid between the body and the base, ribs laid.
        plan: sizes of the halves, mm.
        pieces: from `core_pieces`.
        wall: thickness of the ring, mm.

    Raises:
        RuntimeError: the kernel did not cut it into that many pieces.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Splitter
    from OCP.TopTools import TopTools_ListOfShape

    arguments, tools = TopTools_ListOfShape(), TopTools_ListOfShape()
    arguments.Append(ring)
    for face in _joint_faces(plan, pieces, wall):
        tools.Append(face)
    engine = BRepAlgoAPI_Splitter()
    engine.SetArguments(arguments)
    engine.SetTools(tools)
    engine.Build()
    if not engine.IsDone():
        raise RuntimeError("the kernel could not cut the core into pieces")
    found: dict[int, list[Any]] = {}
    middle_radius = plan.base - wall / 2
    for solid in walk(engine.Shape(), "solid"):
        angle = _angle_of(solid)
        index = int(piece_at(pieces, plan.base, np.array([angle]), middle_radius)[0])
        found.setdefault(index, []).append(solid)
    if sorted(found) != list(range(len(pieces))) or any(len(s) > 1 for s in found.values()):
        raise RuntimeError(
            f"the kernel cut the core into {sum(map(len, found.values()))} pieces, not "
            f"{len(pieces)}; state another mold.core_pieces"
        )
    return [found[index][0] for index in range(len(pieces))]


def _angle_of(solid: Any) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, found)
    middle = found.CentreOfMass()
    return math.atan2(middle.Z(), middle.Y())


def _joint_faces(plan: Layout, pieces: Sequence[CorePiece], wall: float) -> list[Any]:
    """Plane faces along both sides of each key, from inside the ring to beyond the pockets."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
    from OCP.gp import gp_Pnt

    faces = []
    low, high = 0.3 * (plan.base - wall), max(plan.base, plan.floor) + 5.0
    for piece in pieces:
        if not piece.key:
            continue
        for side in (1.0, -1.0):
            outline = BRepBuilderAPI_MakePolygon()
            for x, out in (
                (plan.start - 1, low), (plan.end + 1, low), (plan.end + 1, high),
                (plan.start - 1, high),
            ):
                outline.Add(gp_Pnt(x, *joint_place(piece, plan.base, side, out)[1:]))
            outline.Close()
            faces.append(BRepBuilderAPI_MakeFace(outline.Wire(), True).Face())
    return faces
