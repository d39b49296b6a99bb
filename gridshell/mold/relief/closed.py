"""A tube without a seam as one solid: ribs all round, with every edge shared.

The kernel's cylinder starts anew at its angle 0, so a face that crosses it needs care. Here two
halves have a cylinder surface of their own each, with angles that run on past its start; where
pockets of one half meet those of the other, an edge lies on both.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.relief.base import chain_of, shared_nodes, sides_of
from gridshell.mold.relief.faces import KERNEL_TOLERANCE, Island, Layer
from gridshell.mold.relief.outline import degree_for, fitting, on_cylinder
from gridshell.mold.relief.stream import Ids, OnSurface, ShapeStream

TURN = 2 * math.pi
_STARTS = (-math.pi / 2, math.pi / 2)  # angles of each half's faces lie within a turn from here


def half_of(angle: Array) -> Array:
    """Which half of the tube angles (rad) lie in: 0 from 0 to pi, 1 from pi to 2 pi."""
    return (np.asarray(angle) % TURN >= math.pi).astype(int)


def lay_closed_tube(
    base_radius: float, far_radius: float, length: float, islands: Sequence[Island],
    deflection: float = 0.05, turn: float = 0.4,
) -> list[Any]:
    """Faces of a whole tube, each looking out of the solid.

    Args:
        base_radius: of the rib tips, mm.
        far_radius: of the smooth side, mm.
        length: of the tube, mm.
        islands: pockets only, those of each half by themselves.
        deflection: how far the ready meshes of sides and fillets may leave them, mm.
        turn: largest angle between neighboring facets of those meshes, rad.

    Raises:
        RuntimeError: the pockets do not go all round, or touch at a corner only.
    """
    stream = ShapeStream(KERNEL_TOLERANCE)
    layer = Layer(stream, deflection, turn)
    laid = [layer.island(island) for island in islands]
    tube = _Tube(stream, layer, base_radius, far_radius, length)
    tube.base(islands, [edges.base for edges in laid])
    tube.far()
    tube.ends()
    away = [*layer.faces, *tube.base_faces]
    stream.compound(np.concatenate([*away, *tube.far_faces, *tube.end_faces]))
    children = _children(stream.read())
    inner = sum(len(ids) for ids in away)
    far = sum(len(ids) for ids in tube.far_faces)
    # Laid faces look away from the axis: right for the outer side, to be turned on the inner one.
    ribs_inside = base_radius < far_radius
    faces = [face.Reversed() if ribs_inside else face for face in children[:inner]]
    faces += [face if ribs_inside else face.Reversed() for face in children[inner:inner + far]]
    return faces + children[inner + far:]


def _children(compound: Any) -> list[Any]:
    from OCP.TopoDS import TopoDS_Iterator

    found = []
    walk = TopoDS_Iterator(compound)
    while walk.More():
        found.append(walk.Value())
        walk.Next()
    return found


def _wrapped(angle: Array, start: float) -> Array:
    """Angles within a turn from ``start``."""
    return np.asarray((np.asarray(angle) - start) % TURN + start)


class _Tube:
    """Lays what the pockets leave of a closed tube."""

    def __init__(
        self, stream: ShapeStream, layer: Layer, base_radius: float, far_radius: float,
        length: float,
    ) -> None:
        self.stream, self.layer = stream, layer
        self.base_radius, self.far_radius, self.length = base_radius, far_radius, length
        self.base_faces: list[Ids] = []
        self.far_faces: list[Ids] = []
        self.end_faces: list[Ids] = []
        self.circles: dict[tuple[float, float], Ids] = {}  # radius and x: two arcs

    def _edges(self, start: Array, end: Array, nodes: tuple[Ids, Ids], radius: float) -> Ids:
        """Edges on a cylinder between points (n, 2) of (angle, x), by the shorter way round."""
        stream = self.stream
        end = end.copy()
        end[:, 0] = start[:, 0] + (end[:, 0] - start[:, 0] + math.pi) % TURN - math.pi
        return self._along(start, end, nodes, radius, stream)

    def _along(
        self, start: Array, end: Array, nodes: tuple[Ids, Ids], radius: float, stream: ShapeStream
    ) -> Ids:
        """Edges straight in the (angle, x) plane, on the cylinders of both halves."""
        degree = degree_for(float(np.abs(end[:, 0] - start[:, 0]).max()), radius)
        parameter, matrix = fitting(degree)
        along = start[:, None, :] + (end - start)[:, None, :] * parameter[:, None]
        poles = np.einsum("ij,njk->nik", matrix, on_cylinder(along, radius))
        places = []
        for half, begin in enumerate(_STARTS):
            middle = (start[:, 0] + end[:, 0]) / 2
            shift = np.stack([_wrapped(middle, begin) - middle, np.zeros(len(middle))], axis=1)
            flat = np.stack([start + shift, end + shift], axis=1)
            places.append(OnSurface(
                stream.beziers_2d(flat), np.asarray(self.layer.cylinder(radius, half)),
                flat[:, 0], flat[:, 1]))
        return stream.edges(nodes[0], nodes[1], stream.beziers(poles), places)

    def base(self, islands: Sequence[Island], laid: Sequence[Ids]) -> None:
        """Frames round the pockets, and the lands at both ends."""
        stream = self.stream
        cells = [island.cells for island in islands if island.cells is not None]
        # Just below a whole turn is 0, whatever rounding made of it.
        points, groups = shared_nodes([
            np.stack([_wrapped(group[..., 0], -1e-8), group[..., 1]], axis=-1) for group in cells])
        sides = sides_of(groups)
        pairs, which, uses = np.unique(
            np.sort(sides, axis=1), axis=0, return_inverse=True, return_counts=True)
        which = which.ravel()
        vertices = stream.vertices(on_cylinder(points, self.base_radius))
        lines = self._edges(points[pairs[:, 0]], points[pairs[:, 1]],
                            (vertices[pairs[:, 0]], vertices[pairs[:, 1]]), self.base_radius)
        backwards = (sides[:, 0] > sides[:, 1]).astype(np.uint8)
        at = 0
        for island, nodes, edges in zip(islands, groups, laid, strict=True):
            count, k = nodes.shape
            span = slice(at, at + count * k)
            outer = stream.wires(
                lines[which[span]].reshape(count, k), backwards[span].reshape(count, k))
            inner = stream.wires(edges[:, ::-1], np.ones(edges.shape[1], np.uint8))
            self.base_faces.append(stream.faces(
                self.layer.cylinder(self.base_radius, island.half),
                np.stack([outer, inner], axis=1)))
            at += count * k
        border = sides[uses[which] == 1][:, ::-1]
        if len(np.unique(border[:, 0])) < len(border):
            raise RuntimeError("pockets of a closed tube touch at a corner only")
        edge_of = {tuple(pair): line for pair, line in zip(pairs.tolist(), lines, strict=True)}
        loops = chain_of(border)
        if len(loops) != 2:
            raise RuntimeError("the pockets of a closed tube do not go all round it")
        for loop in loops:
            self._land(loop, points, vertices, edge_of)

    def _land(
        self, loop: list[int], points: Array, vertices: Ids, edge_of: dict[tuple[int, int], int]
    ) -> None:
        """The land between a zigzag of pockets and the nearer end, as two faces."""
        stream = self.stream
        low = bool(points[loop][:, 1].mean() < self.length / 2)
        x = 0.0 if low else self.length
        angle = points[loop][:, 0]
        # The two halves part near the angles 0 and pi, at corners of the zigzag.
        first = int(np.argmin(np.abs((angle + math.pi) % TURN - math.pi)))
        loop = loop[first:] + loop[:first]
        angle = points[loop][:, 0]
        second = int(np.argmin(np.abs(angle % TURN - math.pi)))
        nodes = [loop[0], loop[second]]
        ends = np.array([[points[node][0], x] for node in nodes])
        corners = stream.vertices(on_cylinder(ends, self.base_radius))
        arcs = self._circle(ends, corners, self.base_radius)
        self.circles[(self.base_radius, x)] = arcs
        risers = self._edges(ends, points[nodes], (corners, vertices[nodes]), self.base_radius)
        # The chain runs with solid base on its left: at the low end against the angle.
        chains = [loop[:second + 1], [*loop[second:], loop[0]]]
        for half in (0, 1):
            chain = chains[half] if not low else chains[1 - half]
            steps = list(itertools.pairwise(chain))
            wire = [edge_of[(min(a, b), max(a, b))] for a, b in steps]
            turned = [int(a > b) for a, b in steps]
            one, other = (0, 1) if half == 0 else (1, 0)
            if low:  # arc with the angle, up, chain back, down
                edges = [arcs[half], risers[other], *wire, risers[one]]
                ways = [0, 0, *turned, 1]
            else:  # chain with the angle, out, arc back, in
                edges = [*wire, risers[other], arcs[half], risers[one]]
                ways = [*turned, 1, 1, 0]
            self.base_faces.append(stream.faces(
                self.layer.cylinder(self.base_radius, half),
                stream.wires(np.array([edges], np.int32), np.array([ways], np.uint8))[:, None]))

    def _circle(self, ends: Array, corners: Ids, radius: float) -> Ids:
        """Two arcs round the tube, from the first end to the second and back, with the angle."""
        start = ends[:, 0]
        second = start[0] + (start[1] - start[0]) % TURN
        starts = np.array([[start[0], ends[0, 1]], [second, ends[0, 1]]])
        stops = np.array([[second, ends[0, 1]], [start[0] + TURN, ends[0, 1]]])
        return self._along(starts, stops, (corners, corners[::-1]), radius, self.stream)

    def far(self) -> None:
        """The smooth side as two halves."""
        stream, radius = self.stream, self.far_radius
        angles = np.array([0.0, math.pi])
        rings = []
        for x in (0.0, self.length):
            ends = np.stack([angles, np.full(2, x)], axis=1)
            corners = stream.vertices(on_cylinder(ends, radius))
            self.circles[(radius, x)] = self._circle(ends, corners, radius)
            rings.append((ends, corners))
        (low, low_corners), (high, high_corners) = rings
        risers = self._edges(low, high, (low_corners, high_corners), radius)
        for half in (0, 1):
            edges = [self.circles[(radius, 0.0)][half], risers[1 - half],
                     self.circles[(radius, self.length)][half], risers[half]]
            self.far_faces.append(stream.faces(
                self.layer.cylinder(radius, half),
                stream.wires(np.array([edges], np.int32), np.array([[0, 0, 1, 1]], np.uint8)
                             )[:, None]))

    def ends(self) -> None:
        """The flat rings at both ends."""
        stream = self.stream
        inner, outer = sorted((self.base_radius, self.far_radius))
        for x, sign in ((0.0, -1.0), (self.length, 1.0)):
            # Seen from +x the angle runs counterclockwise.
            outside, inside = (
                stream.wires(
                    np.array([self.circles[(radius, x)][::way]], np.int32),
                    np.full((1, 2), int(way < 0), np.uint8))
                for radius, way in ((outer, int(sign)), (inner, -int(sign))))
            surface = stream.plane(
                np.array([x, 0.0, 0.0]), np.array([sign, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]))
            self.end_faces.append(stream.faces(
                surface, np.concatenate([outside, inside])[None, :]))
