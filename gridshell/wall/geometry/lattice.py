"""The grid of a design after rounding to whole cells: cell size, panels between lands, families.

A panel is one segment of one section between its solid lands. Whole cells fit both round and along
it, so the spacing that is built differs a little from the spacing that was asked for; the rounding
is kept with the result.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.types import NOT_STATED, Quantity

ROOT3_2 = np.sqrt(3.0) / 2


@dataclass(frozen=True)
class FamilyLine:
    """Direction and pitch of one set of parallel ribs.

    Attributes:
        cosine: of the angle from the tube's axis.
        sine: of the angle from the tube's axis.
        pitch: perpendicular distance between ribs, m.
        name: axial, hoop or diagonal.
        height: of its ribs if it differs from ``[ribs]``, else None, m.
        width: of its ribs at the tip if it differs from ``[ribs]``, else None, m.
    """

    cosine: Quantity
    sine: Quantity
    pitch: Quantity
    name: str
    height: Quantity = NOT_STATED
    width: Quantity = NOT_STATED

    @property
    def angle(self) -> Quantity:
        """Angle from the axis, rad."""
        return np.arctan2(self.sine, self.cosine)

    @property
    def pull(self) -> tuple[Quantity, Quantity, Quantity]:
        """What its ribs see of (axial, hoop, shear) strain: P = (c^2, s^2, c s)."""
        return self.cosine**2, self.sine**2, self.cosine * self.sine


def mirror_pairs(
    lines: Sequence[FamilyLine], sections: Sequence[object]
) -> Iterator[tuple[int, int]]:
    """Places of families and how often each counts: a pair of mirror images is done once.

    Args:
        lines: the families.
        sections: rib section of each; the very same object for equal ones.
    """
    index = 0
    while index < len(lines):
        paired = False
        if index + 1 < len(lines) and sections[index] is sections[index + 1]:
            line, after = lines[index], lines[index + 1]
            paired = bool(
                np.all(after.cosine == line.cosine) and np.all(after.sine == -line.sine)
                and np.all(after.pitch == line.pitch)
            )
        yield index, 2 if paired else 1
        index += 2 if paired else 1


@dataclass(frozen=True)
class Rounding:
    """One stated dimension and what whole cells made of it.

    Attributes:
        what: the dimension in words.
        stated: in the definition file, m.
        used: after rounding to whole cells, m.
    """

    what: str
    stated: Quantity
    used: Quantity


@dataclass(frozen=True)
class Lattice:
    """The grid as it is built; lengths in m, on the skin's middle surface.

    Attributes:
        pattern: as in ``[ribs]``.
        orientation: as in ``[ribs]``.
        radius: of the skin's middle surface.
        panel_width: of one panel between its lands, around the tube.
        panel_height: of one panel between its lands, along the tube.
        seam_land: width of the solid land along each seam.
        end_land: width of the solid land at each end of a section.
        segments: number of panels around the tube.
        sections: number of panels along the tube.
        cells_round: cells around one panel.
        cells_along: cells along one panel.
        cell_width: of one cell, around the tube. Isogrid with hoop ribs: the rib length; with
            axial ribs: the column width. Diagonal: of the rhombus.
        cell_height: of one cell, along the tube. Isogrid with hoop ribs: the row height; with
            axial ribs: the rib length. Diagonal: of the rhombus.
        closed: one panel that closes on itself, no seam.
        families: the rib families (none for a plain wall).
        rounding: stated against used dimensions.
    """

    pattern: str
    orientation: str
    radius: Quantity
    panel_width: Quantity
    panel_height: Quantity
    seam_land: Quantity
    end_land: Quantity
    segments: int
    sections: int
    cells_round: Quantity
    cells_along: Quantity
    cell_width: Quantity
    cell_height: Quantity
    closed: bool
    families: tuple[FamilyLine, ...]
    rounding: tuple[Rounding, ...]

    @property
    def node_area(self) -> Quantity:
        """Wall area per node where ribs cross, m2 (of no meaning for the user's own families)."""
        per_cell = 2 if self.pattern == "diagonal" else 1
        return self.cell_width * self.cell_height / per_cell


def _whole(value: Quantity, even: bool = False) -> Quantity:
    if even:
        return 2 * np.maximum(np.rint(value / 2), 1.0)
    return np.maximum(np.rint(value), 1.0)


def lattice(
    design: Design, cells_round: Quantity | None = None, cells_along: Quantity | None = None
) -> Lattice:
    """The grid of a design (or of an array of designs of one pattern).

    Args:
        design: one design or many.
        cells_round: cells round a panel, instead of the nearest whole number to the stated
            spacing; the search for a size works with given counts.
        cells_along: likewise along a panel.
    """
    tube, ribs = design.tube, design.ribs
    radius = design.skin_radius
    panel_width = 2 * np.pi * radius / tube.segments - tube.seam_land
    panel_height = design.section_length - 2 * tube.end_land
    closed = tube.segments == 1 and bool(np.all(np.asarray(tube.seam_land) == 0))
    width: Quantity = panel_width
    height: Quantity = panel_height
    families: tuple[FamilyLine, ...] = ()
    rounding: tuple[Rounding, ...] = ()
    around: Quantity = 1.0
    along: Quantity = 1.0

    def fit(wide: Quantity, even: bool = False) -> tuple[Quantity, Quantity]:
        number = _whole(panel_width / wide, even) if cells_round is None else cells_round
        return number, panel_width / number

    def stack(high: Quantity) -> tuple[Quantity, Quantity]:
        number = _whole(panel_height / high) if cells_along is None else cells_along
        return number, panel_height / number

    if ribs.pattern == "isogrid" and ribs.orientation == "hoop":
        around, width = fit(ribs.spacing)
        along, height = stack(width * ROOT3_2)
        length = np.hypot(width / 2, height)
        cosine, sine = height / length, width / 2 / length
        pitch = width * cosine
        families = (
            FamilyLine(0.0, 1.0, height, "hoop"),
            FamilyLine(cosine, sine, pitch, "diagonal"),
            FamilyLine(cosine, -sine, pitch, "diagonal"),
        )
        rounding = (
            Rounding("hoop rib length", ribs.spacing, width),
            Rounding("diagonal rib length", ribs.spacing, length),
        )
    elif ribs.pattern == "isogrid":
        # Neighbouring columns are shifted by half a rib, so a seamless tube needs an even number.
        around, width = fit(ribs.spacing * ROOT3_2, even=closed)
        along, height = stack(width / ROOT3_2)
        length = np.hypot(width, height / 2)
        cosine, sine = height / 2 / length, width / length
        pitch = height * sine
        families = (
            FamilyLine(1.0, 0.0, width, "axial"),
            FamilyLine(cosine, sine, pitch, "diagonal"),
            FamilyLine(cosine, -sine, pitch, "diagonal"),
        )
        rounding = (
            Rounding("axial rib length", ribs.spacing, height),
            Rounding("diagonal rib length", ribs.spacing, length),
        )
    elif ribs.pattern == "orthogrid":
        around, width = fit(ribs.spacing)
        along, height = stack(ribs.hoop_spacing)
        families = (
            FamilyLine(1.0, 0.0, width, "axial"), FamilyLine(0.0, 1.0, height, "hoop")
        )
        rounding = (
            Rounding("spacing of axial ribs", ribs.spacing, width),
            Rounding("spacing of hoop ribs", ribs.hoop_spacing, height),
        )
    elif ribs.pattern == "diagonal":
        around, width = fit(ribs.spacing / np.cos(ribs.angle))
        along, height = stack(width / np.tan(ribs.angle))
        length = np.hypot(width, height)
        cosine, sine = height / length, width / length
        pitch = width * cosine
        families = (
            FamilyLine(cosine, sine, pitch, "diagonal"),
            FamilyLine(cosine, -sine, pitch, "diagonal"),
        )
        rounding = (
            Rounding("spacing of ribs", ribs.spacing, pitch),
            Rounding("axial length of a cell", ribs.spacing / np.sin(ribs.angle), height),
        )
    elif ribs.pattern == "families":
        families, rounding = _own_families(design, 2 * np.pi * radius, panel_height)
    return Lattice(
        ribs.pattern, ribs.orientation, radius=radius, panel_width=panel_width,
        panel_height=panel_height, seam_land=tube.seam_land, end_land=tube.end_land,
        segments=tube.segments, sections=tube.sections, cells_round=around, cells_along=along,
        cell_width=width, cell_height=height, closed=closed, families=families, rounding=rounding,
    )


def _own_families(
    design: Design, circumference: Quantity, panel_height: Quantity
) -> tuple[tuple[FamilyLine, ...], tuple[Rounding, ...]]:
    lines, rounding = [], []
    for index, stated in enumerate(design.ribs.family, start=1):
        cosine, sine = np.cos(stated.angle), np.sin(stated.angle)
        # Starts of a helix round the tube; a family with none is a set of rings along it.
        starts = np.rint(circumference * cosine / stated.spacing)
        rings = _whole(panel_height / stated.spacing)
        is_ring = starts < 1
        pitch = np.where(
            is_ring, panel_height / rings, circumference * cosine / np.maximum(starts, 1.0)
        )
        cosine = np.where(is_ring, 0.0, cosine)
        sine = np.where(is_ring, 1.0, sine)
        name = f"family {index}"
        lines.append(FamilyLine(cosine, sine, pitch, name, stated.height, stated.width))
        rounding.append(Rounding(f"spacing of {name}", stated.spacing, pitch))
    return tuple(lines), tuple(rounding)
