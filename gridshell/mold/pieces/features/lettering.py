"""Text engraved in a flat face, so that a bin of molds can be told apart.

Letters are outlines of the font that matplotlib brings along, so nothing depends on the fonts of
the machine. Like the pockets they are laid as faces with shared edges, not cut by booleans.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.pieces.solids.booleans import walk
from gridshell.mold.pieces.solids.joining import face_with_holes, plane_height, solid_of
from gridshell.mold.relief.faces import KERNEL_TOLERANCE
from gridshell.mold.relief.planar import contains
from gridshell.mold.relief.stream import Ids, ShapeStream
from gridshell.wall.geometry.pockets import polygon_area

LEADING = 1.7  # line distance over the height of capitals
LETTER_GAP, WORD_SPACE = 0.2, 0.5  # over the height of capitals
COARSENESS = 0.05  # of the height of capitals: how far corners of curves may be cut


@dataclass(frozen=True)
class Plate:
    """A flat face to engrave.

    Attributes:
        axis: 0, 1, 2 for x, y, z.
        sign: the face looks along ``sign`` times the axis.
        height: its position along that axis, mm.
        center: (2,) middle of the text in the face's own two directions, mm.
        along: direction (3,) of the text.
        up: direction (3,) of its letters' tops.
        room: (2,) width and height that the text must fit in, mm.
    """

    axis: int
    sign: int
    height: float
    center: tuple[float, float, float]
    along: tuple[float, float, float]
    up: tuple[float, float, float]
    room: tuple[float, float]


def letter_loops(lines: Sequence[str], capital: float, room: tuple[float, float]) -> list[Array]:
    """Closed polygons (k, 2) of lines of text centered on (0, 0), shrunk to fit a room, mm.

    Lines that would be less than 40 % of the wanted height are not worth engraving: none then.

    Args:
        lines: of text.
        capital: height of capitals, mm.
        room: (width, height) that they must fit in, mm.
    """
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    font = FontProperties(family="DejaVu Sans")
    unit = TextPath((0, 0), "H", size=100, prop=font).get_extents().height / 100
    size = capital / unit
    placed: list[Array] = []
    for number, line in enumerate(lines):
        row, at = [], 0.0
        # Letter by letter with a clear gap: kerning would let some outlines touch.
        for letter in line:
            if letter.isspace():
                at += WORD_SPACE * capital
                continue
            path = TextPath((0, 0), letter, size=size, prop=font, usetex=False)
            polygons = [np.asarray(p)[:-1] for p in path.to_polygons(closed_only=True)]
            polygons = [polygon for polygon in polygons if len(polygon) >= 3]
            if not polygons:
                continue
            every = np.concatenate(polygons)[:, 0]
            row += [polygon + np.array([at - every.min(), 0.0]) for polygon in polygons]
            at += float(every.max() - every.min()) + LETTER_GAP * capital
        drop = ((len(lines) - 1) / 2 - number) * LEADING * capital - capital / 2
        center = np.array([-(at - LETTER_GAP * capital) / 2, drop])
        placed += [polygon + center for polygon in row]
    if not placed:
        return []
    every = np.concatenate(placed)
    need = np.abs(every).max(axis=0) * 2
    shrink = min(1.0, room[0] / need[0], room[1] / need[1])
    if shrink < 0.4:
        return []
    tidy = (_simplified(polygon * shrink, COARSENESS * capital * shrink) for polygon in placed)
    return [polygon for polygon in tidy if len(polygon) >= 3]


def _simplified(polygon: Array, tolerance: float) -> Array:
    """Fewer corners, none moved, no side farther than ``tolerance`` from those left out."""
    count = len(polygon)
    far = int(np.argmax(np.linalg.norm(polygon - polygon[0], axis=1)))
    keep = np.zeros(count, bool)
    keep[[0, far]] = True
    closed = np.concatenate([polygon, polygon[:1]])
    stack = [(0, far), (far, count)]
    while stack:
        first, last = stack.pop()
        if last - first < 2:
            continue
        a, b = closed[first], closed[last]
        side = b - a
        between = closed[first + 1:last] - a
        off = np.abs(side[0] * between[:, 1] - side[1] * between[:, 0])
        off = off / max(float(np.hypot(*side)), 1e-12)
        worst = int(np.argmax(off))
        if off[worst] > tolerance:
            middle = first + 1 + worst
            keep[middle % count] = True
            stack += [(first, middle), (middle, last)]
    return polygon[keep]


def _within(loops: Sequence[Array]) -> np.ndarray:
    """Which loop (row) holds the first point of which other (column); most are apart by far."""
    low, high = (np.array([pick(loop, axis=0) for loop in loops]) for pick in (np.min, np.max))
    first = np.array([loop[0] for loop in loops])
    near = np.all((first >= low[:, None]) & (first <= high[:, None]), axis=-1)
    np.fill_diagonal(near, False)
    for row, column in np.argwhere(near):
        near[row, column] = contains(loops[row], first[column])
    return near


def engraved(solid: Any, plate: Plate, lines: Sequence[str], capital: float, depth: float) -> Any:
    """The solid with text sunk into one of its flat faces; unchanged if there is no room.

    Args:
        solid: a kernel solid, mm.
        plate: the face.
        lines: of text.
        capital: height of capitals, mm.
        depth: of the letters, mm.
    """
    loops = letter_loops(lines, capital, plate.room) if capital > 0 else []
    if not loops:
        return solid
    stream = ShapeStream(KERNEL_TOLERANCE)
    along, up = np.array(plate.along, float), np.array(plate.up, float)
    normal = np.cross(along, up)
    center = np.array(plate.center, float)
    surface = stream.plane(center, normal, along)
    floor = stream.plane(center - depth * normal, normal, along)
    # Outer outlines run counterclockwise, holes in letters (as in O) clockwise.
    within = _within(loops)
    inner = within.sum(axis=0) % 2 == 1
    turned = [
        loop if (polygon_area(loop) > 0) != hole else loop[::-1]
        for loop, hole in zip(loops, inner, strict=True)
    ]
    rims: list[Ids] = []
    bottoms: list[Ids] = []
    faces: list[Ids] = []
    for loop in turned:
        top, bottom, walls = _walls(stream, loop, center, along, up, depth)
        rims.append(top)
        bottoms.append(bottom)
        faces.append(walls)
    holes = []
    for index, loop in enumerate(turned):
        forward = np.zeros((1, len(loop)), np.uint8)
        if inner[index]:
            # The island inside a letter stays at the height of the face.
            around = stream.wires(rims[index][None, ::-1], forward + 1)
            faces.append(stream.faces(surface, around[:, None]))
            continue
        own = [int(i) for i in np.flatnonzero(within[index] & inner)]
        wires = [stream.wires(bottoms[i][None], np.zeros((1, len(turned[i])), np.uint8))
                 for i in (index, *own)]
        faces.append(stream.faces(floor, np.concatenate(wires)[None, :]))
        holes.append(stream.wires(rims[index][None, ::-1], forward + 1))
    stream.compound(np.concatenate([*faces, *holes]))
    return _joined(solid, plate, stream, sum(len(f) for f in faces))


def _walls(
    stream: ShapeStream, loop: Array, center: Array, along: Array, up: Array, depth: float
) -> tuple[Ids, Ids, Ids]:
    """Upper edges, lower edges and side faces of one outline."""
    normal = np.cross(along, up)
    rim = center + loop[:, :1] * along + loop[:, 1:] * up
    after = np.roll(rim, -1, axis=0)
    high, low = stream.vertices(rim), stream.vertices(rim - depth * normal)
    side = after - rim
    length = np.linalg.norm(side, axis=1)
    unit = side / length[:, None]
    down = np.broadcast_to(-normal, unit.shape)
    top = stream.edges(high, np.roll(high, -1), stream.lines(rim, unit), [], length)
    bottom = stream.edges(
        low, np.roll(low, -1), stream.lines(rim - depth * normal, unit), [], length
    )
    drop = stream.edges(high, low, stream.lines(rim, down), [], np.full(len(loop), depth))
    # Seen from inside the letter, which is where the walls look.
    inwards = np.cross(np.broadcast_to(normal, unit.shape), unit)
    planes = stream.planes(rim, inwards, unit)
    around = stream.wires(
        np.stack([top, drop, bottom, np.roll(drop, -1)], axis=1), np.array([0, 1, 1, 0])
    )
    return top, bottom, stream.faces(planes, around[:, None])


def _joined(solid: Any, plate: Plate, stream: ShapeStream, count: int) -> Any:
    from OCP.TopoDS import TopoDS_Iterator

    laid = []
    compound = stream.read()  # kept by name: the iterator only borrows it
    children = TopoDS_Iterator(compound)
    while children.More():
        laid.append(children.Value())
        children.Next()
    faces, found = [], False
    for face in walk(solid, "face"):
        height = plane_height(face, plate.axis, plate.sign)
        if height is not None and abs(height - plate.height) < 1e-6 and not found and _holds(
            face, plate.center
        ):
            found = True
            face = _sunk(face, laid[count:])
        faces.append(face)
    if not found:
        raise RuntimeError("no flat face to engrave")
    return solid_of([*faces, *laid[:count]])


def _sunk(face: Any, holes: Sequence[Any]) -> Any:
    """The flat face with the letters' rims as holes, whichever way its plane looks."""
    from OCP.TopAbs import TopAbs_Orientation

    # The rims run clockwise seen from outside the solid; a reversed plane sees them the other way.
    if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
        holes = [hole.Reversed() for hole in holes]
    return face_with_holes(face, holes)


def _holds(face: Any, point: tuple[float, float, float]) -> bool:
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib
    from OCP.gp import gp_Pnt

    bounds = Bnd_Box()
    BRepBndLib.Add_s(face, bounds)
    bounds.Enlarge(1e-3)
    return not bounds.IsOut(gp_Pnt(*point))
