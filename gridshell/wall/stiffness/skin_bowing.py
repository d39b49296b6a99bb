"""How far the skin between ribs gives: a curved flange in hoop compression bows outward.

Hoop force N in a curved skin presses on it as N/R. Between the ribs the skin, clamped along them by
symmetry, bows under that, and the ribs bow between the nodes; either way hoop strain is lost
and the skin carries less than E t says. See the README of this folder and `gridshell.proof`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.types import Array, Quantity
from gridshell.material.properties import Properties
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.rib_section import RibSection

# Mean deflection of a clamped plate under uniform pressure, over q h^4/D: equilateral triangle of
# height h (Ritz, six digits). Rectangles: `_rectangle`.
_TRIANGLE = 8.3235e-5
# Shares fitted to solid cells in ring bending (proof/README.md): the pocket's edges are a little
# softer than clamped at the rib faces; the hoop strain that the bow takes spreads unevenly.
_POCKET = 1.6
_UNEVEN = 1.43  # mean square over squared mean of the clamped beam's deflection, 30^2/630
# Share of the wall's bending stiffness from which ribs hold the skin: they double it there.
_HOLD = 0.5


@dataclass(frozen=True)
class SkinBowing:
    """What bowing does to the skin.

    Attributes:
        hoop_loss: share of the skin's hoop stiffness that bowing takes, 0 to 0.7.
        pocket: what would be lost to the pockets' bow if hoop strain did not fall with it.
        rib: what would be lost to the ribs' bow if hoop strain did not fall with it.
    """

    hoop_loss: Quantity
    pocket: Quantity
    rib: Quantity


NO_BOWING = SkinBowing(0.0, 0.0, 0.0)


def _rectangle(ratio: Quantity) -> Quantity:
    """Mean deflection of a clamped rectangle under uniform pressure, over q a^4/D.

    Fitted within 4 % to Ritz solutions; the strip is 1/720, the square 3.89e-4.

    Args:
        ratio: shorter side a over longer side.
    """
    return 1 / (720 * (1 + 0.7 * ratio + 0.3 * ratio**2 + 1.57 * (ratio**2) ** 2))


def skin_bowing(
    design: Design, properties: Properties, grid: Lattice, section: RibSection,
    flat: tuple[Array, Array, Array], shear: tuple[Quantity, Quantity],
) -> SkinBowing:
    """Share of the skin's hoop stiffness lost to bowing between the ribs.

    Two springs under the pressure N/R: the pocket as a clamped plate, and the ribs as beams clamped
    at the nodes, in bending and in shear. Orthogrid: ribs along the axis bow between the hoop ribs,
    which carry themselves; other patterns: the skin loads all ribs alike. Lost strain
    relieves the pressure in turn. Skin that bends with hardly any rib holds itself: only what the
    ribs carry has to reach them, so the loss fades with their share of the bending stiffness,
    1 - d. Taken as min(1, 2 (1 - d)), which is more than that share: the safe side.

    Args:
        design, properties, grid: of one pattern; "families" has no known pockets and gives nothing.
        section: of a rib.
        flat: A, B, D of the flat wall, each (..., 3, 3), N/m, N, N m.
        shear: transverse shear stiffness of the wall along and round the tube, N/m.
    """
    if grid.pattern in ("families", "plain"):
        return NO_BOWING
    thickness, radius = design.skin.thickness, grid.radius
    membrane = properties.modulus * thickness / (1 - properties.poisson**2)
    plate = membrane * thickness**2 / 12
    width = section.root_width
    if grid.pattern == "isogrid":
        # Distance from rib to opposite node of the mean triangle, less the ribs at its edges.
        height = np.sqrt(grid.node_area * np.sqrt(3.0) / 2)
        clear = np.maximum(height - 1.5 * width, 0.1 * height)
        compliance = _TRIANGLE * (clear**2) ** 2 / plate
    else:
        gaps = [np.maximum(line.pitch - width, 0.1 * line.pitch) for line in grid.families]
        short, long = np.minimum(*gaps), np.maximum(*gaps)
        compliance = _rectangle(short / long) * (short**2) ** 2 / plate
    A, B, D = flat
    free = [D[..., i, i] - B[..., i, i] ** 2 / A[..., i, i] for i in (0, 1)]
    if grid.pattern == "orthogrid":
        span = grid.cell_height
        stiff, slide = free[0], shear[0]
    else:
        count = len(grid.families)
        span = 0.0
        for line in grid.families:
            span = span + grid.node_area / line.pitch / count
        # Sum over the families of E I/pitch, and of their shear stiffness: all ribs alike.
        stiff = free[0] + free[1] + 2 * D[..., 0, 1] * free[0] / D[..., 0, 0]
        slide = shear[0] + shear[1]
    span = np.maximum(span - width, 0.1 * span)
    sag = (span**2) ** 2 / (720 * stiff) + span**2 / (12 * slide)
    press = membrane / radius**2
    pocket, rib = _POCKET * press * compliance, press * sag
    both = pocket + rib
    carried = np.clip((1 - plate / np.sqrt(free[0] * free[1])) / _HOLD, 0.0, 1.0)
    return SkinBowing(carried * both / (1 + _UNEVEN * both), pocket, rib)
