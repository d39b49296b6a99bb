"""Shell mesh of a tube: the middle surface of its skin, with the A, B, D of the ribbed wall.

Coordinates: x along the axis from the left end, then the hoop angle from z towards y, so that
axial, hoop and outward are right-handed and the first side of every element runs along the axis.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.proof.decks.model import Model, Part, Rim, check_size, shell_rim
from gridshell.proof.shells.sample import shell_wall
from gridshell.wall.assess import Wall

_LEAST_ROUND = 48
PER_POCKET = 1.0


def shell_mesh(
    design: Design, wall: Wall, per_pocket: float = PER_POCKET, per_wave: tuple[float, float] | None
    = None,
) -> Model:
    """Mesh of the skin's middle surface from end to end.

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
    angle = 2 * np.pi * np.arange(around) / around
    points = np.stack([
        np.repeat(x, around), np.tile(radius * np.sin(angle), along + 1),
        np.tile(radius * np.cos(angle), along + 1)], axis=1)
    number = np.arange((along + 1) * around).reshape(along + 1, around)
    turned = np.roll(number, -1, axis=1)
    quads = np.stack([number[:-1], number[1:], turned[1:], turned[:-1]], axis=-1).reshape(-1, 4)
    thick = np.ones(around)  # of no meaning by itself: all nodes of the end are alike
    rims: list[Rim] = [
        shell_rim(points, np.stack([number[k], turned[k]], axis=1), thick, radius) for k in (0, -1)]
    section = shell_wall(wall)
    # As heavy as the tube is, lands and all; facets are a little smaller than the circle.
    surface = length * 2 * around * radius * np.sin(np.pi / around)
    section = replace(section, areal_mass=float(wall.tube_mass) / surface)
    return Model(
        "wall", np.concatenate([points, [[0.0, 0.0, 0.0], [length, 0.0, 0.0]]]),
        (Part("SKIN", quads, section),), (rims[0], rims[1]),
        np.stack([np.arange(len(quads)), np.zeros(len(quads), dtype=int)], axis=1),
        radius=radius, length=length,
    )
