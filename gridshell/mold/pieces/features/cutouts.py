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
from gridshell.define.tables.cutouts import (
    LEAST_LAND,
    check_place,
    place_of,
    room_of,
    size_of,
    wall_growth,
)
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
        return size_of(self.stated)


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
    for index, cutout in enumerate(stated, start=1):
        where = f"mold.cutout[{index}]"
        section, segment, hoop, axial = place = place_of(design, cutout)
        if cutout.snap:
            hoop, axial = _snapped(design, cutout, (hoop, axial), grid, kinds)
        placed = PanelCutout(cutout, hoop, axial)
        for problem in check_place(design, cutout, place._replace(hoop=hoop, axial=axial), where):
            raise InputError(str(problem))
        others = by_place[(section, segment)]
        _check_apart(design, placed, others, where)
        others.append(placed)
    groups: dict[tuple[PanelCutout, ...], list[tuple[int, int]]] = {}
    for there, cutouts in by_place.items():
        groups.setdefault(tuple(cutouts), []).append(there)
    ordered = sorted(groups.items(), key=lambda item: len(item[0]))
    result = []
    plain = () in groups
    for number, (alike, places) in enumerate(ordered, start=0 if plain else 1):
        name = f"cut-{number}" if alike else ""
        result.append(CastSegment(name, alike, tuple(places)))
    return result


def panel_origin(grid: Lattice) -> Array:
    """Lower left corner of the panel: hoop from the middle of the casting, axial from its end."""
    return np.array([-float(grid.panel_width) / 2, float(grid.end_land)])


def _snapped(
    design: Design, cutout: Cutout, here: tuple[float, float], grid: Lattice,
    kinds: Sequence[PocketKind],
) -> tuple[float, float]:
    """Hoop and axial place of the nearest pocket where the cut-out has room."""
    if not kinds:
        return here
    # The middle of the largest circle that a pocket holds is what a round window wants; for
    # triangles, rectangles and rhombi it is where the corner bisectors meet.
    centers = np.concatenate([
        inset_corners(kind.corners, inscribed_radius(kind.corners) * (1 - 1e-9)).mean(axis=1)
        for kind in kinds
    ]) + panel_origin(grid)
    most, (low, high) = room_of(design, cutout)
    fits = (np.abs(centers[:, 0]) <= most) & (centers[:, 1] >= low) & (centers[:, 1] <= high)
    centers = centers[fits] if fits.any() else centers
    hoop, axial = centers[np.argmin(np.linalg.norm(centers - np.array(here), axis=1))]
    return float(hoop), float(axial)


def _check_apart(
    design: Design, placed: PanelCutout, others: Sequence[PanelCutout], where: str
) -> None:
    """Refuse cut-outs that run into each other: they are one opening, to be stated as one."""
    room = 2 * wall_growth(design) + LEAST_LAND
    for other in others:
        across = abs(placed.hoop - other.hoop)
        along = abs(placed.axial - other.axial)
        (w1, l1), (w2, l2) = placed.size, other.size
        if placed.stated.shape == other.stated.shape == "round":
            apart = math.hypot(across, along) - (w1 + w2) / 2
        else:
            apart = max(across - (w1 + w2) / 2, along - (l1 + l2) / 2)
        if apart < room:
            raise InputError(
                f"{where}.position: {placed.stated.name!r} is {max(apart, 0.0) * 1e3:.3g} mm from "
                f"{other.stated.name!r}; must be at least {room * 1e3:.3g} mm, or state one larger "
                f"cut-out"
            )


def gives_way(
    design: Design, grid: Lattice, corners: Array, cutouts: Sequence[PanelCutout]
) -> tuple[np.ndarray, np.ndarray]:
    """Which pockets (n,) are left solid for the lands of cut-outs, and which of them only because
    the stated land is narrower than their ribs.

    Args:
        design: as elsewhere.
        grid: as elsewhere.
        corners: (n, k, 2) rib center lines, hoop from the middle of the casting, m.
        cutouts: in the casting.
    """
    result = np.zeros(len(corners), bool)
    if not cutouts:
        return result, result
    # The pocket is widest at the rib tips, and so is the cut-out's land.
    radius, inset, _ = pocket_outline_at(design, grid, design.ribs.height)
    ribs = at_radius(corners, radius, grid.radius)
    outline = inset_corners(ribs, np.full(len(corners), inset))
    cut = result.copy()
    for cutout in cutouts:
        result |= _near(design, cutout, outline, cutout.stated.land, float(radius / grid.radius))
        # At a corner of a pocket the rib is wider than a narrow land.
        cut |= _near(design, cutout, ribs, LEAST_LAND, float(radius / grid.radius))
    return result | cut, cut & ~result


def _near(
    design: Design, cutout: PanelCutout, polygons: Array, land: float, scale: float
) -> np.ndarray:
    """Which polygons (n, k, 2) lie within a land of a cut-out at the rib tips."""
    center = np.array([cutout.hoop * scale, cutout.axial])
    wide = wall_growth(design) + land
    if cutout.stated.shape == "round":
        return np.asarray(_distance(polygons, center) < cutout.stated.diameter / 2 + wide)
    return _overlaps(polygons, center, np.array(cutout.size) / 2 + wide)


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
