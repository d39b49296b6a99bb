"""The base cylinder between and around pockets: frames, solid patches, and the outer border.

Every pocket owns the piece of base inside its rib center lines. Where solid base is enclosed by
pockets it becomes a face of its own; what is left bounds the land outside.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.relief.outline import degree_for, fitting, on_cylinder
from gridshell.mold.relief.planar import contains
from gridshell.mold.relief.stream import Ids, OnSurface, ShapeStream
from gridshell.wall.geometry.pockets import polygon_area


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
        self, owned: Sequence[tuple[Array, Ids]], free: Sequence[tuple[Array, Ids]], width: float
    ) -> list[Ids]:
        """Frames round the pockets, solid patches between them; wires of the outer border.

        Args:
            owned: of each group of pockets the corners (n, k, 2) of their pieces of base,
                (angle, x) in rad and mm, and their edges (n, m) on it.
            free: of each group of cut-outs their outlines (n, m, 2) and edges (n, m).
            width: of the ribs on the base, mm.

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
        points, cell_nodes = shared_nodes([cells for cells, _ in owned])
        points, cell_nodes = _apart(points, cell_nodes, width / 4, self.radius)
        sides = sides_of(cell_nodes)
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
        loops = chain_of(sides[once][:, ::-1])
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
            areas.append(float(polygon_area(points[loop])))
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


def shared_nodes(groups: Sequence[Array]) -> tuple[Array, list[Ids]]:
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


def _apart(
    points: Array, groups: list[Ids], step: float, radius: float
) -> tuple[Array, list[Ids]]:
    """Give pockets that touch at a corner only a corner each, moved into their own pieces of base.

    A face whose outline meets itself at a point is none to the kernel. The base is one cylinder on
    either side of the center lines, so moving a corner within the rib changes no surface.

    Args:
        points: (p, 2) corners (angle, x).
        groups: of each shape of pocket the corners of its pieces of base (n, k).
        step: how far a corner moves, mm; less than half a rib.
        radius: of the base, mm.
    """
    sides = sides_of(groups)
    _, which, uses = np.unique(
        np.sort(sides, axis=1), axis=0, return_inverse=True, return_counts=True
    )
    border = np.bincount(sides[uses[which.ravel()] == 1, 0], minlength=len(points))
    before, groups, extra = groups, [nodes.copy() for nodes in groups], []
    unroll = np.array([radius, 1.0])
    for node in np.flatnonzero(border > 1):
        here = [(g, i, j) for g, nodes in enumerate(groups)
                for i, j in np.argwhere(nodes == node).tolist()]
        for fan in _fans(before, here):
            middle = np.mean([points[before[g][i]].mean(axis=0) for g, i, _ in fan], axis=0)
            way = (middle - points[node]) * unroll
            extra.append(points[node] + way / np.linalg.norm(way) * step / unroll)
            for g, i, j in fan:
                groups[g][i, j] = len(points) + len(extra) - 1
    return np.concatenate([points, np.array(extra).reshape(-1, 2)]), groups


def _fans(
    groups: list[Ids], here: list[tuple[int, int, int]]
) -> list[list[tuple[int, int, int]]]:
    """Pockets round a corner, together where one shares a side with the next."""
    fans: list[tuple[set[int], list[tuple[int, int, int]]]] = []
    for g, i, j in here:
        row = groups[g][i]
        ends, members = {int(row[j - 1]), int(row[(j + 1) % len(row)])}, [(g, i, j)]
        for fan in [fan for fan in fans if fan[0] & ends]:
            fans.remove(fan)
            ends, members = ends | fan[0], members + fan[1]
        fans.append((ends, members))
    return [members for _, members in fans]


def sides_of(groups: Sequence[Ids]) -> Ids:
    """Sides (s, 2) of the pieces of base, from corner to corner."""
    return np.concatenate([
        np.stack([nodes, np.roll(nodes, -1, axis=1)], axis=2).reshape(-1, 2) for nodes in groups
    ])


def chain_of(arrows: Ids) -> list[list[int]]:
    """Closed loops of nodes from directed sides; exactly one leaves each node."""
    follows = dict(arrows.tolist())
    loops = []
    while follows:
        here = next(iter(follows))
        loop = []
        while here in follows:
            loop.append(here)
            here = follows.pop(here)
        loops.append(loop)
    return loops
