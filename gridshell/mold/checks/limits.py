"""What a mold asks of the dimensions, as margins over arrays of designs: for the search of a size.

The same bounds that the checks of one built mold hold, without its pockets one by one, so that a
size is never proposed whose mold fails. Where the check looks at every flank, the limit takes the
worst that the panel's edge can have; it is never easier than the check.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.define.types import Array, Quantity
from gridshell.material.properties import Properties
from gridshell.mold.checks.castable import known_material
from gridshell.mold.checks.direct import LINES_IN_WALL
from gridshell.mold.checks.filling.fill import fill_ways, smallest_gap
from gridshell.mold.checks.filling.gate import mold_material, pour_temperature
from gridshell.mold.checks.heat.cooling import HOT, mold_properties
from gridshell.mold.checks.release.flanks import lock_angle
from gridshell.mold.checks.release.grip import (
    GRIP,
    GRIP_STRESS,
    STRESS_SHARE,
    grip,
    held_shrinkage,
)
from gridshell.mold.checks.release.peel import RUBBER, opening_curvature, opening_strain
from gridshell.mold.checks.tool import LINES_IN_BLOCK, LINES_IN_GROOVE, SLENDER
from gridshell.mold.pieces.cores.sliding import counts_to_try
from gridshell.mold.relief.ribbing import FITS, SMALLEST_ROUNDING
from gridshell.wall.assess import Wall
from gridshell.wall.geometry.lattice import Lattice, lattice
from gridshell.wall.geometry.mass import at_radius, is_left_solid, pocket_outline_at
from gridshell.wall.geometry.pattern import pocket_shapes
from gridshell.wall.geometry.pockets import inscribed_radius


@dataclass(frozen=True)
class MoldLimit:
    """One demand of the mold on the dimensions.

    Attributes:
        name: of the demand, for a message.
        field: that cures it, by its dotted path.
        margin: (...) share by which it is met; negative where the mold would fail.
    """

    name: str
    field: str
    margin: Quantity


def mold_limits(
    design: Design, mold: Mold, bent: Wall | None = None, warm: Properties | None = None,
    grid: Lattice | None = None, cold: Properties | None = None,
) -> tuple[MoldLimit, ...]:
    """Demands of the mold (or of making the part directly) on the dimensions.

    Args:
        design: one design, or arrays of dimensions of one pattern.
        mold: the `[mold]` table.
        bent: its walls at the temperature of release, for peeling and grip; without it both are
            left out. Walls of another temperature do: their stiffness is scaled by the modulus.
        warm: its material there.
        grid: their lattices; None: of what the design states.
        cold: the material at room temperature; None: looked up.
    """
    grid = lattice(design) if grid is None else grid
    cold = known_material(design, ROOM_TEMPERATURE) if cold is None else cold
    found = [*_filling(design, grid, mold, cold)]
    if design.has_ribs and design.ribs.pattern != "families":
        found += _corners(design, grid)
        found += _making(design, grid, mold)
        if bent is not None and warm is not None and not mold.direct:
            found += _peeling(design, grid, mold, bent, warm, cold)
            found += _gripping(design, mold, bent, warm, cold)
    return tuple(found)


def release_temperature(design: Design, mold: Mold) -> float:
    """When the part is taken out, K: as stated, or of the material.

    Args:
        design: one design, or arrays of dimensions.
        mold: the `[mold]` table.
    """
    stated = mold.casting.peel_temperature
    if stated is not None:
        return float(stated)
    usual = known_material(design, ROOM_TEMPERATURE).peel_temperature
    return ROOM_TEMPERATURE if usual is None else float(usual)


def _at_least(name: str, field: str, value: Quantity, limit: Quantity) -> MoldLimit:
    return MoldLimit(name, field, np.asarray(value, float) / limit - 1)


def _at_most(name: str, field: str, value: Quantity, limit: Quantity) -> MoldLimit:
    value = np.asarray(value, float)
    with np.errstate(divide="ignore"):
        return MoldLimit(name, field, np.where(value > 0, limit / value, np.inf) - 1)


def _filling(
    design: Design, grid: Lattice, mold: Mold, part: Properties
) -> list[MoldLimit]:
    line = float(mold.casting.line_width)
    if mold.process == "machine-part":
        return []
    if mold.direct:
        least = LINES_IN_WALL * line
        limits = [_at_least("printed skin", "skin.thickness", design.skin.thickness, least)]
        if design.has_ribs:
            limits.append(_at_least("printed rib", "ribs.width", design.ribs.width, least))
        return limits
    stated = mold.casting.pour_temperature
    start = part.pour_temperature if stated is None else stated
    if start is None:
        return []
    shell = mold_properties(mold_material(mold, part, float(start)))
    return [
        _at_least(way.name, "skin.thickness" if way.name == "skin fills" else "ribs.width",
                  way.gap, smallest_gap(way, mold.casting, part, shell, float(start)))
        for way in fill_ways(design, grid)
    ]


def pocket_room(design: Design, grid: Lattice) -> Quantity:
    """Radius of the largest circle in the smallest pocket that is cut, at the skin, m.

    Args:
        design: one design, or arrays of dimensions.
        grid: its lattice.
    """
    radius, inset, _ = pocket_outline_at(design, grid, 0.0)
    smallest: Quantity = np.inf
    for shape in pocket_shapes(grid):
        room = inscribed_radius(at_radius(shape.corners, radius, grid.radius)) - inset
        kept = ~np.asarray(is_left_solid(design, grid, shape.corners, shape.cut), bool)
        smallest = np.where(kept, np.minimum(smallest, room), smallest)
    return smallest


def _corners(design: Design, grid: Lattice) -> list[MoldLimit]:
    """Corner radius and root fillet that go into the pockets as stated."""
    ribs = design.ribs
    half = np.tan((np.pi / 2 - ribs.draft) / 2)
    room = np.maximum(pocket_room(design, grid), 1e-9)
    inside = np.maximum(ribs.corner_radius - SMALLEST_ROUNDING, 1e-9) / half
    return [
        _at_most("corner radius fits", "ribs.corner_radius", ribs.corner_radius, FITS * room),
        _at_most("root fillet fits", "ribs.root_fillet", ribs.root_fillet,
                 np.minimum(inside, 0.9 * ribs.height / half)),
    ]


def _making(design: Design, grid: Lattice, mold: Mold) -> list[MoldLimit]:
    ribs, room = design.ribs, pocket_room(design, grid)
    tool, reach = float(mold.tool_diameter), float(mold.casting.tool_reach)
    line = float(mold.casting.line_width)
    if mold.process == "machine-part":
        return [
            _at_most("smallest inside radius", "ribs.corner_radius", tool / 2, ribs.corner_radius),
            _at_least("tool in the pockets", "ribs.spacing", 2 * room, tool),
            _at_most("tool reach", "ribs.height", ribs.height, reach * tool),
        ]
    if mold.process == "mill":
        return [
            _at_least("tool in the grooves", "ribs.width", ribs.width, tool),
            _at_most("tool reach", "ribs.height", ribs.height, reach * tool),
        ]
    if mold.process == "print":
        return [
            _at_least("printed groove", "ribs.width", ribs.width, LINES_IN_GROOVE * line),
            _at_least("thin blocks in print", "ribs.spacing", 2 * room, LINES_IN_BLOCK * line),
            _at_most("slender blocks in print", "ribs.height", ribs.height, SLENDER * 2 * room),
        ]
    return []


def _peeling(
    design: Design, grid: Lattice, mold: Mold, bent: Wall, warm: Properties, part: Properties
) -> list[MoldLimit]:
    """Strain of opening a shell whose ribs lock, the furthest of them at the panel's edge."""
    if mold.core == "rubber":
        return []  # the insert bends, not the piece
    shell = mold_properties(mold_material(mold, part, pour_temperature(mold, part)))
    edge: Array = np.asarray(grid.panel_width / (2 * np.asarray(grid.radius)), float)
    cosine: Quantity = 0.0
    for family in grid.families:
        cosine = np.maximum(cosine, np.abs(family.cosine))
    start = lock_angle(design.ribs.draft, cosine)
    locks = start < edge
    if mold.core == "sliding":
        # Of the most pieces that a core may have, at the edge of the widest.
        half = np.pi / design.tube.segments
        most = start / (half / counts_to_try(half)[-1])
        return [MoldLimit("ribs leave the sliding core", "ribs.draft", most - 1)]
    if float(shell.modulus) < RUBBER:
        return []
    if design.ribs.side == "outside":
        # Nothing opens a shell inside its cavity: the ribs must not lock at all.
        return [MoldLimit("ribs leave the cavity", "ribs.draft", start / edge - 1)]
    if warm.strain_at_break is None:
        return []
    inner, outer = opening_strain(bent, opening_curvature(start, edge, grid.radius))
    strain = np.where(locks, np.maximum(inner, outer), 0.0)
    limit = np.asarray(warm.strain_at_break, float) / mold.casting.peel_factor
    return [_at_most("strain of peeling the piece off", "ribs.height", strain, limit)]


def _gripping(
    design: Design, mold: Mold, bent: Wall, warm: Properties, part: Properties
) -> list[MoldLimit]:
    """The pull that frees the shrunken part, and the stress of it in the skin."""
    if mold.core == "rubber":
        return []  # it peels off, whatever the pull at once would be
    cools = warm.conductivity is not None and warm.heat_capacity is not None and (
        pour_temperature(mold, part) > mold.casting.mold_temperature + HOT)
    held = held_shrinkage(mold, part, release_temperature(design, mold), cools)
    if held is None:
        return []
    found = grip(bent, held, mold.casting.friction, design.ribs.side == "inside")
    softer = np.asarray(warm.modulus, float) / bent.properties.modulus
    limits = [_at_most(GRIP, "mold.casting.release_force", found.force * softer,
                       float(mold.casting.release_force))]
    if warm.strength is not None:
        limits.append(_at_most(
            GRIP_STRESS, "mold.casting.friction", found.stress * softer,
            np.asarray(warm.strength, float) * STRESS_SHARE))
    return limits
