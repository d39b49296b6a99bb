"""Stress concentration at the corners of pockets, which a brittle wall does not yield away."""

from __future__ import annotations

import numpy as np

from gridshell.define.types import BoolArray, Quantity
from gridshell.wall.assess import Wall

LEAST_STRAIN = 0.02  # strain at break below which a material is taken as brittle (no source)
SHARPEST = 1e-4  # radius taken where no root fillet is stated, m (no source)
SOURCE = "shoulder fillet: R. B. Heywood, Designing by Photoelasticity (1952), from memory"


def shoulder_factor(thick: Quantity, thin: Quantity, radius: Quantity) -> Quantity:
    """Peak over nominal stress where a wall steps from thick to thin with a fillet.

    1 + [(D/d - 1)/(2 (2.8 D/d - 2)) d/r]^0.65 for a step on both sides of a strip; a step on one
    side that is kept from bending is half of that strip. Source: Heywood (1952), from memory;
    Peterson's chart has 1.75 at D/d = 3, r/d = 0.25 (from memory):

    >>> bool(1.65 < shoulder_factor(3.0, 1.0, 0.5) < 1.85)
    True

    Args:
        thick: wall with its rib, m.
        thin: wall without, m.
        radius: of the fillet, m.
    """
    ratio = thick / thin
    step = (ratio - 1) / (2 * (2.8 * ratio - 2)) * 2 * thin / radius
    return 1 + step**0.65


def is_brittle(wall: Wall) -> BoolArray:
    """Where the material breaks without yielding: cold, or with little strain at break.

    Args:
        wall: one or many.
    """
    known = wall.properties
    found: BoolArray = np.asarray(False)
    if known.brittle_temperature is not None:
        found = found | (np.asarray(known.temperature) < known.brittle_temperature)
    if known.strain_at_break is not None:
        found = found | (np.asarray(known.strain_at_break) < LEAST_STRAIN)
    return found


def corner_factor(wall: Wall) -> Quantity:
    """Peak over mean stress of the skin at the foot of its ribs; 1 without ribs.

    Args:
        wall: one or many.
    """
    if not wall.sections:
        return 1.0
    fillet = np.maximum(wall.design.ribs.root_fillet, SHARPEST)
    return shoulder_factor(wall.depth, wall.design.skin.thickness, fillet)
