"""Shell mesh of a tube: one smooth surface with the A, B, D of the ribbed wall.

Coordinates: x along the axis from the left end, then the hoop angle from z towards y, so that
axial, hoop and outward are right-handed and the first side of every element runs along the axis.

The surface is the one about which shear and twist of the wall do not couple, B66/A66 above the
skin's middle surface. Flat elements that meet at an angle hand on the part of a twisting moment
along the neighbor's normal only through a stiffness against turning about it, which most programs
choose at will: without one the wall twists as it likes, and GJ is 2 pi R^3 (A66 - B66^2/D66) in
place of 2 pi R (A66 R^2 + 2 B66 R + D66). About this surface B66 is zero and the two are the same
but for D66/R^2.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.proof.decks.model import Model, Part, Rim, check_size, shell_rim
from gridshell.proof.shells.sample import shell_wall
from gridshell.proof.shells.tube import ShellWall
from gridshell.wall.assess import Wall

_LEAST_ROUND = 48
PER_POCKET = 1.0


def shell_mesh(
    design: Design, wall: Wall, per_pocket: float = PER_POCKET, per_wave: tuple[float, float] | None
    = None,
) -> Model:
    """Mesh of the wall from end to end.

    Args:
        design: one design.
        wall: of the design.
        per_pocket: elements in one cell of the grid each way; at least 48 round the tube.
        per_wave: length along and round, m, of one element instead (from a half wave).

    Raises:
        InputError: the mesh would be too large, or have less than one element in four cells.
    """
    if not per_pocket >= 0.25:
        raise InputError(f"--per-pocket {per_pocket:g}: must be at least 0.25")
    radius, length = float(wall.grid.radius), float(design.tube.length)
    wide = float(wall.grid.cell_width) if design.has_ribs else 2 * np.pi * radius / 96
    high = float(wall.grid.cell_height) if design.has_ribs else wide
    if per_wave is not None:
        high, wide = per_wave
        per_pocket = 1.0
    option = f"--per-pocket {per_pocket:g}" if per_wave is None else "--per-wave"
    check_size(option, 2 * np.pi * radius / wide * per_pocket * (length / high * per_pocket))
    around = max(int(np.ceil(2 * np.pi * radius / wide * per_pocket)), _LEAST_ROUND)
    along = max(int(np.ceil(length / high * per_pocket)),
                int(np.ceil(length / (2 * np.pi * radius / around) / 3)), 4)
    check_size(option, (along + 1) * around)
    x = np.linspace(0.0, length, along + 1)
    section, height = uncoupled(shell_wall(wall), radius)
    # A polygon of the area of its circle has the circle's EA, EI and GJ.
    ring = (radius + height) * float(polygon_scale(np.full(around, 2 * np.pi / around)))
    angle = 2 * np.pi * np.arange(around) / around
    points = np.stack([
        np.repeat(x, around), np.tile(ring * np.sin(angle), along + 1),
        np.tile(ring * np.cos(angle), along + 1)], axis=1)
    number = np.arange((along + 1) * around).reshape(along + 1, around)
    turned = np.roll(number, -1, axis=1)
    quads = np.stack([number[:-1], number[1:], turned[1:], turned[:-1]], axis=-1).reshape(-1, 4)
    thick = np.ones(around)  # of no meaning by itself: all nodes of the end are alike
    rims: list[Rim] = [
        shell_rim(points, np.stack([number[k], turned[k]], axis=1), thick, radius) for k in (0, -1)]
    # As heavy as the tube is, lands and all.
    surface = length * 2 * around * ring * np.sin(np.pi / around)
    section = replace(section, areal_mass=float(wall.tube_mass) / surface)
    return Model(
        "wall", np.concatenate([points, [[0.0, 0.0, 0.0], [length, 0.0, 0.0]]]),
        (Part("SKIN", quads, section),), (rims[0], rims[1]),
        np.stack([np.arange(len(quads)), np.zeros(len(quads), dtype=int)], axis=1),
        radius=radius, length=length, height=height,
    )


def uncoupled(section: ShellWall, radius: float) -> tuple[ShellWall, float]:
    """The wall about the surface that leaves shear and twist uncoupled, and its height, m.

    A surface z higher is (R + z)/R times as large: what a piece of wall stores stays the same.

    Args:
        section: about the skin's middle surface.
        radius: of the skin's middle surface, m.
    """
    A, B, D = section.stiffness
    z = float(B[2, 2] / A[2, 2])
    share = radius / (radius + z)
    stiffness = (share * A, share * (B - z * A), share * (D - 2 * z * B + z**2 * A))
    shear = (share * section.shear[0], share * section.shear[1])
    return ShellWall(stiffness, shear, share * section.areal_mass), z


def polygon_scale(turns: Array) -> Array:
    """Radius of a polygon's corners over that of the circle with its area.

    Args:
        turns: angle that each side takes, rad; 2 pi in all.
    """
    return np.sqrt(2 * np.pi / np.sum(np.sin(turns)))
