"""Measure and check solids and their meshes: validity, volume, faces, watertightness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.mold.pieces.solids.booleans import walk

MESH_AGREEMENT = 0.005  # of the volume, between mesh and solid
STL_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
FACET_TURN = 0.5  # rad, largest angle between neighboring facets


@dataclass(frozen=True)
class SolidCheck:
    """What one piece turned out to be.

    Attributes:
        name: of the piece.
        valid: the kernel finds no fault in geometry or topology.
        closed: every edge joins exactly two faces.
        volume: of the solid, m3.
        faces: of the solid.
        bounds: (2, 3) lower and upper corner, m.
        triangles: of the STL.
        watertight: every edge of the STL is used once each way.
        mesh_volume: of the STL, m3.
        step_volume: after reading the STEP file back, m3; None if not read.
        step_faces: after reading it back.
    """

    name: str
    valid: bool
    closed: bool
    volume: float
    faces: int
    bounds: tuple[tuple[float, float, float], tuple[float, float, float]]
    triangles: int
    watertight: bool
    mesh_volume: float
    step_volume: float | None = None
    step_faces: int | None = None

    @property
    def mesh_holds(self) -> bool:
        """Whether the volume of the mesh is the solid's."""
        return abs(self.mesh_volume - self.volume) <= MESH_AGREEMENT * abs(self.volume)

    @property
    def faults(self) -> list[str]:
        """What is wrong, in words; empty when all is well."""
        found = []
        if not self.valid:
            found.append("the kernel finds faults in the solid")
        if not self.closed:
            found.append("the solid is not closed")
        if not self.volume > 0:
            found.append(f"volume {self.volume * 1e6:g} cm3 is not positive")
        if not self.watertight:
            found.append("the STL is not watertight")
        if not self.mesh_holds:
            found.append(
                f"STL volume {self.mesh_volume * 1e6:.2f} cm3 is off the solid's "
                f"{self.volume * 1e6:.2f} cm3 by more than {MESH_AGREEMENT:.1%}; state a finer "
                "mold.mesh_tolerance"
            )
        if self.step_faces is not None and self.step_faces != self.faces:
            found.append(f"STEP read back has {self.step_faces} faces, not {self.faces}")
        if self.step_volume is not None and abs(self.step_volume - self.volume) > 1e-6 * abs(
            self.volume
        ):
            found.append(f"STEP read back has {self.step_volume * 1e6:.4f} cm3")
        return found


def solid_volume(shape: Any) -> float:
    """Volume of a kernel solid, mm3 (Gauss integration over its faces).

    Args:
        shape: a kernel shape.
    """
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    return float(found.Mass())


def is_valid(shape: Any) -> bool:
    """Whether the kernel's checker finds no fault.

    Args:
        shape: a kernel shape.
    """
    from OCP.BRepCheck import BRepCheck_Analyzer

    return bool(BRepCheck_Analyzer(shape, True).IsValid())


def is_closed(shape: Any) -> bool:
    """Whether every edge that bounds area joins two faces.

    Args:
        shape: a kernel shape.
    """
    from OCP.BRep import BRep_Tool
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp
    from OCP.TopoDS import TopoDS
    from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape

    owners = TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapesAndAncestors_s(
        shape, TopAbs_ShapeEnum.TopAbs_EDGE, TopAbs_ShapeEnum.TopAbs_FACE, owners
    )
    return all(
        owners.FindFromIndex(i).Size() == 2
        or BRep_Tool.Degenerated_s(TopoDS.Edge_s(owners.FindKey(i)))
        for i in range(1, owners.Extent() + 1)
    )


def face_count(shape: Any) -> int:
    """Number of faces.

    Args:
        shape: a kernel shape.
    """
    return sum(1 for _ in walk(shape, "face"))


def edge_count(shape: Any) -> int:
    """Number of edges, each counted once.

    Args:
        shape: a kernel shape.
    """
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_ShapeEnum.TopAbs_EDGE, found)
    return int(found.Extent())


def mesh_solid(shape: Any, deflection: float) -> None:
    """Mesh every face that has no mesh fine enough; ``deflection`` in mm.

    Args:
        shape: a kernel shape.
        deflection: how far facets may leave the surface, mm.
    """
    from OCP.BRepMesh import BRepMesh_IncrementalMesh

    BRepMesh_IncrementalMesh(shape, deflection, False, FACET_TURN, False)


def forget_mesh(shape: Any) -> None:
    """Take every mesh off a shape.

    Args:
        shape: a kernel shape.
    """
    from OCP.BRepTools import BRepTools

    BRepTools.Clean_s(shape)


def write_stl(shape: Any, path: Path) -> None:
    """Binary STL of a meshed solid, mm.

    Args:
        shape: a meshed kernel solid.
        path: of the file.

    Raises:
        OSError: the file could not be written.
    """
    from OCP.StlAPI import StlAPI_Writer

    writer = StlAPI_Writer()
    writer.ASCIIMode = False
    if not writer.Write(shape, str(path)):
        raise OSError(f"{path.name}: could not be written (is the disk full?)")


def write_triangles(path: Path, triangles: Array, name: str) -> None:
    """Binary STL of triangles (n, 3, 3), mm.

    Args:
        path: of the file.
        triangles: (n, 3, 3) corners, counterclockwise from outside.
        name: of the piece, for the header.
    """
    records = np.zeros(len(triangles), STL_RECORD)
    records["corners"] = triangles
    sides = np.diff(triangles, axis=1)
    normals = np.cross(sides[:, 0], sides[:, 1])
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    records["normal"] = normals / np.where(length > 0, length, 1.0)
    header = f"{name}, mm, as it stands on the bed".encode("ascii", "replace")[:80].ljust(80)
    path.write_bytes(header + np.uint32(len(triangles)).tobytes() + records.tobytes())


def read_stl(path: Path) -> Array:
    """Triangles (n, 3, 3) of a binary STL, mm.

    Raises:
        OSError: the file is shorter than it says.
    """
    data = path.read_bytes()
    count = int(np.frombuffer(data, "<u4", 1, 80)[0]) if len(data) >= 84 else 0
    if count == 0 or len(data) < 84 + count * STL_RECORD.itemsize:
        raise OSError(f"{path.name}: incomplete STL (is the disk full?)")
    return np.frombuffer(data, STL_RECORD, count, 84)["corners"].astype(float)


def joined_mesh(triangles: Array) -> tuple[Array, np.ndarray]:
    """Vertices (v, 3) and corners (n, 3) of triangles, equal points made one.

    Args:
        triangles: (n, 3, 3) corners, mm.
    """
    flat = np.ascontiguousarray(triangles.reshape(-1, 3) + 0.0, np.float32)  # no negative zero
    first, index = alike_rows(flat.view(np.uint32))
    # In the order in which they come first: neighbors stay neighbors.
    place = np.argsort(first)
    rank = np.empty(len(first), np.int64)
    rank[place] = np.arange(len(first))
    index = rank[index]
    corners = index.reshape(-1, 3)
    distinct = (
        (corners[:, 0] != corners[:, 1]) & (corners[:, 1] != corners[:, 2])
        & (corners[:, 2] != corners[:, 0])
    )
    return flat[first[place]].astype(float), corners[distinct]


def alike_rows(rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where each distinct row stands first, and for every row which of those it is.

    As `np.unique` of whole rows, ten times as quickly: one number is sorted in place of three.

    Args:
        rows: (n, 3) whole numbers.

    >>> first, which = alike_rows(np.array([[7, 0, 0], [1, 2, 3], [7, 0, 0]]))
    >>> sorted(first.tolist()), bool(which[0] == which[2] != which[1])
    ([0, 1], True)
    """
    # Odd factors spread three numbers over 64 bits; the lowest make room for the row's number.
    columns = x, y, z = [rows[:, way].astype(np.uint64) for way in range(3)]
    key = (x * np.uint64(0x9E3779B97F4A7C15) + y * np.uint64(0xC2B2AE3D27D4EB4F)
           + z * np.uint64(0x165667B19E3779F9))
    bits = np.uint64(max(len(rows) - 1, 1).bit_length())
    key >>= bits
    ordered = np.sort((key << bits) | np.arange(len(rows), dtype=np.uint64))
    order = (ordered & ((np.uint64(1) << bits) - np.uint64(1))).astype(np.int64)
    ordered >>= bits
    starts = np.r_[True, ordered[1:] != ordered[:-1]]
    other = _changes(columns, order)
    if np.any(other & ~starts):  # two rows came to the same number by chance
        order = np.lexsort(columns)
        starts = _changes(columns, order)
    which = np.empty(len(rows), np.int64)
    which[order] = np.cumsum(starts) - 1
    return order[starts], which


def _changes(columns: Sequence[np.ndarray], order: np.ndarray) -> np.ndarray:
    """Which rows in an order differ from the one before; the first does."""
    found = np.zeros(len(order), bool)
    found[:1] = True
    for column in columns:  # one after another, several times as quick as whole rows
        there = column[order]
        found[1:] |= there[1:] != there[:-1]
    return found


def is_watertight(corners: np.ndarray) -> bool:
    """Whether every edge is used as often one way as the other, and by two triangles.

    Args:
        corners: (n, 3) indices of the triangles.
    """
    edges = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    size = int(corners.max()) + 1
    forward = edges[:, 0].astype(np.int64) * size + edges[:, 1]
    backward = edges[:, 1].astype(np.int64) * size + edges[:, 0]
    forward.sort()
    backward.sort()
    return bool(np.array_equal(forward, backward) and np.all(np.diff(forward) > 0))


def mesh_volume(vertices: Array, corners: np.ndarray) -> float:
    """Volume inside a closed mesh (divergence theorem), in the cube of its unit.

    Args:
        vertices: (v, 3), mm.
        corners: (n, 3) indices of the triangles.

    >>> points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
    >>> sides = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    >>> round(mesh_volume(points, sides), 9)
    0.166666667
    """
    a, b, c = (vertices[corners[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)
