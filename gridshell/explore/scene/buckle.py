"""What buckles first, in three dimensions: the whole tube in its mode, or one cell enlarged.

Each scene has two bodies with the same triangles, ``still`` and ``moved``; the page goes to and fro
between them. How far they part is for the eye only: buckling theory gives the shape, not its size.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.explore.scene.shape import (
    Mesh,
    casting,
    cylinder_patch,
    facet_of,
    grid_mesh,
    joined,
    on_cylinder,
    outward,
    pocket_flanks,
    pocket_outline,
    steps,
)
from gridshell.explore.serve.packing import packed
from gridshell.mold.relief.ribbing import ribbing
from gridshell.report.numbers import margin, shown
from gridshell.report.plots.tube.first_buckle import DrawnMode, mode_of
from gridshell.tube.result import Check, TubeResult
from gridshell.wall.geometry.lattice import lattice
from gridshell.wall.geometry.mass import rib_side

_BULGE, _BOW = 0.12, 0.9  # of the radius
_MOST_POINTS = 250_000  # of a tube drawn with its ribs
_ROWS = 24  # along a casting
_RINGS, _PIECES, _CHORDS = 9, 14, 4  # of the enlarged cell: inwards, along a side, at a corner
_LOCAL = {"skin pocket buckling": "pocket", "rib crippling": "rib"}


def buckles(tube: TubeResult) -> list[dict[str, Any]]:
    """The buckling checks of a tube, the one that comes first in front, each once."""
    found: dict[str, tuple[float, str]] = {}
    for case in tube.cases:
        for check in case.checks:
            lowest = float(check.margin)
            if check.subject != "stability" or not math.isfinite(lowest) or (
                "combined" in check.name
            ):
                continue
            if lowest < found.get(check.name, (math.inf, ""))[0]:
                found[check.name] = (lowest, case.name)
    return [
        {"name": name, "case": case, "margin": margin(lowest),
         "where": _LOCAL.get(name, "tube")}
        for name, (lowest, case) in sorted(found.items(), key=lambda one: one[1][0])
    ]


def buckle_scene(tube: TubeResult, name: str) -> bytes:
    """The tube, or one of its cells, in the mode of one check, packed for the page.

    Args:
        tube: one design.
        name: of the check, one of `buckles`.

    Raises:
        InputError: no such check, or no cell to show.
    """
    listed = {one["name"]: one for one in buckles(tube)}
    if name not in listed:
        raise InputError(f"check: {name!r} does not buckle here; known: {', '.join(listed)}")
    one = listed[name]
    check = next(c for case in tube.cases if case.name == one["case"] for c in case.checks
                 if c.name == name)
    said = f"{name}, case {one['case']!r}, margin {one['margin']}"
    if one["where"] == "tube":
        return _tube_scene(tube, mode_of(tube, check, said), _mode_words(check))
    return cell_scene(tube.design, one["where"], f"{said}{_side_words(name, one, tube)}")


def _mode_words(check: Check) -> str:
    return check.notes[0] if check.notes else ""


def _side_words(name: str, one: dict[str, Any], tube: TubeResult) -> str:
    """Which of the pockets or ribs goes first."""
    case = next(case for case in tube.cases if case.name == one["case"])
    bent = float(case.moment) > 0
    what = "pockets" if "pocket" in name else "ribs"
    return f"; {what} at the most compressed side go first" if bent else (
        f"; all {what} are loaded alike, any may go first")


def _tube_scene(tube: TubeResult, mode: DrawnMode, words: str) -> bytes:
    design = tube.design
    grid = tube.wall.grid
    body, ribs = _tube_points(design)
    radius, length = float(grid.radius) * 1e3, float(design.tube.length) * 1e3
    share = np.clip(body.points[:, 0] / length, 0, 1)
    angle = np.arctan2(body.points[:, 2], body.points[:, 1])
    out = np.asarray(mode.bulge(share, angle), float)
    bow = np.asarray(mode.bow(share), float)
    moved = body.points.copy()
    moved[:, 1] += _BULGE * radius * out * np.cos(angle)
    moved[:, 2] += _BULGE * radius * out * np.sin(angle) - _BOW * radius * bow
    sway = out if np.any(out) else bow
    told = Mesh(body.points, body.normals, sway, body.triangles)
    notes = [] if ribs else ["too many pockets to bend one by one: drawn as a plain wall"]
    return packed(
        {"still": told, "moved": Mesh(moved, body.normals, sway, body.triangles)},
        {"said": "; ".join([mode.where, *([words] if words else []), *notes]),
         "dimensions": tube_dimensions(design)},
    )


def _tube_points(design: Design) -> tuple[Mesh, bool]:
    """The whole tube as one mesh, with its ribs where there are not too many points."""
    grid = lattice(design)
    part = casting(design, grid, _ROWS)
    sections, segments = design.tube.sections, design.tube.segments
    ribs = part.points * sections * segments <= _MOST_POINTS
    length = float(design.section_length) * 1e3
    if not ribs:
        skin, radius = float(design.skin.thickness), float(grid.radius)
        around = steps(-math.pi, math.pi, facet_of(skin, radius))
        places = np.linspace(0.0, length * sections, 6 * _ROWS)
        return joined([
            cylinder_patch(around, places, (radius + way * skin / 2) * 1e3, way) for way in (1, -1)
        ]), False
    parts, one = [], joined([part.ribbed, part.smooth])
    for section in range(sections):
        for segment in range(segments):
            turn = 2 * math.pi * segment / segments
            c, s = math.cos(turn), math.sin(turn)
            spin = np.array([[1, 0, 0], [0, c, s], [0, -s, c]])  # rows times this
            parts.append(Mesh(
                one.points @ spin + [section * length, 0.0, 0.0], one.normals @ spin, one.mark,
                one.triangles,
            ))
    return joined(parts), True


def tube_dimensions(design: Design) -> list[dict[str, Any]]:
    """Lines with a size beside the tube: from, to (mm) and text."""
    radius = float(design.tube.outside_diameter) * 500
    length = float(design.tube.length) * 1e3
    beside = -radius * 1.15  # towards the eye, where nothing hides it
    return [
        {"from": [0.0, beside, -radius], "to": [length, beside, -radius],
         "text": shown(design.tube.length, "length", design.units, 4)},
        {"from": [length, beside, -radius], "to": [length, beside, radius],
         "text": shown(design.tube.outside_diameter, "length", design.units, 4)},
    ]


def cell_scene(design: Design, moves: str = "", said: str = "") -> bytes:
    """One pocket with its ribs cut along their middle, enlarged, with its sizes.

    Args:
        design: one design.
        moves: ``pocket`` or ``rib``, which of them bulges; neither if empty.
        said: what stands under the picture.

    Raises:
        InputError: the wall has no pockets.
    """
    if not design.has_ribs or design.ribs.pattern == "families":
        raise InputError("ribs.pattern: this wall has no pocket to enlarge")
    grid = lattice(design)
    groups = [group for group in ribbing(design, grid).pockets if len(group.corners)]
    if not groups:
        raise InputError("ribs.smallest_pocket: every pocket is left solid")
    group = max(groups, key=lambda g: float(np.ptp(g.corners[..., 0], axis=1).max()))
    size = np.ptp(group.corners[..., 0], axis=1)
    place = np.where(size > 0.99 * size.max(), np.abs(group.corners.mean(axis=1)[:, 0]), np.inf)
    corners = group.corners[int(np.argmin(place))][None]
    shape = _Cell(design, corners, group.corner_radius)
    still, moved = shape.mesh(0.0, 0.0), shape.mesh(*{
        "pocket": (1.0, 0.0), "rib": (0.0, 1.0)}.get(moves, (0.0, 0.0)))
    mark = moved.mark if moves else still.mark
    return packed(
        {"still": Mesh(still.points, still.normals, mark, still.triangles), "moved": moved},
        {"said": said or "one cell; the ribs are cut along their middle",
         "dimensions": shape.dimensions(), "side": shape.side},
    )


class _Cell:
    """Outlines of one pocket at the rib tips and at the floor, and the mesh through them."""

    def __init__(self, design: Design, corners: Array, corner_radius: float) -> None:
        self.design, self.side = design, rib_side(design)
        grid = lattice(design)
        reference = float(grid.radius)
        outline = {
            depth: pocket_outline(
                design, grid, corners=corners, corner_radius=corner_radius, depth=depth,
                chords=_CHORDS, pieces=_PIECES)
            for depth in (float(design.ribs.height), 0.0)
        }
        (self.top, self.tip), (self.low, self.floor) = outline.values()
        self.far = reference - self.side * float(design.skin.thickness) / 2
        after = np.roll(corners, -1, axis=1)
        share = np.concatenate([np.arange(_PIECES) / _PIECES, np.ones(_CHORDS)])
        cell = (corners[:, :, None] + (after - corners)[:, :, None] * share[:, None])
        cell = cell.reshape(1, -1, 2)
        self.border = np.concatenate([cell, cell[:, :1]], axis=1) / [reference, 1.0]
        # Sideways motion of a rib's tip: one full wave along each side, across it.
        along = after - corners
        across = np.stack([along[..., 1], -along[..., 0]], axis=-1)
        across = across / np.linalg.norm(across, axis=-1, keepdims=True)
        wave = (np.sin(2 * np.pi * share)[:, None] * across[:, :, None]).reshape(1, -1, 2)
        self.wave = np.concatenate([wave, wave[:, :1]], axis=1) / [reference, 1.0]
        self.size = float(np.ptp(corners[..., 0]))

    def mesh(self, pocket: float, rib: float) -> Mesh:
        """The cell with its pocket or its ribs moved by a share of what is drawn."""
        shift = 0.3 * rib * float(self.design.ribs.height) * self.wave
        border, top, low = self.border + shift, self.top + shift, self.low
        inwards = np.linspace(0.0, 1.0, _RINGS)
        middle = np.broadcast_to(low[:, :-1].mean(axis=1, keepdims=True), low.shape)
        rings = low[:, None] + (middle - low)[:, None] * inwards[:, None, None]
        bulge = (1 - (1 - inwards) ** 2) ** 2
        out = -self.side * pocket * 0.14 * self.size * bulge[None, :, None]
        moved_rib = np.linalg.norm(self.wave, axis=-1) / np.linalg.norm(
            self.wave, axis=-1).max() * rib
        parts = [
            self._sheet(np.stack([border, top], axis=1), self.tip,
                        np.stack([moved_rib, moved_rib], axis=1), self.side),
            self._sheet(rings, self.floor + out, pocket * bulge[None, :, None], self.side),
            self._sheet(
                np.concatenate([self.border[:, None], rings], axis=1),
                self.far + np.concatenate([np.zeros((1, 1, 1)), out], axis=1),
                pocket * np.concatenate([[0.0], bulge])[None, :, None], -self.side),
        ]
        flanks = pocket_flanks(self.design, top, low, self.tip, self.floor)
        parts.append(Mesh(flanks.points, flanks.normals, np.zeros(len(flanks.points)),
                          flanks.triangles))
        upper = on_cylinder(border[..., 0], border[..., 1], self.tip)
        lower = on_cylinder(self.border[..., 0], self.border[..., 1], self.far)
        cut = np.stack([upper, lower], axis=1) * 1e3
        normal = np.cross(np.gradient(cut[:, 0], axis=1), cut[:, 1] - cut[:, 0])
        normal /= np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-12)
        parts.append(grid_mesh(cut, -self.side * normal[:, None], np.zeros(cut.shape[:-1]),
                               flip=self.side > 0))
        return joined(parts)

    def _sheet(self, rings: Array, radius: Any, mark: Any, way: float) -> Mesh:
        points = on_cylinder(rings[..., 0], rings[..., 1], radius) * 1e3
        return grid_mesh(points, way * outward(rings[..., 0]),
                         np.broadcast_to(mark, rings.shape[:-1]), flip=way < 0)

    def dimensions(self) -> list[dict[str, Any]]:
        """Width of the cell, height of the rib, skin: from, to (mm) and text."""
        system = self.design.units
        angles, places = self.border[0, :, 0], self.border[0, :, 1]
        end = int(np.argmax(places))

        def at(angle: float, x: float, radius: float) -> list[float]:
            return [float(v) * 1e3 for v in on_cylinder(np.array(angle), np.array(x), radius)]

        x, angle = float(places.min()) - 0.12 * self.size, float(angles[end])
        low, high = float(angles.min()), float(angles.max())
        beyond = float(places.max()) + 0.06 * self.size
        reach = self.tip
        return [
            {"from": at(low, x, reach), "to": at(high, x, reach),
             "text": shown((high - low) * reach, "length", system, 3)},
            {"from": at(angle, beyond, self.floor), "to": at(angle, beyond, self.tip),
             "text": f"rib {shown(self.design.ribs.height, 'length', system, 3)}"},
            {"from": at(angle, beyond, self.far), "to": at(angle, beyond, self.floor),
             "text": f"skin {shown(self.design.skin.thickness, 'length', system, 3)}"},
        ]
