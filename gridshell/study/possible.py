"""Which of many designs can exist at all: the checks between fields, on arrays.

The checks of one design name each fault in words (`gridshell.define.checks`); a sweep over a
million needs only yes or no. The tests hold the two together.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.checks import THINNEST_MEAN_RADIUS_RATIO
from gridshell.define.model import Design
from gridshell.define.types import Quantity


def possible(design: Design) -> Quantity:
    """True where the fields of a design (arrays or not) do not contradict each other.

    Args:
        design: one design or many of one pattern.
    """
    tube, skin, ribs = design.tube, design.skin, design.ribs
    outside = tube.outside_diameter / 2
    depth = skin.thickness + (ribs.height if design.has_ribs else 0.0)
    radius = design.skin_radius
    around = 2 * np.pi * radius
    section = design.section_length
    good = (
        (skin.thickness > 0)
        & (outside >= THINNEST_MEAN_RADIUS_RATIO * depth)
        & (radius > 0)
        & (tube.segments * tube.seam_land < around / 2)
        & (2 * tube.end_land < section)
    )
    if not design.has_ribs:
        return np.asarray(good)
    spacings = [ribs.spacing] if ribs.spacing is not None else []
    if ribs.pattern == "families":
        spacings = [family.spacing for family in ribs.family]
    for spacing in spacings:
        good = good & (spacing > 0) & (spacing <= around / 3)
    if ribs.hoop_spacing is not None:
        good = good & (ribs.hoop_spacing > 0) & (ribs.hoop_spacing <= section)
    if ribs.pattern == "isogrid":
        room: Quantity = ribs.spacing / np.sqrt(3)
    elif ribs.pattern == "orthogrid":
        room = np.minimum(ribs.spacing, ribs.hoop_spacing)
    else:
        room = np.inf
        for spacing in spacings:
            room = np.minimum(room, spacing)
    root = ribs.width + 2 * ribs.height * np.tan(ribs.draft)
    rounding = np.maximum(ribs.corner_radius, ribs.root_fillet)
    if ribs.pattern != "families":
        good = good & (ribs.height > 0) & (ribs.width > 0)
    return np.asarray(
        good & (root < room) & (rounding <= (room - root) / 2)
        & ((ribs.height <= 0) | (ribs.root_fillet <= ribs.height))
    )
