"""The pockets of one casting as they are molded: which are cut, their corners, radii and fillets.

Pattern, outline and the choice of pockets left solid come from `gridshell.wall`, so the part that
is weighed is the part that is cast. What the solid leaves out is counted here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.mold.pieces.cutouts import PanelCutout, gives_way, panel_origin, wall_growth
from gridshell.mold.relief.closed import half_of
from gridshell.mold.relief.faces import Island, Station
from gridshell.mold.relief.outline import Loops, circle_loops, polygon_loops, rectangle_corners
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import at_radius, is_left_solid, pocket_outline_at, rib_side
from gridshell.wall.geometry.pattern import panel_pockets
from gridshell.wall.geometry.pockets import inscribed_radius, outline_perimeter
from gridshell.wall.geometry.rib_section import fillet_area

FITS = 0.95  # share of the room in a small pocket that a corner radius may take
SMALLEST_ROUNDING = 5e-5  # m, left of a corner radius inside its fillet
_SMALLEST_FILLET = 1e-4  # m; a smaller one is left out


@dataclass(frozen=True)
class Pockets:
    """Alike pockets of one casting.

    Attributes:
        name: triangle, rectangle...
        corners: (n, k, 2) rib center lines; hoop from the middle of the casting at the skin's
            middle radius, axial from its lower end, m.
        corner_radius: at the pocket's floor, m; less than stated where it does not fit.
        fillet: radius between rib and skin, m; less than stated where it does not fit.
        shortfall: volume of fillet left out of the solids, of all n together, m3.
    """

    name: str
    corners: Array
    corner_radius: float
    fillet: float
    shortfall: float


@dataclass(frozen=True)
class Ribbing:
    """All pockets and cut-outs of one casting.

    Attributes:
        pockets: by shape.
        cutouts: windows and vent holes.
        left_solid: pockets cut by a border and too small to keep.
        given_way: pockets left solid for the lands of cut-outs.
        given_way_corners: their corners, by shape, for the mass.
        notes: what differs from the statement, and why.
    """

    pockets: tuple[Pockets, ...]
    cutouts: tuple[PanelCutout, ...]
    left_solid: int
    given_way: int
    given_way_corners: tuple[Array, ...]
    notes: tuple[str, ...]

    @property
    def count(self) -> int:
        """Pockets that are cut."""
        return sum(len(group.corners) for group in self.pockets)


def ribbing(
    design: Design, grid: Lattice, cutouts: Sequence[PanelCutout] = ()
) -> Ribbing:
    """The pockets of a casting with these cut-outs.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        cutouts: of the cast segment.

    Raises:
        InputError: a pattern whose ribs the molds can't follow.
    """
    if design.has_ribs and grid.pattern == "families":
        raise InputError(
            "ribs.pattern: 'families' has no list of pockets, so no mold can be made of it; use "
            "isogrid, orthogrid or diagonal"
        )
    groups, notes, ways = [], [], []
    left = given = widened = 0
    for kind in panel_pockets(grid) if design.has_ribs else []:
        corners = kind.corners + panel_origin(grid)
        if bool(np.all(is_left_solid(design, grid, corners[:1], kind.cut))):
            left += len(corners)
            continue
        gone, narrow = gives_way(design, grid, corners, cutouts)
        widened += int(narrow.sum())
        if gone.any():
            ways.append(corners[gone])
            given += int(gone.sum())
        if not gone.all():
            group, note = _fitted(design, grid, kind.name, corners[~gone])
            groups.append(group)
            if note and note not in notes:
                notes.append(note)
    if left:
        notes.append(f"{left} pockets cut by a border are below ribs.smallest_pocket: left solid")
    if given:
        notes.append(f"{given} pockets gave way to the lands of cut-outs: left solid")
    if widened:
        notes.append(
            f"{widened} of them lie outside the stated mold.cutout land, which is narrower than "
            "their ribs: the land is wider there"
        )
    return Ribbing(tuple(groups), tuple(cutouts), left, given, tuple(ways), tuple(notes))


def _fitted(
    design: Design, grid: Lattice, name: str, corners: Array
) -> tuple[Pockets, str | None]:
    """Corner radius and fillet that fit pockets of one shape."""
    ribs = design.ribs
    floor, inset, stated = (float(v) for v in pocket_outline_at(design, grid, 0.0))
    flat = at_radius(corners[:1], floor, grid.radius)
    room = float(np.asarray(inscribed_radius(flat))[0]) - inset
    rounding = min(stated, FITS * room)
    note = None
    if rounding < stated:
        note = (
            f"{name}: corner radius {stated * 1e3:g} mm does not fit; molded with "
            f"{rounding * 1e3:.3g} mm"
        )
    half = (math.pi / 2 - ribs.draft) / 2
    fillet = min(
        float(ribs.root_fillet),
        max(rounding - SMALLEST_ROUNDING, 0.0) / math.tan(half),
        0.9 * float(ribs.height) / math.tan(half),
    )
    if fillet < _SMALLEST_FILLET:
        fillet = 0.0
    missing = fillet_area(ribs.root_fillet, math.pi / 2 + ribs.draft) - fillet_area(
        fillet, math.pi / 2 + ribs.draft
    )
    length = float(np.asarray(outline_perimeter(flat, np.array([inset]), rounding))[0])
    if fillet < ribs.root_fillet:
        note = (note + "; " if note else f"{name}: ") + (
            f"root fillet {ribs.root_fillet * 1e3:g} mm needs a corner radius as large; molded "
            f"with {fillet * 1e3:.3g} mm"
        )
    return Pockets(name, corners, rounding, fillet, float(missing) * length * len(corners)), note


def islands(
    design: Design, grid: Lattice, ribs: Ribbing, scale: float, through: bool,
    span: tuple[float, float] | None = None,
) -> list[Island]:
    """The pockets (and cut-outs) as islands to be laid.

    Args:
        design: the casting.
        grid: the casting.
        ribs: the casting.
        scale: mm of the solid per m of the part.
        through: True where cut-outs are holes (the part), False where they are closed (molds).
        span: only those between two axial positions of the solid, mm.
    """
    laid: list[Island] = []
    for group in ribs.pockets:
        corners = _within(group.corners, scale, span)
        for half, part in enumerate(_halves(grid, corners)):
            if len(part):
                laid.append(_pocket_island(design, grid, group, part, scale, span, half=half))
    for cutout in ribs.cutouts:
        if len(_within(np.array([[[cutout.hoop, cutout.axial]]]), scale, span)):
            laid.append(_cutout_island(design, grid, cutout, scale, through))
    return laid


def _halves(grid: Lattice, corners: Array) -> list[Array]:
    """All pockets, or those of a closed tube by the half they lie in, see `lay_closed_tube`."""
    if not grid.closed:
        return [corners]
    angle = math.pi / 2 + corners[..., 0].mean(axis=1) / float(grid.radius)
    second = half_of(angle) == 1
    moved = corners.copy()
    # Angles of the second half run on from those of the first.
    moved[second & (angle < 0), :, 0] += 2 * math.pi * float(grid.radius)
    return [moved[~second], moved[second]]


def _within(corners: Array, scale: float, span: tuple[float, float] | None) -> Array:
    if span is None:
        return corners
    middle = corners[..., 1].mean(axis=1) * scale
    return corners[(middle > span[0]) & (middle < span[1])]


def _placed(design: Design, grid: Lattice, corners: Array, radius: float) -> Array:
    """Corners at a radius, hoop length counted from the angle 0 (the crown is at 90 deg)."""
    placed = at_radius(corners, radius, grid.radius)
    return placed + np.array([radius * math.pi / 2, 0.0])


def _scaled(loops: Loops, scale: float) -> Loops:
    return Loops(
        loops.start * scale, loops.arc, loops.center * scale, loops.angle, loops.sweep,
        loops.radius * scale,
    )


def _pocket_island(
    design: Design, grid: Lattice, group: Pockets, corners: Array, scale: float,
    span: tuple[float, float] | None, *, half: int,
) -> Island:
    ribs = design.ribs
    less = float(pocket_outline_at(design, grid, 0.0)[2]) - group.corner_radius

    def station(depth: float, further: float = 0.0, pull: float | None = None) -> Station:
        radius, inset, rounding = (float(v) for v in pocket_outline_at(design, grid, depth))
        rounding = 0.0 if group.corner_radius == 0 else rounding - less - further
        loops = polygon_loops(_placed(design, grid, corners, radius), inset + further, rounding)
        return Station(_scaled(loops, scale), radius * scale, pull)

    stations = [station(float(ribs.height))]
    if group.fillet > 0:
        lean = (math.pi / 2 - ribs.draft) / 2
        reach = group.fillet * math.tan(lean)
        stations += [
            station(reach * math.cos(ribs.draft)), station(0.0, pull=math.cos(lean)),
            station(0.0, further=reach),
        ]
    else:
        stations.append(station(0.0))
    return Island(
        tuple(stations), _cells(design, grid, corners, scale, span),
        width=float(ribs.width) * scale, half=half,
    )


def _cells(
    design: Design, grid: Lattice, corners: Array, scale: float,
    span: tuple[float, float] | None,
) -> Array:
    """Pieces of base (angle, x) that pockets own, kept inside the border of the solid.

    Where a border or a joint runs along ribs they move into the half of the rib that is left.
    """
    edge = design.ribs.width / 4
    room_hoop = math.pi * float(grid.radius) / grid.segments - edge
    hoop = corners[..., 0] if grid.closed else np.clip(corners[..., 0], -room_hoop, room_hoop)
    low, high = (0.0, math.inf) if span is None else (span[0] / scale, span[1] / scale)
    axial = np.clip(
        corners[..., 1], max(low, 0.0) + edge, min(high, design.section_length) - edge
    )
    return np.stack([math.pi / 2 + hoop / float(grid.radius), axial * scale], axis=-1)


def _cutout_island(
    design: Design, grid: Lattice, cutout: PanelCutout, scale: float, through: bool
) -> Island:
    side = rib_side(design)
    skin = float(design.skin.thickness) / 2
    base = float(grid.radius) + side * (skin + float(design.rib_height))
    far = float(grid.radius) - side * skin

    def station(radius: float, growth: float) -> Station:
        center = _placed(
            design, grid, np.array([[[cutout.hoop, cutout.axial]]]), radius
        )[:, 0]
        if cutout.stated.shape == "round":
            loops = circle_loops(center, cutout.stated.diameter / 2 + growth)
        else:
            width, length = cutout.size
            corners = rectangle_corners(center, width + 2 * growth, length + 2 * growth)
            loops = polygon_loops(corners, 0.0, cutout.stated.corner_radius + growth)
        return Station(_scaled(loops, scale), radius * scale)

    return Island(
        (station(base, wall_growth(design)), station(far, 0.0)), None, open=through
    )


def clean_planes(ribs: Ribbing, scale: float) -> Array:
    """Axial positions (mm) where a plane across the casting meets ribs only, no pocket.

    Args:
        ribs: pockets and cut-outs of one cast segment.
        scale: mm of the solid per m of the part.
    """
    if not ribs.pockets:
        return np.zeros(0)
    ends = np.concatenate([
        np.stack([g.corners[..., 1].min(axis=1), g.corners[..., 1].max(axis=1)], axis=1)
        for g in ribs.pockets
    ])
    cuts = np.array([
        [c.axial - c.size[1] / 2 - c.stated.land, c.axial + c.size[1] / 2 + c.stated.land]
        for c in ribs.cutouts
    ]).reshape(-1, 2)
    spans = np.concatenate([ends, cuts])
    places = np.unique(np.round(ends, 9))
    hit = (spans[:, 0] < places[:, None] - 1e-7) & (spans[:, 1] > places[:, None] + 1e-7)
    return np.asarray(places[~hit.any(axis=1)] * scale)
