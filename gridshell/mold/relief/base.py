"""The base cylinder between and around pockets: frames, solid patches, and the outer border.

Every pocket owns the piece of base inside its rib center lines. Where solid base is enclosed by
pockets it becomes a face of its own; what is left bounds the land outside.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.relief.outline import degree_for, fitting, on_cylinder
from gridshell.mold.relief.planar import contains, signed_area
from gridshell.mold.relief.stream import Ids, OnSurface, ShapeStream


class BaseLayer:
    """Lays the base around the pockets into a stream.

    Attributes:
        faces: ids of the faces laid, in groups.
    """

    def __init__(
        self, stream: ShapeStream, radius: float, cylinder: Callable[[float], int]
    ) -> None:
        self.stream, self.radius, self._cylinder = stream, radius, cylinder
        self.faces: list[Ids] = []

    def lay(
        self, owned: Sequence[tuple[Array, Ids]], free: Sequence[tuple[Array, Ids]]
    ) -> list[Ids]:
        """Frames round the pockets, solid patches between them; wires of the outer border.

        Args:
            owned: of each group of pockets the corners (n, k, 2) of their pieces of base,
                (angle, x) in rad and mm, and their edges (n, m) on it.
            free: of each group of cut-outs their outlines (n, m, 2) and edges (n, m).

        Returns:
            wires, clockwise on the base, that bound the land outside.

        Raises:
            RuntimeError: pieces of base overlap.
        """
        stream = self.stream
        pinned = [
            (outline.mean(axis=0),
             stream.wires(row[None, ::-1], np.ones(len(row), np.uint8)))
            for outlines, rows in free for outline, row in zip(outlines, rows, strict=True)
        ]
        if not owned:
            return [wire for _, wire in pinned]
        points, cell_nodes = _nodes([cells for cells, _ in owned])
        sides = np.concatenate([
            np.stack([nodes, np.roll(nodes, -1, axis=1)], axis=2).reshape(-1, 2)
            for nodes in cell_nodes
        ])
        low_high = np.sort(sides, axis=1)
        pairs, which, uses = np.unique(
            low_high, axis=0, return_inverse=True, return_counts=True
        )
        which = which.ravel()
        if uses.max() > 2:
            raise RuntimeError("cells of the rib pattern overlap")
        lines = self._center_lines(points, pairs)
        backwards = (sides[:, 0] > sides[:, 1]).astype(np.uint8)
        at = 0
        for nodes, (_, base) in zip(cell_nodes, owned, strict=True):
            count, k = nodes.shape
            span = slice(at, at + count * k)
            outer = stream.wires(
                lines[which[span]].reshape(count, k), backwards[span].reshape(count, k)
            )
            inner = stream.wires(base[:, ::-1], np.ones(base.shape[1], np.uint8))
            self.faces.append(stream.faces(
                self._cylinder(self.radius), np.stack([outer, inner], axis=1)
            ))
            at += count * k
        # Sides used once face solid base; walk them with that base on the left.
        once = uses[which] == 1
        loops = _chain(sides[once][:, ::-1], points)
        edge_of = {tuple(pair): line for pair, line in zip(pairs.tolist(), lines, strict=True)}
        return self._surround(loops, points, edge_of, pinned)

    def _center_lines(self, points: Array, pairs: Ids) -> Ids:
        stream = self.stream
        vertices = stream.vertices(on_cylinder(points, self.radius))
        start, end = points[pairs[:, 0]], points[pairs[:, 1]]
        degree = degree_for(float(np.abs(end[:, 0] - start[:, 0]).max()), self.radius)
        parameter, matrix = fitting(degree)
        along = start[:, None, :] + (end - start)[:, None, :] * parameter[:, None]
        poles = np.einsum("ij,njk->nik", matrix, on_cylinder(along, self.radius))
        place = OnSurface(
            stream.beziers_2d(np.stack([start, end], axis=1)),
            np.asarray(self._cylinder(self.radius)), start, end,
        )
        return stream.edges(
            vertices[pairs[:, 0]], vertices[pairs[:, 1]], stream.beziers(poles), [place]
        )

    def _surround(
        self, loops: list[list[int]], points: Array,
        edge_of: dict[tuple[int, int], int], pinned: list[tuple[Array, Ids]],
    ) -> list[Ids]:
        """Faces of solid base enclosed by pockets; what is left bounds the land outside."""
        stream = self.stream
        wires, areas = [], []
        for loop in loops:
            pairs = list(zip(loop, loop[1:] + loop[:1], strict=True))
            edges = [edge_of[(min(a, b), max(a, b))] for a, b in pairs]
            wires.append(stream.wires(
                np.array([edges], np.int32), np.array([[a > b for a, b in pairs]], np.uint8)
            ))
            areas.append(signed_area(points[loop]))
        patches = sorted(
            (i for i, area in enumerate(areas) if area > 0), key=lambda i: areas[i]
        )
        inside: dict[int, list[Ids]] = {i: [] for i in patches}
        outside: list[Ids] = []
        holes = [
            (points[loop[0]] * 0.999 + points[loop].mean(axis=0) * 0.001, wires[i], -areas[i])
            for i, loop in enumerate(loops) if areas[i] <= 0
        ]
        holes += [(center, wire, 0.0) for center, wire in pinned]
        for point, wire, area in holes:
            owner = next((
                i for i in patches if areas[i] > area and contains(points[loops[i]], point)
            ), None)
            (outside if owner is None else inside[owner]).append(wire)
        for i in patches:
            together = np.concatenate([wires[i], *inside[i]])
            self.faces.append(stream.faces(self._cylinder(self.radius), together[None, :]))
        return outside


def _nodes(groups: Sequence[Array]) -> tuple[Array, list[Ids]]:
    """Corners that coincide become one: points (p, 2), and for each group its indices (n, k)."""
    flat = np.concatenate([cells.reshape(-1, 2) for cells in groups])
    # Angles are below a few radians and lengths below a few meters: both to 1e-7 of a unit step.
    # The odd offset keeps round lengths away from the edge between two steps.
    keys = np.floor(flat * np.array([1e7, 1e5]) + 0.3183).astype(np.int64)
    _, first, index = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    index = index.ravel()
    result, at = [], 0
    for cells in groups:
        size = cells.shape[0] * cells.shape[1]
        result.append(index[at:at + size].reshape(cells.shape[:2]))
        at += size
    return flat[first], result


def _chain(arrows: Ids, points: Array) -> list[list[int]]:
    """Closed loops of nodes from directed sides, turning left as sharply as can be at a node.

    Where solid base touches itself at a node, the sharp turn keeps the two pieces apart.
    """
    leaving: dict[int, list[int]] = {}
    for number, (start, _) in enumerate(arrows.tolist()):
        leaving.setdefault(start, []).append(number)
    follows = np.empty(len(arrows), int)
    for number, (start, end) in enumerate(arrows.tolist()):
        choices = leaving[end]
        if len(choices) == 1:
            follows[number] = choices[0]
            continue
        back = points[start] - points[end]
        turns = [_clockwise(back, points[arrows[c, 1]] - points[end]) for c in choices]
        follows[number] = choices[int(np.argmin(turns))]
    loops, seen = [], np.zeros(len(arrows), bool)
    for first in range(len(arrows)):
        loop, here = [], first
        while not seen[here]:
            seen[here] = True
            loop.append(int(arrows[here, 0]))
            here = int(follows[here])
        if loop:
            loops.append(loop)
    return loops


def _clockwise(start: Array, end: Array) -> float:
    """Angle from one direction to another turning clockwise, in (0, 2 pi]."""
    angle = math.atan2(start[1], start[0]) - math.atan2(end[1], end[0])
    return angle % (2 * math.pi) or 2 * math.pi
