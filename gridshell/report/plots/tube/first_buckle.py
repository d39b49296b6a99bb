"""The buckling mode that comes first, drawn on the tube (exaggerated)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.result import Check, TubeResult

_BULGE = 0.16  # height of the drawn wave over the radius
_BOW = 1.2  # of a column's bow, over the radius
_FINEST = 24  # waves around beyond which only every few of them are drawn
_YAW, _PITCH = np.radians(-32.0), np.radians(20.0)  # of the viewer
# What is no buckling: it has no mode to draw.
_NO_MODE = ("strength", "joint", "seam", "bond", "thermal", "cut-out")


@dataclass(frozen=True)
class DrawnMode:
    """One mode.

    Attributes:
        name: of the check it belongs to.
        where: case and margin, in words.
        bulge: outward motion at (share of the length, angle), largest 1.
        bow: sideways motion of the axis at a share of the length, largest 1.
    """

    name: str
    where: str
    bulge: Callable[[Array, Array], Array]
    bow: Callable[[Array], Array]


def first_mode(tube: TubeResult, margin_text: Callable[[Any], str]) -> DrawnMode | None:
    """The mode of the buckling check with the lowest margin; None where nothing buckles.

    Args:
        tube: one design.
        margin_text: how a margin is written.
    """
    found = [
        (float(check.margin), case.name, check) for case in tube.cases for check in case.checks
        if np.isfinite(float(check.margin)) and not check.name.startswith(_NO_MODE)
        and not any(word in check.name for word in _NO_MODE)
    ]
    if not found:
        return None
    lowest, case, check = min(found, key=lambda one: one[0])
    single = [one for one in found if one[1] == case and "combined" not in one[2].name]
    if "combined" in check.name and single:
        general = [one for one in single if one[2].name.startswith("general")] or single
        _, _, drawn = min(general, key=lambda one: one[0])
    else:
        drawn = check
    return mode_of(tube, drawn, f"{check.name}, case {case!r}, margin {margin_text(lowest)}")


def _still(share: Array) -> Array:
    return np.zeros_like(share)


def _flat(share: Array, angle: Array) -> Array:
    return np.zeros(np.broadcast_shapes(share.shape, angle.shape))


def mode_of(tube: TubeResult, check: Check, where: str) -> DrawnMode:
    """The mode of one buckling check.

    Args:
        tube: one design.
        check: of one of its cases.
        where: case and margin, in words.
    """
    name, loads = check.name, tube.buckling
    wave = None
    for word, kind in (("torsion", "torsion"), ("external pressure", "lateral"),
                       ("compression", "compression"), ("bending", "compression")):
        if word in name and name.startswith("general"):
            wave = getattr(loads, kind)
            if wave is None and kind == "lateral":
                wave = loads.hydrostatic
            break
    if name.startswith("column"):
        fixed = any("fixed" in note for note in check.notes)

        def bow(share: Array) -> Array:
            return 1 - np.cos(np.pi / 2 * share) if fixed else np.sin(np.pi * share)

        return DrawnMode(name, where, _flat, bow)
    if name.startswith("ovalization"):
        along, around = 1.0, 2.0
    elif wave is not None:
        along, around = float(wave.m), float(wave.n)
    else:  # a pocket or a rib between its nodes: every other cell bulges
        grid = tube.wall.grid
        along = float(grid.cells_along) * grid.sections
        around = max(float(grid.cells_round) * grid.segments / 2, 2.0)
        if around > _FINEST:
            along, around = along * _FINEST / around, float(_FINEST)

    def bulge(share: Array, angle: Array) -> Array:
        if "torsion" in name:
            return np.sin(np.pi * share) * np.cos(around * angle - np.pi * along * share)
        wavy = np.sin(np.pi * along * share) * np.cos(around * angle)
        # Bending buckles the compressed side only, which is drawn on top.
        return wavy * np.clip(np.sin(angle), 0, 1) ** 2 if "bending" in name else wavy

    return DrawnMode(name, where, bulge, _still)


def draw_mode(axes: Any, tube: TubeResult, mode: DrawnMode) -> None:
    """The tube with the mode on it: red moves outward, blue inward; nearer faces hide others."""
    from matplotlib import colormaps
    from matplotlib.collections import PolyCollection

    radius = float(tube.wall.grid.radius)
    slender = float(tube.design.tube.length) / radius
    drawn_length = min(slender, 9.0)  # a longer tube is foreshortened
    share, angle = np.linspace(0, 1, 141)[:, None], np.linspace(0, 2 * np.pi, 97)[None, :]
    out = mode.bulge(share, angle)
    reach = 1 + _BULGE * out
    x = np.broadcast_to((share - 0.5) * drawn_length, out.shape)
    points = np.stack([
        x, reach * np.cos(angle), reach * np.sin(angle) - _BOW * mode.bow(share)], axis=-1)
    turn = np.array([[np.cos(_YAW), -np.sin(_YAW), 0], [np.sin(_YAW), np.cos(_YAW), 0], [0, 0, 1]])
    tilt = np.array([[1, 0, 0], [0, np.cos(_PITCH), -np.sin(_PITCH)],
                     [0, np.sin(_PITCH), np.cos(_PITCH)]])
    seen = points @ turn.T @ tilt.T
    corners = np.stack([seen[:-1, :-1], seen[1:, :-1], seen[1:, 1:], seen[:-1, 1:]], axis=2)
    quads = corners.reshape(-1, 4, 3)
    normal = np.cross(quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0])
    light = np.abs(normal[:, 1]) / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)
    value = out[:-1, :-1].reshape(-1)
    # The diverging map is paler in the middle, so it reads in gray as in color.
    colors = colormaps["RdBu_r"](0.5 + value / 2)
    colors[:, :3] *= (0.55 + 0.45 * light)[:, None]
    order = np.argsort(-quads[:, :, 1].mean(axis=1))
    axes.add_collection(PolyCollection(
        list(quads[order][:, :, [0, 2]]), facecolors=colors[order], edgecolors=colors[order],
        linewidths=0.3, rasterized=True,
    ))
    flat = quads[:, :, [0, 2]].reshape(-1, 2)
    low, high = flat.min(axis=0), flat.max(axis=0)
    axes.set_xlim(low[0] - 0.1, high[0] + 0.1)
    axes.set_ylim(low[1] - 0.1, high[1] + 0.1)
    axes.set_aspect("equal")
    axes.axis("off")
