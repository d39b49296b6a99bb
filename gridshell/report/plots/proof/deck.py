"""Picture of a finite-element mesh: its elements by set, as much as can be told apart."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.proof.decks.model import FACES, Model, Part
from gridshell.report.numbers import shown
from gridshell.report.plots import style

MOST_FACES = 5000  # more can't be told apart
_COLORS = (style.SKY, style.ORANGE, style.GREEN, style.PURPLE, style.BLUE)


def plot_mesh(model: Model, title: str, path: str | Path, system: str = "metric") -> None:
    """Draw the elements of a mesh from the side of its ribs, and save it.

    Args:
        model: tube.
        title: of the design.
        path: png, pdf or svg.
        system: metric or inch.

    Raises:
        InputError: the picture can't be written.
    """
    from matplotlib.patches import Patch

    style.check_picture_path(path)
    faces, owner = _faces(model)
    center = model.points[faces].mean(axis=1)
    picked, said = np.arange(len(faces)), ""
    if model.kind != "wall" or len(faces) > MOST_FACES:
        picked = _patch(model, center)
        reach = float(model.points[faces[picked], 0].max())
        said = f", drawn: the first {shown(reach, 'length', system, 3)}, in part"
    kinds = list(dict.fromkeys(map(_kind, model.parts)))
    color = np.array([kinds.index(_kind(part)) for part in model.parts])[owner[picked]]
    with style.figure(9.0, 5.6, subplot_kw={"projection": "3d"}) as (drawn, axes):
        style.headline(
            drawn, f"{title}\n{len(model.points):,} nodes, {model.elements:,} elements{said}")
        _draw(axes, model.points[faces[picked]], color)
        axes.legend(handles=[
            Patch(facecolor=_COLORS[k % len(_COLORS)], edgecolor=style.INK,
                  label=_words(model, kind))
            for k, kind in enumerate(kinds)
        ], loc="lower left", frameon=False, fontsize=9, title="element sets",
            alignment="left")
        style.save(drawn, path)


def _kind(part: Part) -> str:
    return part.name.split("_")[0]


def _words(model: Model, kind: str) -> str:
    parts = [part for part in model.parts if _kind(part) == kind]
    count = sum(len(part.cells) for part in parts)
    return f"{kind}{'_...' if len(parts) > 1 else ''}: {count:,}"


def _patch(model: Model, center: Array) -> IntArray:
    """Faces near the left end on the side where the ribs are seen: as many as can be told apart.

    As long as wide, and at most half of the tube round: its lower half for ribs inside.

    Args:
        model: tube.
        center: (faces, 3) of each face, m.
    """
    far = np.hypot(model.points[:-2, 1], model.points[:-2, 2])
    inside = model.radius - far.min() > far.max() - model.radius
    away = np.abs(np.arctan2(center[:, 1], -center[:, 2] if inside else center[:, 2]))
    size = np.maximum(center[:, 0], 2 * model.radius * away)
    size = np.where(away <= np.pi / 2, size, np.inf)
    nearest = np.argsort(size, kind="stable")[:MOST_FACES]
    return nearest[np.isfinite(size[nearest])]


def _faces(model: Model) -> tuple[IntArray, IntArray]:
    """Corners of all shells, or of the faces that one solid has for itself, and whose they are."""
    corners, owner = [], []
    for number, part in enumerate(model.parts):
        cells = part.cells
        found = cells[:, FACES[:, :4]].reshape(-1, 4) if model.is_solid else cells[:, :4]
        corners.append(found)
        owner.append(np.full(len(found), number))
    faces, owners = np.concatenate(corners), np.concatenate(owner)
    if model.is_solid:
        _, first, count = np.unique(
            np.sort(faces, axis=1), axis=0, return_index=True, return_counts=True)
        keep = first[count == 1]
        faces, owners = faces[keep], owners[keep]
    return faces, owners


def _draw(axes: Any, corners: Array, owner: IntArray) -> None:
    from matplotlib.colors import to_rgb
    from mpl_toolkits.mplot3d.art3d import Poly3DCollection  # type: ignore[import-untyped]

    normal = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    light = 0.62 + 0.38 * np.abs(normal @ np.array([0.25, -0.6, 0.76]))
    colors = np.array([to_rgb(_COLORS[k % len(_COLORS)]) for k in range(int(owner.max()) + 1)])
    axes.add_collection3d(Poly3DCollection(
        corners * 1e3, facecolors=colors[owner] * light[:, None], edgecolors="0.2",
        linewidths=0.25))
    low, high = corners.min(axis=(0, 1)) * 1e3, corners.max(axis=(0, 1)) * 1e3
    axes.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), zlim=(low[2], high[2]))
    axes.set_box_aspect(high - low, zoom=1.1)
    axes.view_init(elev=38, azim=-62)
    axes.set_proj_type("ortho")
    axes.set_axis_off()
