"""Use of the skin and ribs at the worst points of the section: local buckling and strength."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.local import (
    rectangle_ratio,
    rib_stress,
    strip_ratio,
    triangle_ratio,
    triangle_stress,
)
from gridshell.wall.stress import WallStress, von_mises
from gridshell.wall.wall import Wall


@dataclass(frozen=True)
class LocalUse:
    """Shares of strength used by one stress state; None where the check does not apply.

    Attributes:
        pocket: of skin buckling between ribs. pocket_note: which plate formula.
        rib: of rib crippling, worst family. rib_applied, rib_allowable: stresses, Pa.
        skin_stress: equivalent stress in the skin, Pa.
        rib_strength: largest rib stress either way, Pa.
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

    Pockets are taken flat and simply supported between rib center lines; curvature and the ribs'
    hold on the edges only raise the strength.
    """
    grid, modulus = wall.grid, wall.properties.modulus
    poisson, thickness = wall.properties.poisson, wall.design.skin.thickness
    if grid.pattern == "isogrid":
        smallest: Quantity = np.inf
        for line in grid.families:
            smallest = np.minimum(smallest, line.pitch)
        # Whole cells may stretch the triangle a little; the mean height is that of equal area.
        height = (3.0**0.25) * np.sqrt(grid.cell_width * grid.cell_height / 2)
        allowable = triangle_stress(modulus, poisson, thickness, height)
        return triangle_ratio(stress, allowable), "triangle of the isogrid handbook"
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
        return (
            strip_ratio(stress, modulus, poisson, thickness, narrowest),
            "long strip as wide as the rib spacing, on the safe side",
        )
    return None, ""


def local_use(wall: Wall, state: WallStress) -> LocalUse:
    """Shares of strength used by one stress state of the wall."""
    modulus, poisson = wall.properties.modulus, wall.properties.poisson
    pocket, note = pocket_use(wall, state.skin_middle)
    skin = np.maximum(von_mises(state.skin_rib_side), von_mises(state.skin_smooth_side))
    use: Quantity | None = None
    strongest: Quantity | None = None
    applied: Quantity = 0.0
    allowable: Quantity = np.inf
    for section, ribs in zip(wall.sections, state.ribs, strict=True):
        limit = rib_stress(modulus, poisson, section.mean_width, section.height)
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
    return LocalUse(pocket, note, use, applied, allowable, skin, strongest)
