"""Windows and vent holes: which casting each is in, where, and which pockets give way to its land.

A cut-out is stated on the whole tube. Castings with the same cut-outs are alike; each different
set needs molds of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Cutout
from gridshell.define.types import Array
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import at_radius, pocket_outline_at
from gridshell.wall.geometry.pattern import PocketKind
from gridshell.wall.geometry.pockets import inscribed_radius, inset_corners


@dataclass(frozen=True)
class PanelCutout:
    """A cut-out in one casting.

    Attributes:
        stated: as in the definition.
        hoop: of its middle, from the middle of the casting, at the skin's middle radius, m.
        axial: of its middle, from the lower end of the casting, m.
    """

    stated: Cutout
    hoop: float
    axial: float

    @property
    def size(self) -> tuple[float, float]:
        """Width round the tube and length along it, m."""
        if self.stated.shape == "round":
            return self.stated.diameter, self.stated.diameter
        return self.stated.width, self.stated.length


@dataclass(frozen=True)
class CastSegment:
    """Castings that are alike.

    Attributes:
        name: "" for the plain one, otherwise a suffix.
        cutouts: in each of them.
        places: (section, segment) of each, counted from 0.
    """

    name: str
    cutouts: tuple[PanelCutout, ...]
    places: tuple[tuple[int, int], ...]


def cast_segments(
    design: Design, grid: Lattice, stated: Sequence[Cutout], kinds: Sequence[PocketKind]
) -> list[CastSegment]:
    """Sort the castings of the whole tube by the cut-outs that they have.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        stated: cut-outs of the whole tube.
        kinds: pockets of one panel, by shape.

    Raises:
        InputError: a cut-out reaches over a seam or an end.
    """
    by_place: dict[tuple[int, int], list[PanelCutout]] = {
        (section, segment): []
        for section in range(grid.sections) for segment in range(grid.segments)
    }
    pitch = 2 * math.pi / grid.segments
    for index, cutout in enumerate(stated, start=1):
        if cutout.position > design.tube.length:
            raise InputError(
                f"mold.cutout[{index}].position: {cutout.position * 1e3:g} mm is beyond the tube; "
                f"must be at most {design.tube.length * 1e3:g} mm"
            )
        section = min(int(cutout.position // design.section_length), grid.sections - 1)
        turn = cutout.angle % (2 * math.pi)
        segment = min(int(turn // pitch), grid.segments - 1)
        placed = PanelCutout(
            cutout,
            (turn - (segment + 0.5) * pitch) * float(grid.radius),
            cutout.position - section * float(design.section_length),
        )
        if cutout.snap:
            placed = _snapped(placed, grid, kinds)
        _check_fit(design, grid, placed, index)
        by_place[(section, segment)].append(placed)
    groups: dict[tuple[PanelCutout, ...], list[tuple[int, int]]] = {}
    for place, cutouts in by_place.items():
        groups.setdefault(tuple(cutouts), []).append(place)
    ordered = sorted(groups.items(), key=lambda item: len(item[0]))
    result = []
    plain = () in groups
    for number, (alike, places) in enumerate(ordered, start=0 if plain else 1):
        name = f"cut-{number}" if alike else ""
        result.append(CastSegment(name, alike, tuple(places)))
    return result


def panel_origin(grid: Lattice) -> Array:
    """Lower left corner of the panel: hoop from the middle of the casting, axial from its end.

    Args:
        grid: its lattice.
    """
    return np.array([-float(grid.panel_width) / 2, float(grid.end_land)])


def _snapped(placed: PanelCutout, grid: Lattice, kinds: Sequence[PocketKind]) -> PanelCutout:
    if not kinds:
        return placed
    # The middle of the largest circle that a pocket holds is what a round window wants; for
    # triangles, rectangles and rhombi it is where the corner bisectors meet.
    centers = np.concatenate([
        inset_corners(kind.corners, inscribed_radius(kind.corners) * (1 - 1e-9)).mean(axis=1)
        for kind in kinds
    ]) + panel_origin(grid)
    here = np.array([placed.hoop, placed.axial])
    hoop, axial = centers[np.argmin(np.linalg.norm(centers - here, axis=1))]
    return PanelCutout(placed.stated, float(hoop), float(axial))


def _check_fit(design: Design, grid: Lattice, placed: PanelCutout, index: int) -> None:
    width, length = placed.size
    room = math.pi * float(grid.radius) / grid.segments
    edge = max(placed.stated.land, 1e-4)
    if abs(placed.hoop) + width / 2 + edge > room and not grid.closed:
        raise InputError(
            f"mold.cutout[{index}].angle: {placed.stated.name!r} with its land reaches over a "
            f"seam; its middle must be at least {(width / 2 + edge) * 1e3:g} mm from one, or "
            f"make it smaller"
        )
    if not length / 2 + edge <= placed.axial <= design.section_length - length / 2 - edge:
        raise InputError(
            f"mold.cutout[{index}].position: {placed.stated.name!r} with its land reaches over "
            f"the end of a section; its middle must be at least "
            f"{(length / 2 + edge) * 1e3:g} mm from one, or make it smaller"
        )


def gives_way(
    design: Design, grid: Lattice, corners: Array, cutouts: Sequence[PanelCutout]
) -> np.ndarray:
    """Which pockets (n,) are left solid for the lands of cut-outs.

    Args:
        design: as elsewhere.
        grid: as elsewhere.
        corners: (n, k, 2) rib center lines, hoop from the middle of the casting, m.
        cutouts: in the casting.
    """
    result = np.zeros(len(corners), bool)
    if not cutouts:
        return result
    # The pocket is widest at the rib tips, and so is the cut-out's land.
    radius, inset, _ = pocket_outline_at(design, grid, design.ribs.height)
    outline = inset_corners(at_radius(corners, radius, grid.radius), np.full(len(corners), inset))
    for cutout in cutouts:
        center = np.array([cutout.hoop * float(radius / grid.radius), cutout.axial])
        wide = wall_growth(design) + cutout.stated.land
        if cutout.stated.shape == "round":
            result |= _distance(outline, center) < cutout.stated.diameter / 2 + wide
        else:
            half = np.array([cutout.stated.width, cutout.stated.length]) / 2 + wide
            result |= _overlaps(outline, center, half)
    return result


def wall_growth(design: Design) -> float:
    """How much a cut-out's sides, drafted like the ribs, widen over the wall's depth, m.

    Args:
        design: one design (no arrays).
    """
    depth = design.skin.thickness + design.ribs.height
    return float(depth * math.tan(design.ribs.draft))


def _distance(polygons: Array, point: Array) -> Array:
    """Distance from a point to convex polygons (n, k, 2); 0 inside."""
    a, b = polygons, np.roll(polygons, -1, axis=1)
    side = b - a
    t = np.clip(np.sum((point - a) * side, axis=-1) / np.sum(side**2, axis=-1), 0, 1)
    near = np.linalg.norm(a + t[..., None] * side - point, axis=-1).min(axis=1)
    away = side[..., 0] * (point - a)[..., 1] - side[..., 1] * (point - a)[..., 0]
    return np.where(np.all(away >= 0, axis=1), 0.0, near)


def _overlaps(polygons: Array, center: Array, half: Array) -> np.ndarray:
    """Whether convex polygons overlap an upright rectangle (separating axes)."""
    box = center + half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    apart = np.any(polygons.max(axis=1) <= box.min(axis=0), axis=1)
    apart |= np.any(polygons.min(axis=1) >= box.max(axis=0), axis=1)
    side = np.roll(polygons, -1, axis=1) - polygons
    outward = np.stack([side[..., 1], -side[..., 0]], axis=-1)
    edge = np.sum(outward * polygons, axis=-1)
    apart |= np.any(np.einsum("nkc,bc->nkb", outward, box).min(axis=-1) >= edge, axis=1)
    return ~apart
