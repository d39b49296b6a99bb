"""A solid as plain records: the kernel's binary shape stream, read without calling the kernel.

Asking the kernel for every pole, edge and face costs some milliseconds a pocket. Its binary
persistence writes the whole solid within a hundredth of a second; this module reads that (what
`relief/stream.py` writes, and the kinds of curve and surface that blocks, bores and letters add).
Only what a STEP file needs is kept: curves in space, surfaces, and how they hang together.
"""

from __future__ import annotations

import functools
import gc
import io
import math
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from gridshell.define.types import Array

SOLID, SHELL, FACE, WIRE, EDGE, VERTEX = 2, 3, 4, 5, 6, 7
_PAIR, _INT = struct.Struct("<ii"), struct.Struct("<i")
_STOP = ord("*")
SAME_PLACE = 1e-9  # mm and shares of 1, between equal places
# Bytes of what else an edge may have: a parameter curve, one on a seam, how smooth it is, polygons.
_SIZES = {2: 4 * 3 + 8 * 6, 3: 4 * 2 + 1 + 4 * 2 + 8 * 6, 4: 1 + 4 * 4, 5: 8, 6: 12, 7: 16}


class UnknownShapeError(Exception):
    """The solid has a curve, surface or structure that this reader does not know."""


Knots = tuple[tuple[tuple[float, ...], tuple[int, ...]], ...]
"""For each way the knots and how often each counts."""


@dataclass(slots=True)
class Geometry:
    """A curve or surface.

    Attributes:
        kind: ``line``, ``circle``, ``ellipse``, ``spline``; ``plane``, ``cylinder``, ``cone``,
            ``sphere``, ``torus``.
        numbers: frame and sizes of what is not a spline.
        degree: of a spline, one for each way.
        poles: (n, 3) or (n_u, n_v, 3), mm.
        weights: of the poles, where rational.
        knots: for each way the knots and how often each counts.
    """

    kind: str
    numbers: tuple[float, ...] = ()
    degree: tuple[int, ...] = ()
    poles: Array | None = None
    weights: Array | None = None
    knots: Knots = ()


Link = tuple[int, bool, int]
"""A part of a shape: its number, whether it is reversed, the number of its place (0: none)."""


@dataclass
class Records:
    """Everything of one shape.

    Attributes:
        curves: in space; numbered from 1, the first entry is empty.
        surfaces: the same.
        places: (3, 4) matrices; the first is the identity.
        kinds: of each shape, numbered from 1.
        data: of a vertex its point, of an edge its curve and place, of a face its surface and
            place.
        links: parts of each shape.
        root: the shape itself.
    """

    curves: list[Geometry | None] = field(default_factory=lambda: [None])
    surfaces: list[Geometry | None] = field(default_factory=lambda: [None])
    places: list[Array] = field(default_factory=lambda: [np.eye(4)])
    kinds: list[int] = field(default_factory=lambda: [-1])
    data: list[Any] = field(default_factory=lambda: [None])
    links: list[list[Link]] = field(default_factory=lambda: [[]])
    root: Link = (0, False, 0)
    _known: dict[tuple[int, int], int] = field(default_factory=dict)

    def place_of(self, outer: int, inner: int) -> int:
        """Number of the place of a part, of those of the whole and of the part in it.

        Args:
            outer: place of the whole.
            inner: place of the part in the whole.
        """
        if not outer or not inner:
            return outer or inner
        if (outer, inner) not in self._known:
            place = self.places[outer] @ self.places[inner]
            same = [number for number, other in enumerate(self.places)
                    if np.abs(place - other).max() < SAME_PLACE]
            if not same:
                self.places.append(place)
            self._known[outer, inner] = same[0] if same else len(self.places) - 1
        return self._known[outer, inner]


def records_of(shape: Any) -> Records:
    """Records of a kernel shape.

    Args:
        shape: a kernel shape, mm.

    Raises:
        UnknownShapeError: it has a curve, surface or structure that is not known here.
    """
    from OCP.BinTools import BinTools, BinTools_FormatVersion
    from OCP.Message import Message_ProgressRange

    stream = io.BytesIO()
    BinTools.Write_s(
        shape, stream, False, False,
        BinTools_FormatVersion.BinTools_FormatVersion_VERSION_3, Message_ProgressRange())
    with uncollected():
        return _Reader(stream.getvalue()).read()


@contextmanager
def uncollected() -> Iterator[None]:
    """Leave out the search for circles among hundreds of thousands of small records.

    There are none, and looking for them again and again takes a third of the time.
    """
    watched = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if watched:
            gc.enable()


class _Reader:
    """Walks through the bytes of one stream."""

    def __init__(self, data: bytes) -> None:
        self.bytes, self.at = data, 0
        self.found = Records()

    # --- numbers ------------------------------------------------------------------------------

    def _byte(self) -> int:
        self.at += 1
        return self.bytes[self.at - 1]

    def _short(self) -> int:
        self.at += 2
        return int.from_bytes(self.bytes[self.at - 2:self.at], "little")

    def _int(self) -> int:
        self.at += 4
        found: int = _INT.unpack_from(self.bytes, self.at - 4)[0]
        return found

    def _reals(self, count: int) -> tuple[float, ...]:
        self.at += 8 * count
        return struct.unpack_from(f"<{count}d", self.bytes, self.at - 8 * count)

    def _array(self, count: int) -> Array:
        self.at += 8 * count
        return np.frombuffer(self.bytes, "<f8", count, self.at - 8 * count)

    def _count(self, title: bytes) -> int:
        """The number behind the title of the next part."""
        begin = self.bytes.index(title + b" ", self.at) + len(title) + 1
        end = self.bytes.index(b"\n", begin)
        self.at = end + 1
        return int(self.bytes[begin:end])

    # --- parts --------------------------------------------------------------------------------

    def read(self) -> Records:
        found = self.found
        for _ in range(self._count(b"Locations")):
            found.places.append(self._place())
        # Parameter curves stand between, with nothing that looks like the next title: they follow
        # from those in space.
        for _ in range(self._count(b"Curves")):
            found.curves.append(self._curve())
        for title in (b"Polygon3D", b"PolygonOnTriangulations"):
            if self._count(title):
                raise UnknownShapeError(title.decode())
        for _ in range(self._count(b"Surfaces")):
            found.surfaces.append(self._surface())
        if self._count(b"Triangulations"):
            raise UnknownShapeError("Triangulations")
        total = self._count(b"TShapes")
        for _ in range(total):
            self._shape(total)
        turn, (number, place) = self._byte(), _PAIR.unpack_from(self.bytes, self.at)
        found.root = (total - number + 1, turn == 1, place)
        return found

    def _place(self) -> Array:
        if self._byte() == 1:
            return np.vstack([np.reshape(self._reals(12), (3, 4)), [0, 0, 0, 1]])
        place = np.eye(4)
        while (index := self._int()) != 0:
            place = place @ np.linalg.matrix_power(self.found.places[index], self._int())
        return place

    def _curve(self) -> Geometry:
        kind = self._byte()
        plain = {1: ("line", 6), 2: ("circle", 13), 3: ("ellipse", 14)}
        if kind in plain:
            name, count = plain[kind]
            return Geometry(name, self._reals(count))
        if kind == 6:
            rational, degree = self._byte() > 0, self._short()
            poles, weights = self._poles((degree + 1,), rational)
            return Geometry("spline", (), (degree,), poles, weights, (_ends(degree),))
        if kind == 7:
            rational, periodic, degree = self._byte() > 0, self._byte() > 0, self._short()
            count, knots = self._int(), self._int()
            if periodic:
                raise UnknownShapeError("periodic curve")
            poles, weights = self._poles((count,), rational)
            return Geometry("spline", (), (degree,), poles, weights, (self._knots(knots),))
        if kind == 8:
            self.at += 16  # the ends of the edge say as much
            return self._curve()
        raise UnknownShapeError(f"curve {kind}")

    def _surface(self) -> Geometry:
        kind = self._byte()
        plain = {1: ("plane", 12), 2: ("cylinder", 13), 3: ("cone", 14), 4: ("sphere", 13),
                 5: ("torus", 14)}
        if kind in plain:
            name, count = plain[kind]
            return Geometry(name, self._reals(count))
        if kind == 8:
            rational = self._byte() + self._byte() > 0
            degree = (self._short(), self._short())
            poles, weights = self._poles((degree[0] + 1, degree[1] + 1), rational)
            return Geometry(
                "spline", (), degree, poles, weights, (_ends(degree[0]), _ends(degree[1])))
        if kind == 9:
            rational = self._byte() + self._byte() > 0
            periodic = self._byte() + self._byte() > 0
            degree, counts = (self._short(), self._short()), (self._int(), self._int())
            knots = (self._int(), self._int())
            if periodic:
                raise UnknownShapeError("periodic surface")
            poles, weights = self._poles(counts, rational)
            return Geometry("spline", (), degree, poles, weights,
                            (self._knots(knots[0]), self._knots(knots[1])))
        if kind == 10:
            self.at += 32  # the border of the face says as much
            return self._surface()
        raise UnknownShapeError(f"surface {kind}")

    def _poles(self, counts: tuple[int, ...], rational: bool) -> tuple[Array, Array | None]:
        numbers = 4 if rational else 3
        values = self._array(math.prod(counts) * numbers).reshape(*counts, numbers)
        return (values[..., :3], values[..., 3]) if rational else (values, None)

    def _knots(self, count: int) -> tuple[tuple[float, ...], tuple[int, ...]]:
        values: list[float] = []
        often: list[int] = []
        for _ in range(count):
            values += self._reals(1)
            often.append(self._int())
        return tuple(values), tuple(often)

    # --- shapes -------------------------------------------------------------------------------

    def _shape(self, total: int) -> None:
        kind = self._byte()
        data: Any = None
        if kind == VERTEX:
            self.at += 8
            data = self._reals(3)
            if self._byte():
                raise UnknownShapeError("vertex on a curve")
        elif kind == EDGE:
            data = self._edge()
        elif kind == FACE:
            self.at += 1 + 8
            data = (self._int(), self._int())
            if self._byte() == 2:
                self.at += 4
        self.at += 7  # flags
        links, at, data_bytes = [], self.at, self.bytes
        while (turn := data_bytes[at]) != _STOP:
            if turn > 1:
                raise UnknownShapeError("internal shape")
            number, place = _PAIR.unpack_from(data_bytes, at + 1)
            # Shapes are counted from the end of the list backwards.
            links.append((total - number + 1, turn == 1, place))
            at += 9
        self.at = at + 1
        self.found.kinds.append(kind)
        self.found.data.append(data)
        self.found.links.append(links)

    def _edge(self) -> tuple[int, int]:
        """Number of the curve in space, and of its place."""
        data, at = self.bytes, self.at + 8 + 2
        if data[at]:
            raise UnknownShapeError("degenerated edge")
        at += 1
        curve = None
        while (kind := data[at]) != 0:
            if kind == 1:
                curve = _PAIR.unpack_from(data, at + 1)
                at += 24
            elif kind in _SIZES:
                at += _SIZES[kind]
            else:
                raise UnknownShapeError(f"edge on {kind}")
            at += 1
        self.at = at + 1
        if curve is None:
            raise UnknownShapeError("edge without a curve in space")
        return (curve[0], curve[1])


@functools.cache
def _ends(degree: int) -> tuple[tuple[float, ...], tuple[int, ...]]:
    return (0.0, 1.0), (degree + 1, degree + 1)
