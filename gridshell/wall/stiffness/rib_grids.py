"""What the finite-width formula takes a grid of ribs for: its pattern, or families of the user's.

Two families of equal ribs that cross at a right angle along and round the tube, or as mirror
images, meet in nodes: they are an orthogrid, or diagonal ribs. Others cross anywhere, a lower
bound. Near to a pattern the stiffness goes from one to the other evenly, so that no angle makes it
jump, and each design of an array is judged by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from gridshell.define.tables.design import Ribs
from gridshell.define.types import Quantity
from gridshell.wall.geometry.lattice import FamilyLine, Lattice
from gridshell.wall.geometry.rib_section import RibSection
from gridshell.wall.stiffness.finite_width import RibGrid
from gridshell.wall.stiffness.forms import is_zero
from gridshell.wall.stiffness.smeared import Entries

NEAR_ANGLE = np.radians(10.0)  # off a pattern's, from where on families count as none
NEAR_PITCH = 0.2  # of mirror images, likewise; of the logarithm


def rib_grids(
    ribs: Ribs, grid: Lattice, sections: Sequence[RibSection]
) -> list[tuple[Quantity, RibGrid]]:
    """Grids that the stiffness is made of, with their shares, which sum up to 1.

    Args:
        ribs: as stated.
        grid: cells after rounding.
        sections: section of one rib of each family.
    """
    def made(pattern: str, lines: Sequence[FamilyLine], node_area: Quantity) -> RibGrid:
        return RibGrid(
            pattern, lines, sections=sections, node_area=node_area, root_fillet=ribs.root_fillet,
            corner_radius=ribs.corner_radius, draft=ribs.draft)

    lines = grid.families
    whole = made(grid.pattern, lines, grid.node_area)
    if grid.pattern != "families" or len(lines) != 2 or sections[0] is not sections[1]:
        return [(1.0, whole)]
    found = [(share, made(pattern, exact, area)) for share, pattern, exact, area in _patterns(lines)
             if np.any(np.asarray(share) > 0)]
    rest: Quantity = 1.0
    for share, _ in found:
        rest = rest - share
    if np.any(np.asarray(rest) > 0):
        found.append((rest, whole))
    if len(found) == 1:
        return [(1.0, found[0][1])]
    return found


def _patterns(
    lines: Sequence[FamilyLine]
) -> Iterator[tuple[Quantity, str, tuple[FamilyLine, FamilyLine], Quantity]]:
    """Share, name, exact lines and wall area per node of each pattern two families may form."""
    one, two = lines
    for along, across in ((one, two), (two, one)):
        off = np.maximum(np.arctan2(np.abs(along.sine), np.abs(along.cosine)),
                         np.arctan2(np.abs(across.cosine), np.abs(across.sine)))
        yield (
            _near(off, NEAR_ANGLE), "orthogrid",
            (FamilyLine(1.0, 0.0, along.pitch, "axial"),
             FamilyLine(0.0, 1.0, across.pitch, "hoop")), along.pitch * across.pitch)
    first, second = (np.arctan2(line.sine, line.cosine) for line in lines)
    slant, pitch = (first - second) / 2, np.sqrt(one.pitch * two.pitch)
    cosine, sine = np.cos(slant), np.sin(slant)
    exact = np.asarray((one.cosine == two.cosine) & (one.sine == -two.sine))
    cosine, sine = np.where(exact, one.cosine, cosine), np.where(exact, one.sine, sine)
    crossing = np.asarray((one.cosine > 0) & (two.cosine > 0) & (np.abs(cosine * sine) > 1e-9))
    share = (_near(first + second, NEAR_ANGLE)
             * _near(np.log(one.pitch / two.pitch), NEAR_PITCH) * crossing)
    area = pitch**2 / np.maximum(np.abs(2 * sine * cosine), 1e-9)
    pitch = np.where(np.asarray(one.pitch) == two.pitch, one.pitch, pitch)
    yield share, "diagonal", (FamilyLine(cosine, sine, pitch, "diagonal"),
                              FamilyLine(cosine, -sine, pitch, "diagonal")), area


def _near(off: Quantity, most: float) -> Quantity:
    return np.maximum(1 - np.abs(off) / most, 0.0)


def mixed(
    parts: Sequence[tuple[Quantity, tuple[Entries, Entries, Entries]]]
) -> tuple[Entries, Entries, Entries]:
    """Entries of A, B, D weighed by shares; exact zeros stay.

    Args:
        parts: share and entries of each grid.
    """
    if len(parts) == 1:
        return parts[0][1]
    total: tuple[Entries, Entries, Entries] = ([0.0] * 6, [0.0] * 6, [0.0] * 6)
    for share, matrices in parts:
        for sums, entries in zip(total, matrices, strict=True):
            for n, entry in enumerate(entries):
                if not is_zero(entry):
                    sums[n] = sums[n] + share * entry
    return total
