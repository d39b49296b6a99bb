"""Which of many designs can exist at all: the checks between fields, on arrays.

The checks of one design name each fault in words (`gridshell.define.checks`); a sweep over a
million needs only yes or no. The tests hold the two together.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.checks import (
    LEAST_RIB,
    LONGEST_TUBE,
    MOST_CELLS,
    THINNEST_MEAN_RADIUS_RATIO,
    THINNEST_SKIN,
)
from gridshell.define.tables.design import Design
from gridshell.define.types import BoolArray, Quantity

_MOST_OF_A_CELL = 1.5  # cell over panel up to which rounding to one cell is let pass


def possible(design: Design) -> BoolArray:
    """True where the fields of a design (arrays or not) do not contradict each other.

    Args:
        design: one design or many of one pattern.
    """
    tube, skin = design.tube, design.skin
    outside = tube.outside_diameter / 2
    radius = design.skin_radius
    around = 2 * np.pi * radius
    with np.errstate(all="ignore"):
        good = np.asarray(
            (skin.thickness > 0)
            & (outside <= THINNEST_SKIN * skin.thickness)
            & (tube.length <= LONGEST_TUBE * outside)
            & (outside >= THINNEST_MEAN_RADIUS_RATIO * (skin.thickness + design.rib_height))
            & (radius > 0)
            & (tube.segments * tube.seam_land < around / 2)
            & (2 * tube.end_land < design.section_length)
        )
        if design.has_ribs:
            good = good & _ribs_fit(design, around) & _cells_fit(design, around)
    return good


def _ribs_fit(design: Design, around: Quantity) -> BoolArray:
    """Whether spacings go round and ribs, corner radii and fillets leave pockets."""
    ribs = design.ribs
    spacings = [f.spacing for f in ribs.family] if ribs.pattern == "families" else [ribs.spacing]
    good = np.asarray(True)
    for spacing in spacings:
        good = good & (spacing > 0) & (spacing <= around / 3)
    if ribs.pattern == "families":
        for family in ribs.family:
            good = good & _room_left(
                design, ribs.width if family.width is None else family.width,
                ribs.height if family.height is None else family.height, family.spacing,
            )
        return good
    good = good & (ribs.height >= LEAST_RIB) & (ribs.width >= LEAST_RIB)
    room: Quantity = ribs.spacing
    if ribs.pattern == "isogrid":
        room = ribs.spacing / np.sqrt(3)
    elif ribs.pattern == "orthogrid":
        good = good & (ribs.hoop_spacing > 0) & (ribs.hoop_spacing <= design.section_length)
        room = np.minimum(ribs.spacing, ribs.hoop_spacing)
    return good & _room_left(design, ribs.width, ribs.height, room)


def _room_left(design: Design, width: Quantity, height: Quantity, room: Quantity) -> BoolArray:
    ribs = design.ribs
    root = width + 2 * height * np.tan(ribs.draft)
    rounding = np.maximum(ribs.corner_radius, ribs.root_fillet)
    return np.asarray(
        (root < room) & (rounding <= (room - root) / 2)
        & ((height <= 0) | (ribs.root_fillet <= height))
    )


def _cells_fit(design: Design, around: Quantity) -> BoolArray:
    """Whether a whole cell fits between the lands, and the number of cells is not absurd."""
    ribs, tube = design.ribs, design.tube
    wide = around / tube.segments - tube.seam_land
    high = design.section_length - 2 * tube.end_land
    good = np.asarray(True)
    if ribs.pattern == "families":
        width: Quantity = np.inf
        for family in ribs.family:
            width = np.minimum(width, family.spacing)
        height = width
    else:
        row = np.sqrt(3) / 2
        if ribs.pattern == "isogrid":
            size = (1.0, row) if ribs.orientation == "hoop" else (row, 1.0)
            width, height = ribs.spacing * size[0], ribs.spacing * size[1]
        elif ribs.pattern == "orthogrid":
            width, height = ribs.spacing, ribs.hoop_spacing
        else:
            width, height = ribs.spacing / np.cos(ribs.angle), ribs.spacing / np.sin(ribs.angle)
        good = np.asarray(
            (width <= _MOST_OF_A_CELL * wide) & (height <= _MOST_OF_A_CELL * high))
    return good & (around / width * tube.length / height <= MOST_CELLS)
