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
from gridshell.mold.relief.base import BaseLayer
from gridshell.mold.relief.outline import Loops, edge_degree, fitting, on_cylinder
from gridshell.mold.relief.stream import Ids, OnSurface, ShapeStream

KERNEL_TOLERANCE = 5e-6  # mm, above `CURVE_ERROR`
# The kernel's mesher makes meshes anew that say they leave their surface by more than it is asked
# for. Where a large smooth face needs a finer mesh, these narrow ones do not.
KEPT = 1e-4  # mm


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
        width: of the ribs round them on the base, mm.
        half: of a closed tube that they lie in, 0 or 1: each half has a cylinder of its own.
        open: no face at the far end; its edges are handed out instead.
    """

    stations: tuple[Station, ...]
    cells: Array | None
    open: bool = False
    width: float = 0.0
    half: int = 0


@dataclass
class Sheet:
    """The laid faces, as kernel shapes.

    Attributes:
        faces: every face, oriented away from the tube's axis.
        holes: wires, clockwise on the base, that bound the surrounding base face.
        far_holes: wires, clockwise at the far radius, of islands left open.
        base: the kernel cylinder at the base that those wires have parameter curves on.
        far: the same at the far radius.
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
    layer = Layer(stream, deflection, turn)
    laid = [layer.island(island) for island in islands]
    base = BaseLayer(stream, base_radius, layer.cylinder)
    hole_wires = base.lay(
        [(island.cells, edges.base) for island, edges in zip(islands, laid, strict=True)
         if island.cells is not None and len(island.cells)],
        [(_angles(island.stations[0]), edges.base)
         for island, edges in zip(islands, laid, strict=True) if island.cells is None],
        min((island.width for island in islands if island.cells is not None), default=0.0),
    )
    faces = [*layer.faces, *base.faces]
    far_wires = [
        stream.wires(edges.far[:, ::-1], np.ones(edges.far.shape[1], np.uint8))
        for island, edges in zip(islands, laid, strict=True) if island.open
    ]
    counts = (
        sum(len(ids) for ids in faces), len(hole_wires), sum(len(w) for w in far_wires)
    )
    # Faces without wires carry the two cylinders out of the stream.
    far_radius = next((i.stations[-1].radius for i in islands if i.open), base_radius)
    carriers = [
        stream.faces(layer.cylinder(radius), np.zeros((1, 0), np.int32))
        for radius in (base_radius, far_radius)
    ]
    groups = [*carriers, *faces, *hole_wires, *far_wires]
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


def _angles(station: Station) -> Array:
    """Starts of the edges in (angle, x)."""
    return np.asarray(station.loops.start / np.array([station.radius, 1.0]))


class Layer:
    """Lays faces into a stream; keeps what several of them share."""

    def __init__(
        self, stream: ShapeStream, deflection: float, turn: float
    ) -> None:
        self.stream = stream
        self.deflection, self.turn = deflection, turn
        self.faces: list[Ids] = []
        self._cylinders: dict[tuple[float, int], int] = {}  # by radius and half
        # The four sides of a patch's parameter square: v=0, v=1, u=0, u=1.
        self._square = stream.lines_2d(
            np.array([[0, 0], [0, 1], [0, 0], [1, 0]], float),
            np.array([[1, 0], [1, 0], [0, 1], [0, 1]], float),
        )

    def cylinder(self, radius: float, half: int = 0) -> int:
        # The same radius found in two ways may differ in the last digit.
        key = (round(radius, 7), half)
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
                np.einsum("vr,nurc->nuvc", across, curves), KEPT
            ))
            node = np.arange((steps[j] + 1) * (up + 1)).reshape(steps[j] + 1, up + 1) + 1
            polylines.append([
                stream.polyline(side, KEPT)
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
                _angles(stations[i]).reshape(-1, 2), stations[i].radius
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
                self._level_edge(stations[i], j, poles[i][j], corners[number], bands,
                                 number=number, half=island.half,
                                 on_base=i in (real[0], real[-1]))
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
            self.faces.append(stream.faces(
                self.cylinder(stations[-1].radius, island.half), top[:, None]))
        return _Laid(level_edges[0], level_edges[-1])

    def _poles(self, station: Station, edge: int, degree: int) -> Array:
        parameter, matrix = fitting(degree)
        points = station.loops.points(edge, parameter) / np.array([station.radius, 1.0])
        return np.einsum("ij,njk->nik", matrix, on_cylinder(points, station.radius))

    def _level_edge(
        self, station: Station, edge: int, poles: Array, corners: Ids, bands: list[_Band], *,
        number: int, half: int, on_base: bool,
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
                stream.beziers_2d(flat), np.asarray(self.cylinder(station.radius, half)),
                flat[:, 0], flat[:, -1],
            ))
        if number < len(bands):
            places.append(self._patch_side(0, bands[number], edge))
        if number > 0:
            places.append(self._patch_side(1, bands[number - 1], edge))
        return stream.edges(
            corners[:, edge], corners[:, (edge + 1) % m], stream.beziers(poles), places
        )
