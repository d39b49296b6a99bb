"""Volume and mass: gross wall less its pockets, at their true radius, nodes counted once."""

from __future__ import annotations

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.types import Array, BoolArray, Quantity
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.pattern import pocket_shapes
from gridshell.wall.geometry.pockets import outline_area, outline_perimeter
from gridshell.wall.geometry.rib_section import RibSection, fillet_area

# Three Gauss points over the rib height integrate the pocket area (quadratic in depth but for
# the slow change of the outline with radius) to rounding.
_POINTS = 0.5 + 0.5 * np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)])
_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 18.0


# On a very tight tube the arc could shrink to nothing at the tip; it keeps this share instead.
_SHARPEST = 0.25
_PARALLEL = 1e-9  # sine of the angle between two families that never cross


def rib_side(design: Design) -> float:
    """+1 for ribs outside, -1 for ribs inside: the sign of z on the rib side."""
    return 1.0 if design.ribs.side == "outside" else -1.0


def at_radius(corners: Array, radius: Quantity, reference: Quantity) -> Array:
    """Pocket corners unrolled at another radius: hoop coordinates scale, axial ones stay.

    Args:
        corners: (..., k, 2) unrolled at ``reference``, m.
        radius, reference: m, shape (...).
    """
    scale = np.asarray(radius / reference, float)
    shape = np.broadcast_shapes(np.shape(corners)[:-2], scale.shape)
    answer = np.empty((*np.shape(corners)[-2:], *shape))  # each coordinate together in memory
    for k, corner in enumerate(answer):
        corner[0] = corners[..., k, 0] * scale
        corner[1] = corners[..., k, 1]
    return np.moveaxis(answer, (0, 1), (-2, -1))


def pocket_outline_at(design: Design, grid: Lattice, depth: Quantity) -> tuple[Quantity, ...]:
    """Radius, inset and corner radius of a pocket at a height above the skin.

    Args:
        design: one design or many.
        grid: its lattice.
        depth: height above the skin's surface on the rib side (0 = pocket floor), m.
    Returns:
        radius of that surface, half the rib's width there, corner radius there, m.
    """
    ribs = design.ribs
    lean = np.tan(ribs.draft)
    face = grid.radius + rib_side(design) * design.skin.thickness / 2
    radius = face + rib_side(design) * depth
    inset = ribs.width / 2 + (ribs.height - depth) * lean
    # Outlines at all depths are offsets of each other, but for ribs inside, where the radii close
    # in: there the arc's center keeps its angle round the tube, or corners would overhang the
    # pocket and hold the mold.
    middle = (ribs.width / 2 + ribs.height * lean + ribs.corner_radius) * np.minimum(
        radius / face, 1.0
    )
    rounding = np.where(
        ribs.corner_radius > 0,
        np.maximum(middle - inset, _SHARPEST * ribs.corner_radius), 0.0,
    )
    return radius, inset, rounding


def pocket_volume(design: Design, grid: Lattice, corners: Array) -> Quantity:
    """Empty volume of one pocket, root fillets taken off, m3.

    Args:
        design: one design or many.
        grid: its lattice.
        corners: (..., k, 2) rib center lines at the skin's middle radius, m.
    """
    ribs = design.ribs
    volume: Quantity = 0.0
    for point, weight in zip(_POINTS, _WEIGHTS, strict=True):
        radius, inset, rounding = pocket_outline_at(design, grid, point * ribs.height)
        outline = at_radius(corners, radius, grid.radius)
        volume = volume + weight * ribs.height * outline_area(outline, inset, rounding)
    # Pappus: the fillet's area times the length its centroid travels round the pocket.
    floor, inset, rounding = pocket_outline_at(design, grid, 0.0)
    reach = 0.223 * ribs.root_fillet  # centroid of a square corner's fillet from either line
    length = outline_perimeter(
        at_radius(corners, floor, grid.radius), inset + reach,
        np.maximum(rounding - reach, 0.0),
    )
    return np.maximum(volume - length * fillet_area(ribs.root_fillet, np.pi / 2 + ribs.draft), 0.0)


def pocket_floor_area(design: Design, grid: Lattice, corners: Array) -> Quantity:
    """Area of a pocket at the skin, m2; compared with ``ribs.smallest_pocket``."""
    floor, inset, rounding = pocket_outline_at(design, grid, 0.0)
    return outline_area(at_radius(corners, floor, grid.radius), inset, rounding)


def is_left_solid(design: Design, grid: Lattice, corners: Array, cut: bool) -> BoolArray:
    """True where a pocket cut by a border is too small and is left solid."""
    if not cut:
        return np.asarray(False)
    return np.asarray(pocket_floor_area(design, grid, corners) < design.ribs.smallest_pocket)


def _layer(design: Design, grid: Lattice) -> Quantity:
    """Volume of the full rib layer per area of the skin's middle surface, m."""
    ribs, thickness = design.ribs, design.skin.thickness
    middle = grid.radius + rib_side(design) * (thickness + ribs.height) / 2
    return ribs.height * middle / grid.radius


def _open_volume(design: Design, grid: Lattice, sections: tuple[RibSection, ...]) -> Quantity:
    """Volume of pockets per area of the middle surface for the user's own families, m.

    Families that cross at points of their own leave product(1 - width/pitch) of a layer, pitches at
    its own radius. Each crossing of two has four corners; rounding them fills r^2 (4/sin - pi)
    together, and there are sin/(pitch pitch) crossings per area (plane geometry; sin of the angle
    between the two).
    """
    ribs, height = design.ribs, design_height(design, sections)
    lean, side = np.tan(ribs.draft), rib_side(design)
    volume: Quantity = 0.0
    for point, weight in zip(_POINTS, _WEIGHTS, strict=True):
        depth = point * height
        growth = 1 + side * (design.skin.thickness / 2 + depth) / grid.radius
        opened: Quantity = 1.0
        crossings: Quantity = 0.0
        for i, (line, section) in enumerate(zip(grid.families, sections, strict=True)):
            wide = section.tip_width + 2 * lean * (section.height - depth)
            wide = np.where(depth <= section.height, wide, 0.0)
            stretched = np.sqrt(line.cosine**2 + (line.sine * growth) ** 2)
            opened = opened * np.maximum(1 - wide * stretched / (line.pitch * growth), 0.0)
            for other in grid.families[:i]:
                sine = np.abs(line.sine * other.cosine - line.cosine * other.sine)
                crossings = crossings + np.where(
                    sine > _PARALLEL, (4 - np.pi * sine) / (line.pitch * other.pitch), 0.0)
        radius = np.where(ribs.corner_radius > 0, ribs.corner_radius + lean * depth, 0.0)
        opened = np.maximum(opened - radius**2 * crossings, 0.0)
        volume = volume + weight * height * growth * opened
    # Fillets along what is open of both flanks of each family.
    for i, line in enumerate(grid.families):
        free: Quantity = 2 / line.pitch
        for j, other in enumerate(grid.families):
            if j != i:
                free = free * np.maximum(1 - sections[j].root_width / other.pitch, 0.0)
        volume = volume - free * fillet_area(ribs.root_fillet, np.pi / 2 + ribs.draft)
    return np.maximum(volume, 0.0)


def _family_field(grid: Lattice, sections: tuple[RibSection, ...]) -> Quantity:
    """Area of the middle surface that pockets of the user's own families may take, m2.

    Pockets keep half of the widest rib from the borders of a panel, as the molds do; rings lie on
    its ends, so theirs counts already.
    """
    widest: Quantity = 0.0
    ring: Quantity = 0.0
    for line, section in zip(grid.families, sections, strict=True):
        widest = np.maximum(widest, section.even_width)
        ring = np.maximum(ring, np.where(np.asarray(line.cosine) == 0, section.even_width, 0.0))
    width = grid.panel_width - (0.0 if grid.closed else widest)
    length = grid.panel_height - (widest - ring)
    return grid.segments * grid.sections * np.maximum(width, 0.0) * np.maximum(length, 0.0)


def design_height(design: Design, sections: tuple[RibSection, ...]) -> Quantity:
    """Height of the tallest rib, m."""
    height: Quantity = 0.0
    for section in sections:
        height = np.maximum(height, section.height)
    return height


def wall_volume(design: Design, grid: Lattice, sections: tuple[RibSection, ...]) -> Quantity:
    """Volume of the gridded wall per area of the skin's middle surface, m (kg/m2 over density).

    Nodes are counted once, ribs at their true radius, corner radii and root fillets included;
    lands and borders are not in it (see `tube_volume`).
    """
    thickness = design.skin.thickness
    if not sections:
        return thickness + 0.0
    if grid.pattern == "families":
        height = design_height(design, sections)
        middle = grid.radius + rib_side(design) * (thickness + height) / 2
        return (thickness + height * middle / grid.radius
                - _open_volume(design, grid, sections))
    whole = pocket_shapes(grid)[0]
    # Pockets of the unbounded grid: two triangles or rhombi in a cell, or one rectangle.
    per_cell = 1 if grid.pattern == "orthogrid" else 2
    pockets = per_cell * pocket_volume(design, grid, whole.corners)
    return thickness + _layer(design, grid) - pockets / (grid.cell_width * grid.cell_height)


def tube_volume(design: Design, grid: Lattice, sections: tuple[RibSection, ...]) -> Quantity:
    """Volume of the whole tube with its lands and borders, m3: gross wall less every pocket."""
    area = 2 * np.pi * grid.radius * design.tube.length
    panels = grid.segments * grid.sections
    if not sections:
        return area * design.skin.thickness
    if grid.pattern == "families":
        height = design_height(design, sections)
        middle = grid.radius + rib_side(design) * (design.skin.thickness + height) / 2
        solid = area * (design.skin.thickness + height * middle / grid.radius)
        return solid - _family_field(grid, sections) * _open_volume(design, grid, sections)
    volume = area * (design.skin.thickness + _layer(design, grid))
    for shape in pocket_shapes(grid):
        empty = pocket_volume(design, grid, shape.corners)
        left = is_left_solid(design, grid, shape.corners, shape.cut)
        volume = volume - panels * shape.count * np.where(left, 0.0, empty)
    return volume
