"""Solid lands in the stiffness of the whole tube: strips along the seams, rings at the ends.

A land is the wall at its full depth without pockets. Along the tube lie stretches with grid and
seam lands side by side, and end lands that close the ring; the first share force and moment
as parallel parts of one section, the second follow one another.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Quantity
from gridshell.tube.section.stiffness import BeamStiffness, beam_stiffness
from gridshell.wall.assess import Wall


@dataclass(frozen=True)
class Lands:
    """A tube of lands alone, and where they lie.

    Attributes:
        EA: axial stiffness of a full tube as thick as the lands, N.
        EI: its bending stiffness, N m2.
        GJ: its torsional stiffness, N m2.
        circumferential: share of the circumference that seam lands take, 0 to 1.
        axial: share of the length that end lands take, 0 to 1.
        seams: number of strips, evenly spaced round the tube.
    """

    EA: Quantity
    EI: Quantity
    GJ: Quantity
    circumferential: Quantity
    axial: Quantity
    seams: int


def lands_of(wall: Wall) -> Lands:
    """Lands of a wall.

    Stiffness of a thick plain tube of that depth: E and G times area, second moment and
    polar moment (Timoshenko, Strength of Materials).

    Args:
        wall: one or many.

    Returns:
        Stiffness of a tube of lands, and the shares that lands take.
    """
    grid, known, tube = wall.grid, wall.properties, wall.design.tube
    skin = wall.design.skin.thickness
    faces = grid.radius - wall.side * skin / 2, grid.radius + wall.side * (wall.depth - skin / 2)
    inner, outer = np.minimum(*faces), np.maximum(*faces)
    area = np.pi * (outer**2 - inner**2)
    second = np.pi / 4 * (outer**4 - inner**4)
    shear = known.modulus / (2 * (1 + known.poisson))
    return Lands(
        known.modulus * area, known.modulus * second, 2 * shear * second,
        grid.segments * grid.seam_land / (2 * np.pi * grid.radius),
        2 * grid.sections * grid.end_land / tube.length,
        grid.segments,
    )


def with_lands(grid: BeamStiffness, lands: Lands) -> BeamStiffness:
    """Stiffness of the tube as it is built, from that of the grid all round and along.

    Seams: forces of parallel parts add up, each free to contract round the tube; shear flow of
    torsion is the same all round, so compliances add (Bredt). Two seams (or one) stiffen one
    plane only: the land adds twice its share to EI in the plane of the seams, nothing across.
    ``EI`` is the lesser, ``EI_max`` the greater; with three seams or more they are one. End
    lands follow the grid in length: compliances add. Left out: what the land's own edges, pockets
    left solid beside it, and the shift of the neutral axis by a single seam do (a few per cent of
    what the lands add).

    Args:
        grid: stiffness of the gridded wall without lands.
        lands: from `lands_of`.

    Returns:
        Stiffness with lands.
    """
    s, f = lands.circumferential, lands.axial
    EA = (1 - s) * grid.EA + s * lands.EA
    GJ = 1 / ((1 - s) / grid.GJ + s / lands.GJ)
    if lands.seams >= 3:
        EI_min = EI_max = (1 - s) * grid.EI + s * lands.EI
    else:
        # Seams at the ends of one diameter: cos^2 is 1 there and its mean round the tube 1/2.
        gain = s * (lands.EI - grid.EI)
        EI_min = grid.EI + np.minimum(2 * gain, 0.0)
        EI_max = grid.EI + np.maximum(2 * gain, 0.0)

    def in_series(section: Quantity, ring: Quantity) -> Quantity:
        return 1 / ((1 - f) / section + f / ring)

    GJ = in_series(GJ, lands.GJ)
    return BeamStiffness(
        EA=in_series(EA, lands.EA), EI=in_series(EI_min, lands.EI), GJ=GJ,
        GA=grid.GA * GJ / grid.GJ, EI_max=in_series(EI_max, lands.EI),
    )


def tube_stiffness(wall: Wall, formula: bool = False) -> BeamStiffness:
    """Stiffness of the tube of a wall, with its lands.

    Args:
        wall: one or many.
        formula: True for the formula alone, even if a solid cell gives the wall's stiffness.

    Returns:
        Stiffness of the tube.
    """
    matrices = wall.curved_formula if formula else wall.curved
    grid = beam_stiffness(*matrices, wall.grid.radius)
    if not wall.sections:
        return grid
    return with_lands(grid, lands_of(wall))
