"""Picture of a unit cell: its mesh, and how far the formulas are off."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.proof.cell.compare import CellResult
from gridshell.proof.cell.geometry import MEDIUM
from gridshell.proof.cell.mesh import quarter_cell


def draw_cell(result: CellResult, path: Path) -> None:
    """Picture of the solid mesh (a quarter of the cell) beside the ratios; format by suffix."""
    from matplotlib.figure import Figure
    from mpl_toolkits.mplot3d.art3d import (  # type: ignore[import-untyped]
        Poly3DCollection,
    )

    points, corners = quarter_cell(replace(result.cell, radius=np.inf), MEDIUM)
    faces = _outer_faces(corners)
    shown = points.T[faces] * 1e3
    figure = Figure(figsize=(11, 4.8), layout="constrained")
    left: Any = figure.add_subplot(1, 2, 1, projection="3d")
    side = result.cell.side
    shown = shown * np.array([1, 1, side])  # ribs upward, whichever side they are on
    left.add_collection3d(Poly3DCollection(
        list(shown), facecolors=_shades(shown), edgecolors="#33475b", linewidths=0.3,
    ))
    low, high = shown.reshape(-1, 3).min(axis=0), shown.reshape(-1, 3).max(axis=0)
    left.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), zlim=(low[2], high[2]))
    left.set_box_aspect(high - low, zoom=0.92)
    left.view_init(elev=38, azim=-60)
    left.set_axis_off()
    left.set_title(f"Quarter of the cell, {(high - low)[0]:.1f} x {(high - low)[1]:.1f} mm",
                   fontsize=10)
    right = figure.add_subplot(1, 2, 2)
    rows = [row for row in result.rows if np.isfinite(row.handbook_ratio)]
    place = np.arange(len(rows))[::-1]
    right.axvline(0, color="black", linewidth=0.8)
    right.plot([100 * (row.handbook_ratio - 1) for row in rows], place, "o", color="#b5541c",
               label="handbook, thin ribs")
    right.plot([100 * (row.improved_ratio - 1) for row in rows], place, "D", color="#1c6db5",
               label="with fat-rib terms", markersize=5)
    right.set_yticks(place, [row.name for row in rows])
    right.set_xlabel("formula over solid cell, difference in %")
    right.grid(axis="x", linewidth=0.4)
    right.legend(loc="best", fontsize=8, framealpha=1)
    figure.savefig(path, dpi=130)


def _shades(faces: Array) -> Array:
    """Colors by the slope of each face (n, 4, 3), whichever way round its corners are."""
    normal = np.abs(np.cross(faces[:, 2] - faces[:, 0], faces[:, 3] - faces[:, 1]))
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
    light = normal @ np.array([0.15, 0.35, 0.5])
    return np.asarray(np.outer(0.45 + light, np.array([0.79, 0.87, 0.95])).clip(0, 1))


def _outer_faces(corners: IntArray) -> IntArray:
    quads = [(0, 1, 4, 2), (3, 5, 7, 6), (0, 1, 5, 3), (2, 4, 7, 6), (0, 2, 6, 3), (1, 4, 7, 5)]
    faces = np.concatenate([corners[list(quad)].T for quad in quads])
    _, first, count = np.unique(
        np.sort(faces, axis=1), axis=0, return_index=True, return_counts=True
    )
    return np.asarray(faces[first[count == 1]])
