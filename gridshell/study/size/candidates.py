"""The walls that sizing tries, and how a point of the search becomes a design.

A point is the logarithms of the dimensions that may change: rib height, rib width, skin thickness,
cells round and (orthogrid, diagonal) cells along. Cells are real numbers while the search is on,
whole ones in the end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Design, Ribs, with_values
from gridshell.define.types import NOT_STATED, Array, Quantity
from gridshell.wall.geometry.lattice import ROOT3_2, Lattice, lattice

# name -> pattern, orientation, what people call it
WALLS = {
    "isogrid-hoop": ("isogrid", "hoop", "isogrid, hoop ribs"),
    "isogrid-axial": ("isogrid", "axial", "isogrid, axial ribs"),
    "orthogrid": ("orthogrid", "hoop", "orthogrid"),
    "diagonal": ("diagonal", "hoop", "diagonal"),
    "plain": ("plain", "hoop", "plain wall"),
}
DIMENSIONS = ("height", "width", "skin", "cells_round", "cells_along")
_FIELDS = {"height": "ribs.height", "width": "ribs.width", "skin": "skin.thickness"}
_ANYTHING = 1.0  # stands for a spacing or angle that given cell counts make unused
_SPACING_DIGITS, _ANGLE_DIGITS = 5, 4  # of meters and radians as written in a file


@dataclass(frozen=True)
class WallChoice:
    """One wall to try.

    Attributes:
        wall: a key of `WALLS`.
        side: of the ribs; None for the plain wall.
        template: the user's design with this pattern; its dimensions are placeholders.
    """

    wall: str
    side: str | None
    template: Design

    @property
    def pattern(self) -> str:
        """As in ``[ribs]``."""
        return WALLS[self.wall][0]

    @property
    def label(self) -> str:
        """What people call it."""
        return WALLS[self.wall][2] + (f", {self.side}" if self.side else "")

    @property
    def dimensions(self) -> tuple[str, ...]:
        """What a point holds."""
        if self.pattern == "plain":
            return ("skin",)
        return DIMENSIONS[:4] if self.pattern == "isogrid" else DIMENSIONS

    @property
    def lengths(self) -> np.ndarray:
        """Places of the dimensions that are not cells."""
        return np.array([i for i, n in enumerate(self.dimensions) if not n.startswith("cells")])

    def column(self, points: Array, name: str) -> Quantity:
        """A dimension out of points (..., n), not as a logarithm; None where it has none."""
        if name not in self.dimensions:
            answer: Quantity = NOT_STATED
            return answer
        return np.exp(points[..., self.dimensions.index(name)])

    @property
    def even(self) -> bool:
        """Whether cells round must be even: axial isogrid closed on itself."""
        tube = self.template.tube
        return self.wall == "isogrid-axial" and tube.segments == 1 and not tube.seam_land


def wall_choice(design: Design, wall: str, side: str | None) -> WallChoice:
    """The user's design with another pattern on it."""
    pattern, orientation, _ = WALLS[wall]
    if pattern == "plain":
        ribs = Ribs(pattern="plain")
        return WallChoice(wall, None, with_values(design, {"ribs": ribs}))
    old = design.ribs
    ribs = Ribs(
        pattern=pattern, orientation=orientation, side=side or old.side, height=_ANYTHING,
        width=_ANYTHING, draft=old.draft, spacing=_ANYTHING,
        hoop_spacing=_ANYTHING if pattern == "orthogrid" else NOT_STATED,
        angle=_ANYTHING if pattern == "diagonal" else NOT_STATED,
        corner_radius=old.corner_radius, root_fillet=old.root_fillet,
        smallest_pocket=old.smallest_pocket,
    )
    return WallChoice(wall, ribs.side, with_values(design, {"ribs": ribs}))


def placed(
    choice: WallChoice, points: Array, whole: bool
) -> tuple[Design, Quantity, Quantity]:
    """Designs at points, with their cells round and along.

    Args:
        choice: the wall.
        points: (..., n) logarithms.
        whole: True: cells are whole; an isogrid's rows are rounded as the definition file's reader
            will round them. False: cells are real numbers and isogrids equilateral.
    """
    values = {
        field: choice.column(points, name)
        for name, field in _FIELDS.items() if name in choice.dimensions
    }
    design = with_values(choice.template, values)
    if choice.pattern == "plain":
        return design, NOT_STATED, NOT_STATED
    around = choice.column(points, "cells_round")
    along = choice.column(points, "cells_along")
    if whole:
        around = np.rint(around)
        along = None if along is None else np.rint(along)
    elif along is None:
        single = lattice(design, around, 1.0)
        stretch = ROOT3_2 if choice.wall == "isogrid-hoop" else 1 / ROOT3_2
        along = single.panel_height / (single.cell_width * stretch)
    return design, around, along


def as_stated(choice: WallChoice, point: Array) -> Design:
    """The design at one whole point as a user would state it: spacings instead of cell counts.

    Spacings are written to 0.01 mm where that still gives the same cells, else to the last digit.
    """
    design, around, along = placed(choice, point, whole=True)
    design = with_values(design, {
        "skin.thickness": float(design.skin.thickness), "ribs.height": float(design.ribs.height),
        "ribs.width": float(design.ribs.width),
    })
    if choice.pattern == "plain":
        return design
    grid = lattice(design, around, along)

    def with_spacing(coarse: bool) -> Design:
        def written(value: Quantity, places: int = _SPACING_DIGITS) -> float:
            return round(float(value), places) if coarse else float(value)

        if choice.pattern == "isogrid":
            length = grid.cell_width if grid.orientation == "hoop" else grid.cell_width / ROOT3_2
            return with_values(design, {"ribs.spacing": written(length)})
        if choice.pattern == "orthogrid":
            return with_values(design, {
                "ribs.spacing": written(grid.cell_width),
                "ribs.hoop_spacing": written(grid.cell_height),
            })
        line = grid.families[0]
        return with_values(design, {
            "ribs.spacing": written(line.pitch), "ribs.angle": written(line.angle, _ANGLE_DIGITS),
        })

    stated = with_spacing(coarse=True)
    if same_cells(lattice(stated), grid):
        return stated
    return with_spacing(coarse=False)


def same_cells(one: Lattice, other: Lattice) -> bool:
    """Whether two grids have the same cell counts."""
    return (
        float(one.cells_round) == float(other.cells_round)
        and float(one.cells_along) == float(other.cells_along)
    )
