"""The pockets of one casting as they are molded: which are cut, their corners, radii and fillets.

Pattern, outline and the choice of pockets left solid come from `gridshell.wall`, so the part that
is weighed is the part that is cast. What the solid leaves out is counted here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridshell.define.tables.cutouts import wall_growth
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.mold.pieces.features.cutouts import PanelCutout, gives_way, panel_origin
from gridshell.mold.relief.closed import half_of
from gridshell.mold.relief.faces import Island, Station
from gridshell.mold.relief.families import family_groups
from gridshell.mold.relief.outline import (
    Loops,
    arcs_of,
    circle_loops,
    polygon_loops,
    rectangle_corners,
)
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
        cells: (n, m, 2) where they differ from ``corners``, which then bound the outline alone:
            ribs of other widths beside it, or sides too short to leave a trace.
    """

    name: str
    corners: Array
    corner_radius: float
    fillet: float
    shortfall: float
    cells: Array | None = None

    @property
    def base(self) -> Array:
        """(n, m, 2) the pieces of wall that the pockets own, between rib center lines, m."""
        return self.corners if self.cells is None else self.cells


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
    """
    groups, notes, ways = [], [], []
    given = widened = 0
    listed, left = _pockets_of(design, grid)
    for name, corners, cells, radius in listed:
        gone, narrow = gives_way(design, grid, corners, cutouts)
        widened += int(narrow.sum())
        if gone.any():
            ways.append(corners[gone])
            given += int(gone.sum())
        if not gone.all():
            group, note = _fitted(design, grid, name, corners[~gone], radius)
            groups.append(group if cells is None else replace(group, cells=cells[~gone]))
            if note and note not in notes and grid.pattern != "families":
                notes.append(note)
    if grid.pattern == "families":
        notes += _reduced_polygons(design, groups)
    if left and grid.pattern == "families":
        notes.append(
            f"{left} polygons between the rib families hold no pocket of an eighth of "
            "ribs.corner_radius, or are below ribs.smallest_pocket: left solid")
    elif left:
        notes.append(f"{left} pockets cut by a border are below ribs.smallest_pocket: left solid")
    if given:
        notes.append(f"{given} pockets gave way to the lands of cut-outs: left solid")
    if widened:
        notes.append(
            f"{widened} of them lie outside the stated mold.cutout land, which is narrower than "
            "their ribs: the land is wider there"
        )
    return Ribbing(tuple(groups), tuple(cutouts), left, given, tuple(ways), tuple(notes))


def _reduced_polygons(design: Design, groups: Sequence[Pockets]) -> list[str]:
    """What does not fit the polygons between rib families, in one line for each radius."""
    notes = []
    for field, name in (("corner_radius", "corner radius"), ("fillet", "root fillet")):
        stated = float(getattr(design.ribs, "root_fillet" if field == "fillet" else field))
        less = [g for g in groups if getattr(g, field) < stated * (1 - 1e-9)]
        if less:
            radii = [getattr(g, field) * 1e3 for g in less]
            notes.append(
                f"{name} {stated * 1e3:g} mm does not fit {sum(len(g.corners) for g in less)} of "
                f"{sum(len(g.corners) for g in groups)} polygons between the rib families; molded "
                f"with {min(radii):.3g} mm or more")
    return notes


def _pockets_of(
    design: Design, grid: Lattice
) -> tuple[list[tuple[str, Array, Array | None, float | None]], int]:
    """Name, corners, pieces of wall and corner radius of each group of pockets, and how many
    polygons are left solid; None where the corners say it, or the stated radius may fit."""
    if not design.has_ribs:
        return [], 0
    origin = panel_origin(grid)
    if grid.pattern == "families":
        groups, left = family_groups(design, grid)
        return [
            (f"polygon of {group.cells.shape[1]} sides", group.corners + origin,
             group.cells + origin, group.corner_radius) for group in groups
        ], left
    listed: list[tuple[str, Array, Array | None, float | None]] = []
    left = 0
    for kind in panel_pockets(grid):
        corners = kind.corners + origin
        if bool(np.all(is_left_solid(design, grid, corners[:1], kind.cut))):
            left += len(corners)
        else:
            listed.append((kind.name, corners, None, None))
    return listed, left


def _fitted(
    design: Design, grid: Lattice, name: str, corners: Array, fits: float | None
) -> tuple[Pockets, str | None]:
    """Corner radius and fillet that fit pockets of one shape; ``fits``: radius known to."""
    ribs = design.ribs
    floor, inset, stated = (float(v) for v in pocket_outline_at(design, grid, 0.0))
    flat = at_radius(corners, floor, grid.radius)
    room = float(np.asarray(inscribed_radius(flat[:1]))[0]) - inset
    rounding = min(stated, FITS * room) if fits is None else fits
    note = None
    if rounding < stated * (1 - 1e-9):
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
    length = float(np.sum(outline_perimeter(flat, np.full(len(flat), inset), rounding)))
    if fillet < ribs.root_fillet:
        note = (note + "; " if note else f"{name}: ") + (
            f"root fillet {ribs.root_fillet * 1e3:g} mm needs a corner radius as large; molded "
            f"with {fillet * 1e3:.3g} mm"
        )
    return Pockets(name, corners, rounding, fillet, float(missing) * length), note


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
        inside = _within(group.base, scale, span)
        group = replace(group, corners=group.corners[inside], cells=group.base[inside])
        for half, part in enumerate(_halves(grid, group)):
            if len(part.corners):
                laid.append(_pocket_island(design, grid, part, scale, span, half=half))
    for cutout in ribs.cutouts:
        if _within(np.array([[[cutout.hoop, cutout.axial]]]), scale, span).all():
            laid.append(cutout_island(design, grid, cutout, scale, through))
    return laid


def _halves(grid: Lattice, group: Pockets) -> list[Pockets]:
    """All pockets, or those of a closed tube by the half they lie in, see `lay_closed_tube`."""
    if not grid.closed:
        return [group]
    angle = math.pi / 2 + group.base[..., 0].mean(axis=1) / float(grid.radius)
    second = half_of(angle) == 1
    # Angles of the second half run on from those of the first.
    further = np.where(second & (angle < 0), 2 * math.pi * float(grid.radius), 0.0)
    shift = np.stack([further, np.zeros_like(further)], axis=-1)[:, None, :]
    return [
        replace(group, corners=(group.corners + shift)[part], cells=(group.base + shift)[part])
        for part in (~second, second)
    ]


def _within(corners: Array, scale: float, span: tuple[float, float] | None) -> Array:
    """Which pieces (n,) of wall have their middle in a span of the solid."""
    middle = corners[..., 1].mean(axis=1) * scale
    if span is None:
        return np.ones(len(middle), bool)
    return np.asarray((middle > span[0]) & (middle < span[1]))


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
    design: Design, grid: Lattice, group: Pockets, scale: float,
    span: tuple[float, float] | None, *, half: int,
) -> Island:
    ribs, corners = design.ribs, group.corners
    # A reduced radius is that of the floor; the arcs' centers keep their angle from there.
    own = with_values(design, {"ribs.corner_radius": group.corner_radius})
    # One number for every height: where the hoop is shortest the corners are sharpest.
    tip, floor = (float(pocket_outline_at(own, grid, depth)[0])
                  for depth in (float(ribs.height), 0.0))
    arcs = arcs_of(_placed(design, grid, corners, min(tip, floor)))

    def station(depth: float, further: float = 0.0, pull: float | None = None) -> Station:
        radius, inset, rounding = (float(v) for v in pocket_outline_at(own, grid, depth))
        rounding = 0.0 if group.corner_radius == 0 else rounding - further
        loops = polygon_loops(
            _placed(design, grid, corners, radius), inset + further, rounding, arcs)
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
        tuple(stations), _cells(design, grid, group.base, scale, span),
        width=_narrowest(design) * scale, half=half,
    )


def _narrowest(design: Design) -> float:
    """Width of the narrowest rib at its tip, m."""
    stated = float(design.ribs.width)
    return min((float(f.width) for f in design.ribs.family if f.width is not None), default=stated)


def _cells(
    design: Design, grid: Lattice, corners: Array, scale: float,
    span: tuple[float, float] | None,
) -> Array:
    """Pieces of base (angle, x) that pockets own, kept inside the border of the solid.

    Where a border or a joint runs along ribs they move into the half of the rib that is left.
    """
    edge = _narrowest(design) / 4
    room_hoop = math.pi * float(grid.radius) / grid.segments - edge
    hoop = corners[..., 0] if grid.closed else np.clip(corners[..., 0], -room_hoop, room_hoop)
    low, high = (0.0, math.inf) if span is None else (span[0] / scale, span[1] / scale)
    axial = np.clip(
        corners[..., 1], max(low, 0.0) + edge, min(high, design.section_length) - edge
    )
    return np.stack([math.pi / 2 + hoop / float(grid.radius), axial * scale], axis=-1)


def cutout_island(
    design: Design, grid: Lattice, cutout: PanelCutout, scale: float, through: bool
) -> Island:
    """A cut-out from the rib tips to the far face of the skin.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        cutout: in one casting.
        scale: mm of the solid per m of the part.
        through: whether it is open at the far face.
    """
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
        np.stack([g.base[..., 1].min(axis=1), g.base[..., 1].max(axis=1)], axis=1)
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
