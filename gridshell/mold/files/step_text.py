"""Solids as the text of a STEP file (ISO 10303-21, boundary representation of ISO 10303-42).

The kernel's own writer takes 5 ms a pocket and writes each pole of a curve again for each surface
that meets there, with 14 digits. Here a point is written once, to 1e-8 mm, and everything that
touches it refers to it: half the size, a fraction of the time. What this writer does not know it
refuses (`UnknownShapeError`), and the kernel writes that piece.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.files.shape_records import (
    EDGE,
    FACE,
    SHELL,
    SOLID,
    VERTEX,
    WIRE,
    Geometry,
    Knots,
    Records,
    UnknownShapeError,
    records_of,
    uncollected,
)
from gridshell.mold.files.solids import alike_rows

DIGITS = 8  # of a millimeter, a five-hundredth of the tolerance of the edges
_ZEROS = re.compile(r"0+(?=[,\n])")


class StepText:
    """Lines of a STEP file's data section, numbered as they come.

    Args:
        before: the number that the first one follows.
    """

    def __init__(self, before: int = 0) -> None:
        self.lines: list[str] = []
        self._last = before
        self._directions: dict[str, int] = {}

    def add(self, entity: str) -> int:
        """Number of a new entity.

        Args:
            entity: its text, without number and semicolon.
        """
        number = self.reserve()
        self.lines.append(f"#{number}={entity};\n")
        return number

    def reserve(self) -> int:
        """A number for an entity that is written later."""
        self._last += 1
        return self._last

    def add_all(self, entities: Sequence[str]) -> range:
        """Numbers of several new entities.

        Args:
            entities: their texts, without number and semicolon.
        """
        numbers = range(self._last + 1, self._last + 1 + len(entities))
        self.lines += [f"#{number}={entity};\n"
                       for number, entity in zip(numbers, entities, strict=True)]
        self._last += len(entities)
        return numbers

    def points(self, points: Array) -> np.ndarray:
        """Numbers of points, equal ones written once.

        Args:
            points: (n, 3), mm.
        """
        steps = np.rint(points * 10.0**DIGITS).astype(np.int64)
        first, index = alike_rows(steps)
        begin = self._last + 1
        values = (steps[first] / 10.0**DIGITS).ravel().tolist()
        # In one go: the numbers, then without the zeros at their ends.
        row = ",".join([f"%.{DIGITS}f"] * 3) + "\n"
        rows = _ZEROS.sub("", (row * len(first)) % tuple(values)).splitlines()
        self.lines += [f"#{number}=CARTESIAN_POINT('',({numbers}));\n"
                       for number, numbers in enumerate(rows, start=begin)]
        self._last += len(first)
        return np.asarray(begin + index)

    def direction(self, way: Sequence[float]) -> int:
        """Number of a unit direction, equal ones written once.

        Args:
            way: (3,).
        """
        size = math.sqrt(sum(x * x for x in way))
        text = ",".join(fine(x / size) for x in way)
        if text not in self._directions:
            self._directions[text] = self.add(f"DIRECTION('',({text}))")
        return self._directions[text]

    def frame(self, origin: int, axis: Sequence[float], across: Sequence[float]) -> int:
        """Number of a right-handed frame.

        Args:
            origin: number of a point.
            axis: (3,) direction z.
            across: (3,) direction x.
        """
        return self.add(
            f"AXIS2_PLACEMENT_3D('',#{origin},#{self.direction(axis)},#{self.direction(across)})")

    def solid(self, shape: Any, name: str, records: Records | None = None) -> int:
        """Number of a solid (`MANIFOLD_SOLID_BREP`).

        Args:
            shape: a kernel solid, mm.
            name: of the solid.
            records: of the solid, if they are there.

        Raises:
            UnknownShapeError: the kernel must write it.
        """
        with uncollected():
            return _Solid(self, records or records_of(shape)).write(name)


class _Solid:
    """One solid on its way into the text."""

    def __init__(self, text: StepText, records: Records) -> None:
        self.text, self.records = text, records
        self.places, self._at = records.places, records.place_of
        self._vertices: dict[tuple[int, int], int] = {}
        self._limits: dict[tuple[int, int], tuple[int, int]] = {}
        self._edges: dict[tuple[int, int], int] = {}
        self._geometry: dict[tuple[str, int, int], tuple[int, bool]] = {}
        self._points: dict[tuple[str, int, int], list[int]] = {}

    def write(self, name: str) -> int:
        number, turned, place = self.records.root
        shells = self.records.links[number]
        if self.records.kinds[number] != SOLID or len(shells) != 1:
            raise UnknownShapeError("not one solid with one shell")
        shell, shell_turned, shell_place = shells[0]
        if self.records.kinds[shell] != SHELL:
            raise UnknownShapeError("solid without a shell")
        place = self._at(place, shell_place)
        self._gather(shell, place)
        faces = [
            self._face(face, face_turned ^ shell_turned ^ turned, self._at(place, face_place))
            for face, face_turned, face_place in self.records.links[shell]]
        closed = self.text.add(f"CLOSED_SHELL('',({references(faces)}))")
        return self.text.add(f"MANIFOLD_SOLID_BREP({string(name)},#{closed})")

    # --- places -------------------------------------------------------------------------------

    def _moved(self, points: Array, place: int) -> Array:
        if not place:
            return points
        matrix = self.places[place]
        return np.asarray(points @ matrix[:3, :3].T + matrix[:3, 3])

    def _turned(self, way: Sequence[float], place: int) -> Sequence[float]:
        return way if not place else (self.places[place][:3, :3] @ np.asarray(way)).tolist()

    # --- points, all at once ------------------------------------------------------------------

    def _gather(self, shell: int, place: int) -> None:
        """Write every point of vertices, curves and surfaces, each once."""
        records = self.records
        wanted: dict[tuple[str, int, int], Array] = {}
        stack: list[tuple[int, int]] = [(shell, place)]
        seen: set[tuple[int, int]] = set()
        while stack:
            here = stack.pop()
            if here in seen:
                continue
            seen.add(here)
            number, at = here
            kind, data = records.kinds[number], records.data[number]
            if kind == VERTEX:
                wanted["v", number, at] = self._moved(np.array([data]), at)
            elif kind in (EDGE, FACE):
                which = "c" if kind == EDGE else "s"
                key = (which, data[0], self._at(at, data[1]))
                if key not in wanted:
                    wanted[key] = self._moved(_points_of(self._shape_of(key)), key[2])
            stack += [(part, at if not inner else self._at(at, inner))
                      for part, _, inner in records.links[number]]
        numbers = self.text.points(np.concatenate(list(wanted.values()))).tolist()
        end = 0
        for key, points in wanted.items():
            begin, end = end, end + len(points)
            self._points[key] = numbers[begin:end]

    def _shape_of(self, key: tuple[str, int, int]) -> Geometry:
        which, number, _ = key
        found = (self.records.curves if which == "c" else self.records.surfaces)[number]
        assert found is not None
        return found

    # --- curves and surfaces ------------------------------------------------------------------

    def _line_of(self, which: str, number: int, place: int) -> tuple[int, bool]:
        """Number of a curve or surface, and whether its normal is the other way round."""
        key = (which, number, place)
        if key not in self._geometry:
            shape = self._shape_of(key)
            if shape.kind == "spline":
                entity, mirrored = _spline(shape, self._points[key]), False
            else:
                entity, mirrored = self._plain(shape, self._points[key][0], place)
            self._geometry[key] = self.text.add(entity), mirrored
        return self._geometry[key]

    def _plain(self, shape: Geometry, origin: int, place: int) -> tuple[str, bool]:
        text, numbers = self.text, shape.numbers
        if shape.kind == "line":
            along = text.direction(self._turned(numbers[3:6], place))
            vector = text.add(f"VECTOR('',#{along},1.)")
            return f"LINE('',#{origin},#{vector})", False
        axis, across, second = (
            self._turned(numbers[i:i + 3], place) for i in (3, 6, 9))
        normal = _across(across, second)
        mirrored = sum(a * b for a, b in zip(normal, axis, strict=True)) < 0
        sizes = [fine(size) for size in numbers[12:]]
        if shape.kind == "plane":
            # Of a left-handed frame the normal is the other way than the axis.
            return f"PLANE('',#{text.frame(origin, normal, across)})", False
        if shape.kind in ("circle", "ellipse") and mirrored:
            raise UnknownShapeError("left-handed curve")
        if shape.kind == "cone" and numbers[13] < 0:
            # The same cone seen from its other end, so that it widens along its axis.
            axis, sizes[1] = [-x for x in axis], fine(-numbers[13])
        frame = text.frame(origin, axis, across)
        entity = {
            "circle": "CIRCLE", "ellipse": "ELLIPSE", "cylinder": "CYLINDRICAL_SURFACE",
            "cone": "CONICAL_SURFACE", "sphere": "SPHERICAL_SURFACE", "torus": "TOROIDAL_SURFACE",
        }[shape.kind]
        return f"{entity}('',#{frame},{','.join(sizes)})", mirrored

    # --- what hangs together ------------------------------------------------------------------

    def _vertex(self, number: int, place: int) -> int:
        key = (number, place)
        if key not in self._vertices:
            point = self._points["v", number, place][0]
            self._vertices[key] = self.text.add(f"VERTEX_POINT('',#{point})")
        return self._vertices[key]

    def _ends(self, number: int, place: int) -> tuple[int, int]:
        """Numbers of the vertices where an edge starts and ends."""
        key = (number, place)
        if key in self._limits:
            return self._limits[key]
        start = end = 0
        for vertex, turned, inner in self.records.links[number]:
            which = self._vertex(vertex, self._at(place, inner))
            start, end = (start, which) if turned else (which, end)
        if not start or not end:
            raise UnknownShapeError("edge without ends")
        self._limits[key] = (start, end)
        return start, end

    def _edge(self, number: int, place: int) -> int:
        key = (number, place)
        if key not in self._edges:
            curve, inner = self.records.data[number]
            start, end = self._ends(number, place)
            line, _ = self._line_of("c", curve, self._at(place, inner))
            self._edges[key] = self.text.add(f"EDGE_CURVE('',#{start},#{end},#{line},.T.)")
        return self._edges[key]

    def _loop(self, wire: int, place: int) -> int:
        """Number of a loop: the edges of a wire one after another."""
        edges = [(edge, turned, self._at(place, inner))
                 for edge, turned, inner in self.records.links[wire]]
        if self.records.kinds[wire] != WIRE or not edges:
            raise UnknownShapeError("face without an outline")
        ways = []
        for edge, turned, at in edges:
            start, end = self._ends(edge, at)
            ways.append((end, start) if turned else (start, end))
        parts = [
            f"ORIENTED_EDGE('',*,*,#{self._edge(edges[i][0], edges[i][2])},"
            f"{flag(not edges[i][1])})" for i in in_turn(ways)]
        return self.text.add(f"EDGE_LOOP('',({references(self.text.add_all(parts))}))")

    def _face(self, number: int, turned: bool, place: int) -> int:
        surface, inner = self.records.data[number]
        line, mirrored = self._line_of("s", surface, self._at(place, inner))
        bounds = [
            self.text.add(
                f"FACE_BOUND('',#{self._loop(wire, self._at(place, at))},"
                f"{flag(wire_turned == turned)})")
            for wire, wire_turned, at in self.records.links[number]]
        return self.text.add(
            f"ADVANCED_FACE('',({references(bounds)}),#{line},{flag(turned == mirrored)})")


def in_turn(ways: Sequence[tuple[int, int]]) -> list[int]:
    """The order in which edges follow each other round a loop.

    Args:
        ways: where each edge starts and ends.

    Raises:
        UnknownShapeError: they are no single loop.

    >>> in_turn([(1, 2), (3, 1), (2, 3)])
    [2, 1, 0]
    """
    count = len(ways)
    if all(ways[i][1] == ways[(i + 1) % count][0] for i in range(count)):
        return list(range(count))
    if all(ways[i][0] == ways[(i + 1) % count][1] for i in range(count)):
        return list(range(count))[::-1]
    left, order = list(range(1, count)), [0]
    while left:
        here = ways[order[-1]][1]
        after = next((i for i in left if ways[i][0] == here), None)
        if after is None:
            raise UnknownShapeError("edges that do not follow each other")
        left.remove(after)
        order.append(after)
    if ways[order[-1]][1] != ways[0][0]:
        raise UnknownShapeError("open outline")
    return order


def _across(a: Sequence[float], b: Sequence[float]) -> list[float]:
    """Cross product of two directions; numpy's takes a hundred times as long for one."""
    return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]


def _points_of(shape: Geometry) -> Array:
    """Every point (n, 3) that a curve or surface refers to."""
    if shape.poles is not None:
        return shape.poles.reshape(-1, 3)
    return np.array([shape.numbers[:3]])


def _spline(shape: Geometry, points: list[int]) -> str:
    """Entity of a spline curve or surface with its poles written."""
    assert shape.poles is not None
    poles = _nested(references, points, shape.poles.shape[:-1])
    before, between, after = _around(shape.degree, shape.knots, shape.weights is not None)
    if shape.weights is None:
        return f"{before}{poles}{between}"
    weights = _weights(shape.weights.tobytes(), shape.weights.shape)
    return f"{before}{poles}{between}{weights}{after}"


@functools.lru_cache(maxsize=1000)
def _around(degree: tuple[int, ...], knots: Knots, rational: bool) -> tuple[str, str, str]:
    """Text before the poles, between poles and weights, and after them."""
    ways = len(degree)
    degrees = ",".join(map(str, degree))
    texts = ",".join(
        [f"({','.join(map(str, often))})" for _, often in knots]
        + [f"({','.join(map(fine, values))})" for values, _ in knots])
    what = "CURVE" if ways == 1 else "SURFACE"
    closed = ",".join([".F."] * (ways + 1))
    form = ".UNSPECIFIED."
    if not rational:
        return (f"B_SPLINE_{what}_WITH_KNOTS('',{degrees},", f",{form},{closed},{texts},{form})",
                "")
    # The parts of a complex entity stand in the order of their names.
    first, last = ("CURVE()", "") if ways == 1 else ("", "SURFACE()")
    return (
        f"(BOUNDED_{what}()B_SPLINE_{what}({degrees},",
        f",{form},{closed})B_SPLINE_{what}_WITH_KNOTS({texts},{form}){first}"
        f"GEOMETRIC_REPRESENTATION_ITEM()RATIONAL_B_SPLINE_{what}(",
        f")REPRESENTATION_ITEM(''){last})")


@functools.lru_cache(maxsize=1000)
def _weights(values: bytes, shape: tuple[int, ...]) -> str:
    """Weights of poles, the same for many fillets."""
    return _nested(lambda row: ",".join(map(fine, row)), np.frombuffer(values).tolist(), shape)


def _nested(text: Any, values: list[Any], shape: tuple[int, ...]) -> str:
    """Values in one pair of brackets, or in a row of them for two ways."""
    if len(shape) == 1:
        return f"({text(values)})"
    wide = shape[1]
    rows = (f"({text(values[i:i + wide])})" for i in range(0, len(values), wide))
    return f"({','.join(rows)})"


def references(numbers: Iterable[int]) -> str:
    """Entities by their numbers, without brackets.

    >>> references([3, 14])
    '#3,#14'
    """
    return ",".join([f"#{number}" for number in numbers])


def flag(yes: bool) -> str:
    """A logical value."""
    return ".T." if yes else ".F."


def fine(value: float) -> str:
    """A number with fifteen digits.

    >>> fine(1.0), fine(0.25), fine(1e-9), fine(-0.0)
    ('1.', '0.25', '1.E-09', '0.')
    """
    text = f"{value + 0.0:.15g}"
    if "e" in text:
        digits, power = text.split("e")
        return f"{digits if '.' in digits else digits + '.'}E{power}"
    return text if "." in text else text + "."


def string(text: str) -> str:
    r"""A string; letters beyond ASCII as ISO 10303-21 encodes them.

    >>> print(string("it's 1 \u00b5m"))
    'it''s 1 \X2\00B5\X0\m'
    """
    plain = text.replace("\\", "\\\\").replace("'", "''")
    return "'" + "".join(
        letter if " " <= letter <= "~" else "".join(
            f"\\X2\\{unit}\\X0\\" for unit in _units(letter)) for letter in plain) + "'"


def _units(letter: str) -> list[str]:
    """A letter in the hexadecimal units of UTF-16."""
    code = letter.encode("utf-16-be").hex().upper()
    return [code[i:i + 4] for i in range(0, len(code), 4)]

