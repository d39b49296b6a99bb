"""Thousands of faces at once: arrays laid out as the kernel's own binary shape stream.

Calling the kernel once for every vertex, edge and face costs about a millisecond a pocket in
Python. Its binary persistence (the format that ``BinTools`` reads and writes) is a plain list of
fixed records, so numpy writes all records of a kind in one go and the kernel reads them back as
ordinary shapes, with edges and vertices shared as stated. Nothing is sewn or intersected.

Lengths are in mm here, as everywhere in the kernel and in STEP.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.types import Array

Ids = np.ndarray
"""Integer ids of curves, surfaces or shapes, any shape of array."""

_HEADER = b"\nOpen CASCADE Topology V3 (c)\nLocations 0\n"
_LINE_2D, _BEZIER_2D, _LINE, _BEZIER = 1, 6, 1, 6
_PLANE, _CYLINDER, _BEZIER_SURFACE = 1, 2, 8
_COMPOUND, _FACE, _WIRE, _EDGE, _VERTEX = 0, 4, 5, 6, 7

# Flags after a shape: free, modified, checked, orientable, closed, infinite, convex.
_FLAGS = {
    _COMPOUND: b"\x01\x01\x00\x01\x00\x00\x00",
    _FACE: b"\x00\x01\x00\x01\x00\x00\x00",
    _WIRE: b"\x00\x01\x00\x01\x01\x00\x00",
    _EDGE: b"\x00\x01\x00\x01\x00\x00\x00",
    _VERTEX: b"\x00\x01\x00\x01\x01\x00\x01",
}


@dataclass(frozen=True)
class OnSurface:
    """Where edges lie on a surface.

    Attributes:
        curve: ids of parameter curves.
        surface: ids of the surfaces.
        start: parameters (n, 2) or (2,) of the starts.
        end: of the ends.
        polyline: id of the edges' nodes in the surfaces' meshes.
        mesh: ids of those meshes, if given.
    """

    curve: Ids
    surface: Ids
    start: Array
    end: Array
    polyline: int = 0
    mesh: Ids | None = None


def _packed(count: int, fields: Sequence[tuple[str, Any, Any]]) -> bytes:
    """Records with the named fields (name, type, values), packed without padding."""
    layout = []
    for name, kind, values in fields:
        shape = np.shape(values)[1:] if np.ndim(values) else ()
        layout.append((name, kind, shape))
    records = np.zeros(count, np.dtype(layout))
    for name, _, values in fields:
        records[name] = values
    return records.tobytes()


class ShapeStream:
    """Collects geometry and topology as arrays; `read` turns them into one kernel compound."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance = tolerance
        self._curves_2d: list[bytes] = []
        self._curves: list[bytes] = []
        self._surfaces: list[bytes] = []
        self._polylines: list[bytes] = []
        self._meshes: list[bytes] = []
        self._shapes: list[tuple[int, list[tuple[str, Any, Any]], Ids, Ids]] = []
        self._count = {"2d": 0, "3d": 0, "surface": 0, "shape": 0, "polyline": 0, "mesh": 0}

    def _number(self, kind: str, count: int) -> Ids:
        first = self._count[kind] + 1
        self._count[kind] += count
        return np.arange(first, first + count, dtype=np.int32)

    # --- geometry -----------------------------------------------------------------------------

    def lines_2d(self, origin: Array, direction: Array) -> Ids:
        """Parameter lines from origins and unit directions (n, 2).

        Args:
            origin: (n, 2).
            direction: (n, 2) unit directions.
        """
        count = len(origin)
        self._curves_2d.append(_packed(count, [
            ("type", "u1", _LINE_2D), ("origin", "<f8", origin), ("direction", "<f8", direction),
        ]))
        return self._number("2d", count)

    def beziers_2d(self, poles: Array) -> Ids:
        """Bezier parameter curves from poles (n, degree + 1, 2).

        Args:
            poles: (n, degree + 1, 2).
        """
        count, order = poles.shape[:2]
        self._curves_2d.append(_packed(count, [
            ("type", "u1", _BEZIER_2D), ("rational", "u1", 0), ("degree", "<u2", order - 1),
            ("poles", "<f8", poles),
        ]))
        return self._number("2d", count)

    def lines(self, origin: Array, direction: Array) -> Ids:
        """Straight lines from origins and unit directions (n, 3).

        Args:
            origin: (n, 3) points, mm.
            direction: (n, 3) unit directions.
        """
        self._curves.append(_packed(len(origin), [
            ("type", "u1", _LINE), ("origin", "<f8", origin), ("direction", "<f8", direction),
        ]))
        return self._number("3d", len(origin))

    def beziers(self, poles: Array, weights: Array | None = None) -> Ids:
        """Bezier curves from poles (n, degree + 1, 3) and, if rational, weights (degree + 1,).

        Args:
            poles: (n, degree + 1, 3), mm.
            weights: (degree + 1,) of rational curves.
        """
        count, order = poles.shape[:2]
        if weights is not None:
            spread = np.broadcast_to(weights[None, :, None], (count, order, 1))
            poles = np.concatenate([poles, spread], axis=2)
        self._curves.append(_packed(count, [
            ("type", "u1", _BEZIER), ("rational", "u1", weights is not None),
            ("degree", "<u2", order - 1), ("poles", "<f8", poles),
        ]))
        return self._number("3d", count)

    def bezier_surfaces(self, poles: Array, weights: Array | None = None) -> Ids:
        """Bezier patches from poles (n, u, v, 3); weights (v,) where the second way is rational.

        Args:
            poles: (n, u, v, 3), mm.
            weights: (v,) where the second way is rational.
        """
        count, order_u, order_v = poles.shape[:3]
        if weights is not None:
            spread = np.broadcast_to(weights[None, None, :, None], (count, order_u, order_v, 1))
            poles = np.concatenate([poles, spread], axis=3)
        self._surfaces.append(_packed(count, [
            ("type", "u1", _BEZIER_SURFACE), ("rational_u", "u1", 0),
            ("rational_v", "u1", weights is not None),
            ("degree_u", "<u2", order_u - 1), ("degree_v", "<u2", order_v - 1),
            ("poles", "<f8", poles),
        ]))
        return self._number("surface", count)

    def cylinder(self, radius: float) -> int:
        """A cylinder about the x axis, its angle counted from +y towards +z.

        Args:
            radius: mm.
        """
        frame = np.array([0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1, radius], float)
        self._surfaces.append(_packed(1, [
            ("type", "u1", _CYLINDER), ("frame", "<f8", frame[None]),
        ]))
        return int(self._number("surface", 1)[0])

    def planes(self, origin: Array, normal: Array, across: Array) -> Ids:
        """Planes from points, unit normals and unit x directions (n, 3).

        Args:
            origin: (n, 3) points, mm.
            normal: (n, 3) unit normals.
            across: (n, 3) unit x directions.
        """
        frame = np.concatenate([origin, normal, across, np.cross(normal, across)], axis=1)
        self._surfaces.append(_packed(len(frame), [
            ("type", "u1", _PLANE), ("frame", "<f8", frame),
        ]))
        return self._number("surface", len(frame))

    def plane(self, origin: Array, normal: Array, across: Array) -> int:
        """One plane.

        Args:
            origin: (3,) a point, mm.
            normal: (3,) unit normal.
            across: (3,) unit x direction.
        """
        return int(self.planes(origin[None], normal[None], across[None])[0])

    # --- ready meshes -------------------------------------------------------------------------

    def grids(self, points: Array, deflection: float) -> Ids:
        """Meshes of patches as grids of points (n, u, v, 3); the kernel's mesher keeps them.

        ``deflection`` is how far they may leave the surface, mm.

        Args:
            points: (n, u, v, 3), mm.
            deflection: how far they may leave the surface, mm.
        """
        count, wide, high = points.shape[:3]
        node = np.arange(wide * high).reshape(wide, high) + 1
        a, b, c, d = (
            part.reshape(-1)
            for part in (node[:-1, :-1], node[1:, :-1], node[1:, 1:], node[:-1, 1:])
        )
        # Each quadrangle is split along the diagonal that is shorter on the whole patch.
        falling = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
        rising = np.concatenate([np.stack([a, b, d], 1), np.stack([b, c, d], 1)])
        one = np.linalg.norm(points[:, 1:, 1:] - points[:, :-1, :-1], axis=-1).sum(axis=(1, 2))
        other = np.linalg.norm(points[:, 1:, :-1] - points[:, :-1, 1:], axis=-1).sum(axis=(1, 2))
        triangles = np.where((one <= other)[:, None, None], falling, rising)
        u, v = np.meshgrid(np.linspace(0, 1, wide), np.linspace(0, 1, high), indexing="ij")
        self._meshes.append(_packed(count, [
            ("nodes", "<i4", node.size), ("triangles", "<i4", len(falling)),
            ("has_uv", "u1", 1), ("deflection", "<f8", deflection),
            ("points", "<f8", points.reshape(count, -1, 3)),
            ("uv", "<f8", np.broadcast_to(
                np.stack([u, v], axis=-1).reshape(1, -1, 2), (count, node.size, 2))),
            ("corners", "<i4", triangles),
        ]))
        return self._number("mesh", count)

    def polyline(self, nodes: Ids, deflection: float) -> int:
        """Nodes of an edge in the meshes of its surfaces, evenly spaced in its parameter.

        Args:
            nodes: (k,) their numbers.
            deflection: how far it may leave the edge, mm.
        """
        count = len(nodes)
        self._polylines.append(_packed(1, [
            ("count", "<i4", count), ("nodes", "<i4", nodes[None]),
            ("deflection", "<f8", deflection), ("has", "u1", 1),
            ("parameters", "<f8", np.linspace(0, 1, count)[None]),
        ]))
        return int(self._number("polyline", 1)[0])

    # --- topology -----------------------------------------------------------------------------

    def _add(
        self, kind: int, count: int, fields: list[tuple[str, Any, Any]],
        children: Ids, reversed_: Ids,
    ) -> Ids:
        self._shapes.append((kind, fields, children, reversed_))
        return self._number("shape", count)

    def vertices(self, points: Array) -> Ids:
        """Vertices at points (n, 3).

        Args:
            points: (n, 3), mm.
        """
        count = len(points)
        none = np.zeros((count, 0), np.int32)
        return self._add(_VERTEX, count, [
            ("tolerance", "<f8", self.tolerance), ("point", "<f8", points), ("end", "u1", 0),
        ], none, none)

    def edges(
        self, start: Ids, end: Ids, curve: Ids, places: Sequence[OnSurface],
        last: Array | float = 1.0,
    ) -> Ids:
        """Edges (n,) between vertices along curves from the parameter 0 to ``last``.

        ``places``: the same edges on each curved surface that they lie on; planes need none.

        Args:
            start: (n,) vertices.
            end: (n,) vertices.
            curve: (n,) curves.
            places: the same edges on each curved surface that they lie on; planes need none.
            last: parameter at the end.
        """
        count = len(start)
        fields: list[tuple[str, Any, Any]] = [
            ("tolerance", "<f8", self.tolerance), ("same", "u1", np.tile([1, 1, 0], (count, 1))),
            ("is3d", "u1", 1), ("curve", "<i4", curve), ("place", "<i4", 0),
            ("first", "<f8", 0.0), ("last", "<f8", last),
        ]
        for index, place in enumerate(places):
            fields += [
                (f"kind{index}", "u1", 2), (f"curve{index}", "<i4", place.curve),
                (f"surface{index}", "<i4", place.surface), (f"place{index}", "<i4", 0),
                (f"first{index}", "<f8", 0.0), (f"last{index}", "<f8", 1.0),
                (f"start{index}", "<f8", np.broadcast_to(place.start, (count, 2))),
                (f"end{index}", "<f8", np.broadcast_to(place.end, (count, 2))),
            ]
        for index, place in enumerate(places):
            if place.mesh is not None:
                fields += [
                    (f"poly{index}", "u1", 6), (f"nodes{index}", "<i4", place.polyline),
                    (f"mesh{index}", "<i4", place.mesh), (f"at{index}", "<i4", 0),
                ]
        fields.append(("end", "u1", 0))
        ends = np.stack([start, end], axis=1)
        return self._add(_EDGE, count, fields, ends, np.tile([0, 1], (count, 1)))

    def wires(self, edges: Ids, reversed_: Ids) -> Ids:
        """Closed wires of m edges each (n, m); ``reversed_`` is 1 where an edge runs backwards.

        Args:
            edges: (n, m).
            reversed_: 1 where an edge runs backwards.
        """
        return self._add(_WIRE, len(edges), [], edges, np.broadcast_to(reversed_, edges.shape))

    def faces(self, surface: Ids | int, wires: Ids, mesh: Ids | None = None) -> Ids:
        """Faces (n,) on surfaces with wires (n, w), the outer one first; with meshes if given.

        Args:
            surface: (n,) or one for all.
            wires: (n, w), the outer one first.
            mesh: (n,) ready meshes.
        """
        none = np.zeros_like(wires)
        fields: list[tuple[str, Any, Any]] = [
            ("natural", "u1", 0), ("tolerance", "<f8", self.tolerance),
            ("surface", "<i4", surface), ("place", "<i4", 0),
            ("meshed", "u1", 0 if mesh is None else 2),
        ]
        if mesh is not None:
            fields.append(("mesh", "<i4", mesh))
        return self._add(_FACE, len(wires), fields, wires, none)

    def compound(self, shapes: Ids) -> Ids:
        """One compound of the shapes, in order.

        Args:
            shapes: in order.
        """
        return self._add(
            _COMPOUND, 1, [], shapes.reshape(1, -1), np.zeros((1, shapes.size), np.int32)
        )

    # --- out ----------------------------------------------------------------------------------

    def bytes(self) -> bytes:
        """The stream, whose root is the shape added last."""
        total = self._count["shape"]
        parts = [_HEADER]
        for title, blocks, kind in (
            (b"Curve2ds", self._curves_2d, "2d"), (b"Curves", self._curves, "3d"),
        ):
            parts += [title, b" %d\n" % self._count[kind], *blocks]
        parts += [b"Polygon3D 0\nPolygonOnTriangulations %d\n" % self._count["polyline"]]
        parts += [*self._polylines, b"Surfaces %d\n" % self._count["surface"], *self._surfaces]
        parts += [b"Triangulations %d\n" % self._count["mesh"], *self._meshes]
        parts += [b"\nTShapes %d\n" % total]
        for kind_, fields, children, reversed_ in self._shapes:
            count, width = children.shape
            # Shapes are referred to from the end of the list backwards.
            links = np.zeros((count, width), np.dtype(
                [("orientation", "u1"), ("shape", "<i4"), ("place", "<i4")]
            ))
            links["orientation"] = reversed_
            links["shape"] = total - children + 1
            parts.append(_packed(count, [
                ("type", "u1", kind_), *fields,
                ("flags", "u1", np.tile(np.frombuffer(_FLAGS[kind_], np.uint8), (count, 1))),
                ("links", links.dtype, links), ("stop", "u1", ord("*")),
            ]))
        return b"".join(parts) + b"\x00\x01\x00\x00\x00\x00\x00\x00\x00"

    def read(self) -> Any:
        """The compound as a kernel shape.

        Raises:
            RuntimeError: the kernel could not read the stream (a slip in our own records).
        """
        from OCP.BinTools import BinTools
        from OCP.TopoDS import TopoDS_Shape

        shape = TopoDS_Shape()
        BinTools.Read_s(shape, io.BytesIO(self.bytes()))
        if shape.IsNull():
            raise RuntimeError("the kernel could not read the laid faces")
        return shape
