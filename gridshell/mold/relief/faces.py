"""The ribbed side of a wall as faces: groove floor, pocket sides, fillets, pocket tops.

One sheet serves part and mold alike: the part's rib tips lie on its base cylinder and pockets go
from there towards the skin; the core (or cavity) that casts it has the same faces seen from the
other side. Every face is laid with shared edges by `ShapeStream`: around each pocket a frame of
the base cylinder bounded by the rib center lines, a ruled face along each side and corner, a
fillet of circular section, and the pocket's top. No face has more than one hole, so time grows
in proportion to the number of pockets.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.relief.outline import Loops, degree_for, edge_degree, fitting, on_cylinder
from gridshell.mold.relief.stream import Ids, OnSurface, ShapeStream

KERNEL_TOLERANCE = 5e-6  # mm, above `CURVE_ERROR`


@dataclass(frozen=True)
class Station:
    """Outlines at one radius.

    Attributes:
        loops: the outlines, their hoop coordinate as length at ``radius``, mm.
        radius: mm.
        pull: None, or the outlines' weight as the middle of a fillet's section.
    """

    loops: Loops
    radius: float
    pull: float | None = None


@dataclass(frozen=True)
class Island:
    """Alike pockets (or cut-outs) from the base cylinder to another radius.

    Attributes:
        stations: from the base to the far end; a station with ``pull`` shapes a fillet only.
        cells: (n, k, 2) corners (angle, x) of the piece of base that each one owns; None for
            cut-outs, which lie in whatever solid base is around them.
        open: no face at the far end; its edges are handed out instead.
    """

    stations: tuple[Station, ...]
    cells: Array | None
    open: bool = False


@dataclass
class Sheet:
    """The laid faces, as kernel shapes.

    Attributes:
        faces: every face, oriented away from the tube's axis.
        holes: wires, clockwise on the base, that bound the surrounding base face.
        far_holes: wires, clockwise at the far radius, of islands left open.
        base, far: the kernel cylinders that those wires have parameter curves on.
    """

    faces: list[Any] = field(default_factory=list)
    holes: list[Any] = field(default_factory=list)
    far_holes: list[Any] = field(default_factory=list)
    base: Any = None
    far: Any = None


@dataclass(frozen=True)
class _Laid:
    """Edges of one group at the base and at the far end, (n, m)."""

    base: Ids
    far: Ids


def lay_sheet(
    base_radius: float, islands: Sequence[Island], deflection: float = 0.05, turn: float = 0.4
) -> Sheet:
    """Lay the faces of all islands and of the base around them, up to its outer border.

    Args:
        base_radius: of the cylinder at the rib tips, mm.
        islands: pockets first, cut-outs after.
        deflection: how far the ready meshes of sides and fillets may leave them, mm.
        turn: largest angle between neighboring facets of those meshes, rad.
    """
    stream = ShapeStream(KERNEL_TOLERANCE)
    layer = _Layer(stream, base_radius, deflection, turn)
    laid = [layer.island(island) for island in islands]
    hole_wires = layer.base(islands, laid)
    far_wires = [
        stream.wires(edges.far[:, ::-1], np.ones(edges.far.shape[1], np.uint8))
        for island, edges in zip(islands, laid, strict=True) if island.open
    ]
    counts = (
        sum(len(ids) for ids in layer.faces), len(hole_wires), sum(len(w) for w in far_wires)
    )
    # Faces without wires carry the two cylinders out of the stream.
    far_radius = next((i.stations[-1].radius for i in islands if i.open), base_radius)
    carriers = [
        stream.faces(layer.cylinder(radius), np.zeros((1, 0), np.int32))
        for radius in (base_radius, far_radius)
    ]
    groups = [*carriers, *layer.faces, *hole_wires, *far_wires]
    stream.compound(np.concatenate(groups))
    return _split(stream.read(), counts)


def _split(compound: Any, counts: tuple[int, int, int]) -> Sheet:
    from OCP.BRep import BRep_Tool
    from OCP.TopoDS import TopoDS, TopoDS_Iterator

    children = []
    walk = TopoDS_Iterator(compound)
    while walk.More():
        children.append(walk.Value())
        walk.Next()
    base, far = (BRep_Tool.Surface_s(TopoDS.Face_s(face)) for face in children[:2])
    first, second = 2 + counts[0], 2 + counts[0] + counts[1]
    return Sheet(children[2:first], children[first:second], children[second:], base, far)


@dataclass(frozen=True)
class _Band:
    """Patches between two stations: ids (n, m), their meshes, the nodes along their four sides
    (by edge and side), and the curves that rise at the starts of the edges (by edge)."""

    patches: Ids
    meshes: Ids
    polylines: list[list[int]]
    rising: list[Ids]


def _section(parameter: Array, weight: Array | None) -> Array:
    """Shares (p, rows) of the rows of poles at parameters across a band."""
    t = parameter[:, None]
    if weight is None:
        return np.concatenate([1 - t, t], axis=1)
    share = np.concatenate([(1 - t) ** 2, 2 * t * (1 - t), t**2], axis=1) * weight
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def _fillet_size(rows: Sequence[Station]) -> float:
    """Radius of a fillet's section from its height on the wall and its half sweep, mm."""
    pull = rows[1].pull
    assert pull is not None
    half = math.acos(pull)
    # The wall is tangent at `size tan(half)` from the corner, leaning by 90 deg - 2 half.
    return abs(rows[0].radius - rows[2].radius) / (math.tan(half) * math.sin(2 * half))


class _Layer:
    """Lays faces into a stream; keeps what several of them share."""

    def __init__(
        self, stream: ShapeStream, base_radius: float, deflection: float, turn: float
    ) -> None:
        self.stream = stream
        self.base_radius = base_radius
        self.deflection, self.turn = deflection, turn
        self.faces: list[Ids] = []
        self._cylinders: dict[float, int] = {}  # by radius
        # The four sides of a patch's parameter square: v=0, v=1, u=0, u=1.
        self._square = stream.lines_2d(
            np.array([[0, 0], [0, 1], [0, 0], [1, 0]], float),
            np.array([[1, 0], [1, 0], [0, 1], [0, 1]], float),
        )

    def cylinder(self, radius: float) -> int:
        # The same radius found in two ways may differ in the last digit.
        key = round(radius, 7)
        if key not in self._cylinders:
            self._cylinders[key] = self.stream.cylinder(radius)
        return self._cylinders[key]

    def _patch_side(self, side: int, band: _Band, edge: int) -> OnSurface:
        """Edges along one side of a band's patches: 0 bottom, 1 top, 2 left, 3 right."""
        ends = ([[0, 0], [1, 0]], [[0, 1], [1, 1]], [[0, 0], [0, 1]], [[1, 0], [1, 1]])[side]
        start, end = np.array(ends, float)
        return OnSurface(
            self._square[side], band.patches[:, edge], start, end,
            band.polylines[edge][side], band.meshes[:, edge],
        )

    def _band(
        self, rows: Sequence[Station], poles: list[list[Array]], steps: list[int]
    ) -> _Band:
        """Patches between two stations; with a third between them, a fillet."""
        stream, m = self.stream, len(steps)
        weight, up = None, 1
        if len(rows) == 3:
            pull = rows[1].pull
            assert pull is not None
            weight = np.array([1.0, pull, 1.0])
            up = self._steps(2 * math.acos(pull), _fillet_size(rows))
        patches, meshes, polylines, rising = [], [], [], []
        across = _section(np.linspace(0, 1, up + 1), weight)
        for j in range(m):
            net = [row[j] for row in poles]
            patches.append(stream.bezier_surfaces(np.stack(net, axis=2), weight))
            rising.append(stream.beziers(np.stack([row[:, 0] for row in net], axis=1), weight))
            along = np.linspace(0, 1, steps[j] + 1)
            curves = np.stack([
                on_cylinder(s.loops.points(j, along) / np.array([s.radius, 1.0]), s.radius)
                for s in rows
            ], axis=2)
            meshes.append(stream.grids(
                np.einsum("vr,nurc->nuvc", across, curves), self.deflection
            ))
            node = np.arange((steps[j] + 1) * (up + 1)).reshape(steps[j] + 1, up + 1) + 1
            polylines.append([
                stream.polyline(side, self.deflection)
                for side in (node[:, 0], node[:, -1], node[0], node[-1])
            ])
        return _Band(np.stack(patches, axis=1), np.stack(meshes, axis=1), polylines, rising)

    def _steps(self, sweep: float, radius: float) -> int:
        """Chords that follow an arc within the deflection and the turn."""
        sagitta = min(self.deflection / radius, 1.0)
        return max(1, math.ceil(sweep / min(2 * math.acos(1 - sagitta), self.turn)))

    def _edge_steps(self, stations: Sequence[Station], edge: int) -> int:
        counts = []
        for station in stations:
            loops = station.loops
            after = (edge + 1) % len(loops.arc)
            round_ = np.abs(loops.start[:, edge, 0] - loops.start[:, after, 0]).max()
            counts.append(self._steps(float(round_) / station.radius, station.radius))
            if loops.arc[edge] and loops.radius > 0:
                counts.append(self._steps(float(loops.sweep[:, edge].max()), loops.radius))
        return max(counts)

    # --- one group of pockets -----------------------------------------------------------------

    def island(self, island: Island) -> _Laid:
        stream, stations = self.stream, island.stations
        loops = stations[0].loops
        count, m = loops.start.shape[:2]
        degrees = [max(edge_degree(s.loops, j, s.radius) for s in stations) for j in range(m)]
        poles = [
            [self._poles(s, j, degrees[j]) for j in range(m)] for s in stations
        ]
        real = [i for i, s in enumerate(stations) if s.pull is None]
        corners = [
            stream.vertices(on_cylinder(
                self._angles(stations[i]).reshape(-1, 2), stations[i].radius
            )).reshape(count, m)
            for i in real
        ]
        # The patches of each band first, then the edges that bound them.
        steps = [self._edge_steps(stations, j) for j in range(m)]
        bands = [
            self._band(stations[low:high + 1], poles[low:high + 1], steps)
            for low, high in itertools.pairwise(real)
        ]
        level_edges = [
            np.stack([
                self._level_edge(stations[i], j, poles[i][j], corners[number], bands, number,
                                 i in (real[0], real[-1]))
                for j in range(m)
            ], axis=1)
            for number, i in enumerate(real)
        ]
        for number, band in enumerate(bands):
            rising = np.stack([
                stream.edges(
                    corners[number][:, j], corners[number + 1][:, j], band.rising[j],
                    [self._patch_side(2, band, j), self._patch_side(3, band, j - 1)],
                )
                for j in range(m)
            ], axis=1)
            around = np.stack([
                level_edges[number], np.roll(rising, -1, axis=1), level_edges[number + 1], rising,
            ], axis=2).reshape(-1, 4)
            wires = stream.wires(around, np.array([0, 0, 1, 1]))
            self.faces.append(stream.faces(
                band.patches.ravel(), wires[:, None], band.meshes.ravel()
            ))
        if not island.open:
            top = stream.wires(level_edges[-1], np.zeros(m, np.uint8))
            self.faces.append(stream.faces(self.cylinder(stations[-1].radius), top[:, None]))
        return _Laid(level_edges[0], level_edges[-1])

    def _angles(self, station: Station) -> Array:
        """Starts of the edges in (angle, x)."""
        return np.asarray(station.loops.start / np.array([station.radius, 1.0]))

    def _poles(self, station: Station, edge: int, degree: int) -> Array:
        parameter, matrix = fitting(degree)
        points = station.loops.points(edge, parameter) / np.array([station.radius, 1.0])
        return np.einsum("ij,njk->nik", matrix, on_cylinder(points, station.radius))

    def _level_edge(
        self, station: Station, edge: int, poles: Array, corners: Ids, bands: list[_Band],
        number: int, on_base: bool,
    ) -> Ids:
        stream, m = self.stream, corners.shape[1]
        places = []
        if on_base:
            unroll = np.array([station.radius, 1.0])
            degree = poles.shape[1] - 1 if station.loops.arc[edge] else 1
            parameter, matrix = fitting(degree)
            flat = np.einsum(
                "ij,njk->nik", matrix, station.loops.points(edge, parameter) / unroll
            )
            places.append(OnSurface(
                stream.beziers_2d(flat), np.asarray(self.cylinder(station.radius)),
                flat[:, 0], flat[:, -1],
            ))
        if number < len(bands):
            places.append(self._patch_side(0, bands[number], edge))
        if number > 0:
            places.append(self._patch_side(1, bands[number - 1], edge))
        return stream.edges(
            corners[:, edge], corners[:, (edge + 1) % m], stream.beziers(poles), places
        )

    # --- the base between and around them -----------------------------------------------------

    def base(self, islands: Sequence[Island], laid: Sequence[_Laid]) -> list[Ids]:
        """Frames round the pockets, solid patches between them; wires of the outer border."""
        stream = self.stream
        owned = [
            (island.cells, edges.base) for island, edges in zip(islands, laid, strict=True)
            if island.cells is not None and len(island.cells)
        ]
        free = [
            (self._angles(island.stations[0]), edges.base)
            for island, edges in zip(islands, laid, strict=True) if island.cells is None
        ]
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
                self.cylinder(self.base_radius), np.stack([outer, inner], axis=1)
            ))
            at += count * k
        # Sides used once face solid base; walk them with that base on the left.
        once = uses[which] == 1
        loops = _chain(sides[once][:, ::-1], points)
        edge_of = {tuple(pair): line for pair, line in zip(pairs.tolist(), lines, strict=True)}
        return self._surround(loops, points, edge_of, pinned)

    def _center_lines(self, points: Array, pairs: Ids) -> Ids:
        stream = self.stream
        vertices = stream.vertices(on_cylinder(points, self.base_radius))
        start, end = points[pairs[:, 0]], points[pairs[:, 1]]
        degree = degree_for(float(np.abs(end[:, 0] - start[:, 0]).max()), self.base_radius)
        parameter, matrix = fitting(degree)
        along = start[:, None, :] + (end - start)[:, None, :] * parameter[:, None]
        poles = np.einsum("ij,njk->nik", matrix, on_cylinder(along, self.base_radius))
        place = OnSurface(
            stream.beziers_2d(np.stack([start, end], axis=1)),
            np.asarray(self.cylinder(self.base_radius)), start, end,
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
            areas.append(_signed_area(points[loop]))
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
                i for i in patches if areas[i] > area and _contains(points[loops[i]], point)
            ), None)
            (outside if owner is None else inside[owner]).append(wire)
        for i in patches:
            together = np.concatenate([wires[i], *inside[i]])
            self.faces.append(stream.faces(self.cylinder(self.base_radius), together[None, :]))
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


def _signed_area(polygon: Array) -> float:
    after = np.roll(polygon, -1, axis=0)
    return float(np.sum(polygon[:, 0] * after[:, 1] - polygon[:, 1] * after[:, 0]) / 2)


def _contains(polygon: Array, point: Array) -> bool:
    """Whether a point lies inside a polygon (crossing count)."""
    a, b = polygon, np.roll(polygon, -1, axis=0)
    crosses = (a[:, 1] > point[1]) != (b[:, 1] > point[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        at = a[:, 0] + (point[1] - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return bool(np.count_nonzero(crosses & (at > point[0])) % 2)
