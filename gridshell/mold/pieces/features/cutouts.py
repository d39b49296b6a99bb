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
from gridshell.wall.geometry.mass import at_radius, pocket_outline_at, rib_side
from gridshell.wall.geometry.pattern import PocketKind
from gridshell.wall.geometry.pockets import inscribed_radius, inset_corners

LEAST_LAND = 1e-4  # m, of full wall between a cut-out and a pocket, an end or another cut-out


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
        _check_fit(design, grid, placed, f"mold.cutout[{index}]")
        there = by_place[(section, segment)]
        _check_apart(design, placed, there, f"mold.cutout[{index}]")
        there.append(placed)
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
    """Lower left corner of the panel: hoop from the middle of the casting, axial from its end."""
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


def _check_fit(design: Design, grid: Lattice, placed: PanelCutout, where: str) -> None:
    width, length = (side + 2 * wall_growth(design) for side in placed.size)
    # The arc of a piece is shortest at its inner face, and a cut-out is widest at the rib tips.
    radius = float(grid.radius)
    inner = min(radius, radius + rib_side(design) * float(
        design.skin.thickness / 2 + design.rib_height))
    edge = max(placed.stated.land, LEAST_LAND)
    needed = (width / 2 + edge) * radius / inner
    if abs(placed.hoop) + needed > math.pi * radius / grid.segments and not grid.closed:
        raise InputError(
            f"{where}.angle: {placed.stated.name!r} with its land reaches over a seam; its middle "
            f"must be at least {needed * 1e3:.4g} mm from one, or make it smaller"
        )
    if not length / 2 + edge <= placed.axial <= design.section_length - length / 2 - edge:
        raise InputError(
            f"{where}.position: {placed.stated.name!r} with its land reaches over the end of a "
            f"section; its middle must be at least {(length / 2 + edge) * 1e3:.4g} mm from one, "
            f"or make it smaller"
        )


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


def wall_growth(design: Design) -> float:
    """How much a cut-out's sides, drafted like the ribs, widen over the wall's depth, m."""
    depth = design.skin.thickness + design.rib_height
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
