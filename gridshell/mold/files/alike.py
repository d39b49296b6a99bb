"""Check of solids with thousands of alike faces: some of each kind, and how all hang together.

The kernel's checker takes 4 ms a pocket. Pockets of one shape are copies of each other, turned
about the tube's axis and moved along it, so that a fault of one is a fault of all: of faces with
the same kind of surface and edges of the same lengths in the same order `SAMPLES` are put to the
checker. That every edge joins two faces, which run along it in opposite ways, is seen for all.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

from gridshell.mold.files.shape_records import (
    FACE,
    SHELL,
    Geometry,
    Records,
    UnknownShapeError,
    uncollected,
)
from gridshell.mold.pieces.solids.booleans import walk

SAMPLES = 4  # faces of a kind that are checked
STEP = 1e-4  # mm, lengths that differ by less are the same


def kinds_hold(solid: Any, records: Records) -> tuple[bool, bool]:
    """Whether each kind of face of a solid is without fault, and whether the solid is closed.

    Args:
        solid: a kernel solid, mm.
        records: of it.

    Raises:
        UnknownShapeError: it is not one solid; the kernel must check all of it.
    """
    from OCP.BRep import BRep_Builder
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopoDS import TopoDS_Compound

    shell = _shell_of(records)
    with uncollected():
        chosen, joined = set(representatives(records, shell)), _joined(records, shell)
    builder, some = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(some)
    for index, face in enumerate(walk(solid, "face")):
        if index in chosen:
            builder.Add(some, face)
    return bool(BRepCheck_Analyzer(some, True).IsValid()), joined


def representatives(records: Records, shell: int) -> list[int]:
    """Faces, by their place in the shell, such that no kind has more than `SAMPLES`.

    Args:
        records: of a solid.
        shell: number of its shell.
    """
    edges: dict[int, tuple[Any, ...]] = {}
    seen: Counter[tuple[Any, ...]] = Counter()
    found = []
    for index, (face, turned, _) in enumerate(records.links[shell]):
        surface = records.surfaces[records.data[face][0]]
        assert surface is not None
        kind = (turned, *_of_shape(surface), tuple(
            tuple(_of_edge(records, edge, edges) for edge, _, _ in records.links[wire])
            for wire, _, _ in records.links[face]))
        seen[kind] += 1
        if seen[kind] <= SAMPLES:
            found.append(index)
    return found


def _shell_of(records: Records) -> int:
    shells = records.links[records.root[0]]
    if len(shells) != 1 or records.kinds[shells[0][0]] != SHELL:
        raise UnknownShapeError("not one solid with one shell")
    return shells[0][0]


def _joined(records: Records, shell: int) -> bool:
    """Whether every edge is used twice, once each way."""
    at = records.place_of
    forward: Counter[tuple[int, int]] = Counter()
    backward: Counter[tuple[int, int]] = Counter()
    for face, face_turned, place in records.links[shell]:
        if records.kinds[face] != FACE:
            return False
        for wire, wire_turned, second in records.links[face]:
            for edge, turned, third in records.links[wire]:
                way = backward if face_turned ^ wire_turned ^ turned else forward
                # The same edge in another place is another one.
                way[edge, at(at(place, second), third)] += 1
    return forward == backward and set(forward.values()) == {1}


def _of_edge(
    records: Records, edge: int, known: dict[int, tuple[Any, ...]]
) -> tuple[Any, ...]:
    if edge not in known:
        curve = records.curves[records.data[edge][0]]
        assert curve is not None
        ends = [records.data[vertex] for vertex, _, _ in records.links[edge]]
        known[edge] = (*_of_shape(curve), _steps(math.dist(ends[0], ends[-1])))
    return known[edge]


def _of_shape(shape: Geometry) -> tuple[Any, ...]:
    """What a curve or surface has in common with its copies elsewhere."""
    if shape.poles is None:
        return shape.kind, *map(_steps, shape.numbers[12:])
    points = shape.poles.reshape(-1, 3).tolist()
    return shape.kind, shape.poles.shape, _steps(sum(map(math.dist, points, points[1:])))


def _steps(length: float) -> int:
    return round(length / STEP)
