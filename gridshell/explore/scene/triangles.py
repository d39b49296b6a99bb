"""Triangles of a kernel solid for the page, face by face so that edges stay sharp."""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.explore.scene.shape import ON_FLOOR, Mesh, joined
from gridshell.mold.checks.release.flanks import out_of_mold
from gridshell.mold.pieces.solids.booleans import walk
from gridshell.wall.geometry.lattice import lattice
from gridshell.wall.geometry.mass import pocket_outline_at

_BAND = 1e-3  # mm


def triangles_of(
    solid: Any, tolerance: float, angle: float, design: Design, growth: float, role: str
) -> tuple[Mesh, int]:
    """A solid as a mesh whose flanks of ribs are marked as in the light mesh, and how many of its
    faces the kernel could not divide into triangles.

    Args:
        solid: of the kernel, mm.
        tolerance: how far triangles may leave it, mm; angle: between neighbors, rad.
        design: that it was made for.
        growth: of the solid over the part.
        role: part, core or cavity; the last two bound a casting from outside.
    """
    from OCP.BRepMesh import BRepMesh_IncrementalMesh

    BRepMesh_IncrementalMesh(solid, tolerance, False, angle, False)
    height = float(design.ribs.height) if design.has_ribs else 0.0
    grid = lattice(design)
    skin, tip = (
        float(pocket_outline_at(design, grid, depth)[0]) * 1e3 * growth for depth in (0.0, height)
    )
    way = out_of_mold(design) if role == "part" else -out_of_mold(design)
    meshes, missing = [], 0
    for face in walk(solid, "face"):
        points, triangles = _face(face)
        if len(triangles):
            meshes.append(_shaded(points, triangles, skin, tip, way))
        else:
            missing += 1
    return joined(meshes), missing


def _face(face: Any) -> tuple[np.ndarray, np.ndarray]:
    from OCP.BRep import BRep_Tool
    from OCP.TopAbs import TopAbs_Orientation
    from OCP.TopLoc import TopLoc_Location

    place = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, place)
    if mesh is None:
        return np.zeros((0, 3)), np.zeros((0, 3), int)
    move = place.Transformation()
    points = np.array([
        (p.X(), p.Y(), p.Z())
        for p in (mesh.Node(i + 1).Transformed(move) for i in range(mesh.NbNodes()))
    ])
    triangles = np.array([
        mesh.Triangle(i + 1).Get() for i in range(mesh.NbTriangles())
    ], dtype=int).reshape(-1, 3) - 1
    if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
        triangles = triangles[:, ::-1]
    return points, triangles


def _shaded(
    points: np.ndarray, triangles: np.ndarray, skin: float, tip: float, way: float
) -> Mesh:
    """One face with normals and marks; ``skin`` and ``tip`` are the radii its ribs lie between."""
    corners = points[triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(points)
    for column in range(3):  # area-weighted mean over the triangles at each point
        np.add.at(normals, triangles[:, column], normal)
    size = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = normals / np.where(size > 0, size, 1.0)
    radius = np.hypot(points[:, 1], points[:, 2])
    low, high = sorted((skin, tip))
    mark = np.full(len(points), -1.0)
    # A flank lies between skin and rib tip and reaches over a good part of the height.
    if high > low and np.ptp(radius) > 0.3 * (high - low) and (
        radius.min() > low - _BAND and radius.max() < high + _BAND
    ):
        mark = np.maximum(way * normals[:, 2], 0.0)
    elif high > low and np.abs(radius - skin).max() < _BAND:
        mark = np.full(len(points), ON_FLOOR)
    return Mesh(points, normals, mark, triangles)
