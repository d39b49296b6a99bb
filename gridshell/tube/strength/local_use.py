"""Use of the skin and ribs at the worst points of the section: local buckling and strength."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.buckling.local import (
    flange,
    held_rib_stress,
    held_triangle_stress,
    rectangle_ratio,
    rib_stress,
    strip_ratio,
    triangle_ratio,
    triangle_stress,
)
from gridshell.wall.assess import Wall, found_once
from gridshell.wall.geometry.rib_section import RibSection
from gridshell.wall.stress import WallStress, von_mises


@dataclass(frozen=True)
class LocalUse:
    """Shares of strength used by one stress state; None where the check does not apply.

    Attributes:
        pocket: share of the skin pockets' buckling strength; None without ribs.
        pocket_note: which plate formula.
        rib: share of the crippling strength of the worst rib family; None without ribs.
        rib_applied: largest compression in that family, Pa.
        rib_allowable: crippling stress of that family, Pa.
        skin_stress: equivalent stress in the skin, Pa.
        rib_strength: largest rib stress either way, Pa; None without ribs.
    """

    pocket: Quantity | None
    pocket_note: str
    rib: Quantity | None
    rib_applied: Quantity
    rib_allowable: Quantity
    skin_stress: Quantity
    rib_strength: Quantity | None


def pocket_use(wall: Wall, stress: Array) -> tuple[Quantity | None, str]:
    """Share of the skin pockets' buckling strength used, and the plate taken for them.

    Pockets are taken flat and reach to the rib center lines; curvature and the width of the ribs
    only raise the strength. With the formula "thin" the handbook's constants are used, which
    suppose a certain hold of ribs and skin on each other; with "fat" that hold is worked out.

    Args:
        wall: one or many.
        stress: of the skin's middle, (..., 3), tension positive, Pa.
    """
    grid, modulus = wall.grid, wall.properties.modulus
    poisson, thickness = wall.properties.poisson, wall.design.skin.thickness
    if grid.pattern == "isogrid":
        # Whole cells may stretch the triangle a little; the mean height is that of equal area.
        height = (3.0**0.25) * np.sqrt(grid.cell_width * grid.cell_height / 2)
        if wall.design.ribs.formula == "thin":
            allowable = triangle_stress(modulus, poisson, thickness, height)
            return triangle_ratio(stress, allowable), "triangle of the isogrid handbook"
        section = wall.sections[0]
        hinged, clamped, _ = flange(
            modulus, poisson, section.mean_width, section.height, wall.node_distance)
        allowable = held_triangle_stress(
            modulus, poisson, thickness, height, wall.rib_torsion, (hinged, clamped))
        return triangle_ratio(stress, allowable), "triangle and its ribs together"
    if grid.pattern == "orthogrid":
        return (
            rectangle_ratio(
                stress, modulus, poisson, thickness, grid.cell_height, grid.cell_width
            ),
            "simply supported rectangle",
        )
    if grid.families:
        narrowest: Quantity = np.inf
        for line in grid.families:
            narrowest = np.minimum(narrowest, line.pitch)
        if len(grid.families) == 1:  # nothing divides the strip, which may be loaded across
            return (
                strip_ratio(stress, modulus, poisson, thickness, narrowest, crossed=False),
                "strip between parallel ribs, loaded across: on the safe side",
            )
        return (
            strip_ratio(stress, modulus, poisson, thickness, narrowest),
            "long strip as wide as the rib spacing, on the safe side",
        )
    return None, ""


@found_once
def rib_limits(wall: Wall) -> list[Quantity]:
    """Crippling stress of each rib family, Pa.

    Args:
        wall: one or many.
    """
    grid, known, skin = wall.grid, wall.properties, wall.design.skin.thickness
    limits: list[Quantity] = []
    before: tuple[Quantity, RibSection] | None = None
    for line, section in zip(grid.families, wall.sections, strict=True):
        if before is not None and before[0] is line.pitch and before[1] is section:
            limits.append(limits[-1])  # a mirror image
            continue
        before = line.pitch, section
        breadth, depth = section.mean_width, section.height
        if wall.design.ribs.formula == "thin":
            limits.append(rib_stress(known.modulus, known.poisson, breadth, depth))
        else:
            limits.append(held_rib_stress(
                known.modulus, known.poisson, width=breadth, height=depth,
                # Own families need not share nodes: as if no rib crossed this one.
                length=1e3 * line.pitch if grid.pattern == "families"
                else grid.node_area / line.pitch,
                thickness=skin, pocket=line.pitch,
            ))
    return limits


def local_use(wall: Wall, state: WallStress) -> LocalUse:
    """Shares of strength used by one stress state of the wall.

    Args:
        wall: one or many.
        state: its stress.
    """
    pocket, note = pocket_use(wall, state.skin_middle)
    skin = np.maximum(von_mises(state.skin_rib_side), von_mises(state.skin_smooth_side))
    use: Quantity | None = None
    strongest: Quantity | None = None
    applied: Quantity = 0.0
    allowable: Quantity = np.inf
    for ribs, limit in zip(state.ribs, rib_limits(wall), strict=True):
        compressed = np.maximum(np.maximum(-ribs.root, -ribs.tip), 0.0)
        share = compressed / limit
        larger = np.maximum(np.abs(ribs.root), np.abs(ribs.tip))
        if use is None:
            use, applied, allowable, strongest = share, compressed, limit, larger
        else:
            worse = share > use
            use = np.where(worse, share, use)
            applied = np.where(worse, compressed, applied)
            allowable = np.where(worse, limit, allowable)
            strongest = larger if strongest is None else np.maximum(strongest, larger)
    return LocalUse(
        pocket, note, rib=use, rib_applied=applied, rib_allowable=allowable, skin_stress=skin,
        rib_strength=strongest,
    )
