"""A layer of ribs without the skin: its stiffness in plane stress, nodes included.

Far from the skin the ribs are a plane grid. Each layer of it strained by itself gives a lower
bound of the wall (layers that slide freely hold less), and as long as it is a plate with holes it
keeps two exact laws of plane elasticity:

- The stress does not depend on Poisson's ratio (Michell 1899), so the compliance over 1/E is that
  at v = 0 plus v times a constant: -v in 12, 2 v in 66 (A. V. Cherkaev, K. A. Lurie and G. W.
  Milton, "Invariant properties of the stress in plane elasticity and equivalence classes of
  composites", Proc. R. Soc. Lond. A 438 (1992)). The table needs v = 0 only.
- The stiffness of a solid share f is at most f/(2 - f) of the solid's at v = 0 when pulled evenly
  (Z. Hashin and S. Shtrikman, J. Mech. Phys. Solids 11 (1963)); the table keeps what was solved
  over that.

Patterns are solved by `gridshell.proof.plates.tables` (rib_layers.csv). Families of the user's own
have no known nodes; theirs is a lower bound, see `bars_share`.
"""

from __future__ import annotations

import csv
import functools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.compiling import for_many, where
from gridshell.define.types import Array, BoolArray, Quantity
from gridshell.wall.geometry.lattice import FamilyLine
from gridshell.wall.geometry.rib_section import RibSection
from gridshell.wall.stiffness.lookup import Table, found_at, refined, value_at

LAYERS = Path(__file__).parent / "rib_layers.csv"
_WIDTHS = (0.0, 0.03, 0.08, 0.16, 0.28, 0.45, 0.65, 0.85, 1.0)
_ROUNDINGS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
# Shape of the cell, rib width over that which closes the pocket, and corner radius (see
# `rounding_of`). Shape: isogrid, height of a row over that of the equilateral one; orthogrid,
# smaller over larger pitch; diagonal, angle from the axis in degrees.
LAYER_AXES = {
    "isogrid": ((0.6, 0.8, 1.0, 1.25, 1.7), _WIDTHS, _ROUNDINGS),
    "orthogrid": ((0.0, 0.15, 0.35, 0.65, 1.0), _WIDTHS, _ROUNDINGS),
    "diagonal": ((0.0, 5.0, 10.0, 15.0, 20.0, 26.0, 32.0, 38.0, 45.0), _WIDTHS, _ROUNDINGS),
}


@dataclass(frozen=True)
class Layer:
    """A layer of ribs; stiffness over E, so a solid layer has 1/(1 - v^2).

    Attributes:
        G11: axial stiffness in plane stress.
        G22: hoop stiffness in plane stress.
        G12: what couples the two.
        G66: stiffness in shear.
        solid: share of the layer that is solid.
        corners: share that the rounded corners fill.
    """

    G11: Quantity
    G22: Quantity
    G12: Quantity
    G66: Quantity
    solid: Quantity
    corners: Quantity


def unit_rectangle(pattern: str, shape: float) -> tuple[float, float, float]:
    """Axial and hoop size of the repeating rectangle and radius of the pocket's inscribed circle.

    Args:
        pattern: isogrid (hoop ribs of length 1), orthogrid (axial ribs at pitch 1) or diagonal
            (ribs of length 1).
        shape: see `LAYER_AXES`.
    """
    if pattern == "isogrid":
        row = float(np.sqrt(0.75)) * shape
        return 2 * row, 1.0, row / (1 + 2 * float(np.hypot(row, 0.5)))
    if pattern == "orthogrid":
        return 1 / shape, 1.0, 0.5
    c, s = float(np.cos(np.radians(shape))), float(np.sin(np.radians(shape)))
    return 2 * c, 2 * s, c * s


def rounding_of(width: Quantity, room: Quantity, radius: Quantity) -> Quantity:
    """Coordinate of a corner radius: r/(b + r) over its value for the largest radius, 0 to 1."""
    return np.minimum(radius, room) / (width + np.minimum(radius, room)) * (width + room) / room


def radius_of(width: float, room: float, rounding: float) -> float:
    """The corner radius of that coordinate, m."""
    share = rounding * room / (width + room)
    return width * share / (1 - share)


def inscribed(pattern: str, pitches: Sequence[Quantity]) -> Quantity:
    """Radius of the circle that touches the center lines round a pocket, m."""
    if pattern == "orthogrid":
        return np.minimum(pitches[0], pitches[1]) / 2
    return 1 / sum((1 / pitch for pitch in pitches), start=0.0)


def solid_share(
    pattern: str, pitches: Sequence[Quantity], node_area: Quantity, widths: Sequence[Quantity],
    radius: Quantity,
) -> tuple[Quantity, Quantity]:
    """Share of a layer that is solid, nodes once, and how much of it is in rounded corners.

    Plane geometry. A pocket around a circle (triangle, rhombus) shrinks as the square of what the
    ribs leave of that circle; rounding its corners adds r^2 (S - pi), S the sum of cot(angle/2).
    Families of the user's own leave the product of what each leaves.

    Args:
        pattern: of the ribs.
        pitches: of the families, m.
        node_area: area of the layer per node, m2.
        widths: of the ribs of each family, m; all alike but for "families".
        radius: of the pockets' corners, m; held at the largest that fits.
    """
    if pattern in ("families", "orthogrid"):
        opened: Quantity = 1.0
        for width, pitch in zip(widths, pitches, strict=True):
            opened = opened * np.maximum(1 - width / pitch, 0.0)
        if pattern == "families":
            return 1 - opened, 0.0 * opened
        corners: Quantity = 4 - np.pi
    else:
        pockets = 2 if pattern == "isogrid" else 1
        density = 1 / inscribed(pattern, pitches)
        opened = np.maximum(1 - widths[0] * density / 2, 0.0) ** 2
        corners = node_area * density * density - pockets * np.pi
    fitting = np.clip(inscribed(pattern, pitches) - widths[0] / 2, 0.0, radius)
    rounded = fitting * fitting * corners / node_area
    return 1 - opened + rounded, rounded


@functools.cache
def _table(pattern: str) -> Table:
    shapes, widths, roundings = LAYER_AXES[pattern]
    found = np.full((len(shapes), len(widths), len(roundings), 4), np.nan)
    with open(LAYERS, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["pattern"] == pattern:
                place = (shapes.index(float(row["shape"])), widths.index(float(row["width"])),
                         roundings.index(float(row["rounding"])))
                solid = float(row["fraction"])
                found[place] = [float(row[name]) * (2 - solid) / solid
                                for name in ("G11", "G22", "G12", "G66")]
    _fill(pattern, found)
    counts = (41 if pattern != "isogrid" else 23, 65, 21)
    return refined((shapes, np.sqrt(widths), roundings), found, counts)


def _fill(pattern: str, found: Array) -> None:
    """Limits that need no solution, and shapes that can't be meshed, in place."""
    shapes, widths, roundings = LAYER_AXES[pattern]
    found[:, -1] = (1.0, 1.0, 0.0, 0.5)  # closed: solid
    for i, shape in enumerate(shapes):
        if shape == 0.0:
            continue
        for k in range(len(roundings)):
            for j in range(1, len(widths) - 1):
                if np.isnan(found[i, j, k, 0]) and k:
                    found[i, j, k] = found[i, j, k - 1]
            known = ~np.isnan(found[i, 1:, k, 0])
            for n in range(4):
                found[i, 1:, k, n] = np.interp(
                    widths[1:], np.asarray(widths[1:])[known], found[i, 1:, k, n][known])
        # Ribs so thin that they bend freely: bars alone, unless the corners are all there is.
        found[i, 0] = _thin(pattern, shape)
        found[i, 0, -1] = found[i, 1, -1]
    if shapes[0] == 0.0:  # one set of parallel ribs is left: uniaxial
        found[0] = 0.0
        if pattern == "orthogrid":
            found[0, :, :, 0] = (2 - np.asarray(widths))[:, None]
        else:
            found[0, :, :, 0] = found[1, :, :, 0]


def _thin(pattern: str, shape: float) -> tuple[float, ...]:
    """Bars of vanishing width: sum of P P'/pitch over half of the sum of 1/pitch."""
    x, y, _ = unit_rectangle(pattern, shape)
    if pattern == "orthogrid":
        bars = [(1.0, 0.0, 1 / y), (0.0, 1.0, 1 / x)]
    else:
        length = float(np.hypot(x, y)) / 2
        area = x * y / 2
        bars = [(x / 2 / length, y / 2 / length, 2 * length / area)]
        if pattern == "isogrid":
            bars.append((0.0, 1.0, y / area))
    half = sum(density for _, _, density in bars) / 2
    return tuple(
        sum(density * c**m * s**n for c, s, density in bars) / half
        for m, n in ((4, 0), (0, 4), (2, 2), (2, 2))
    )


def rib_layer(
    pattern: str, lines: Sequence[FamilyLine], node_area: Quantity, width: Quantity,
    radius: Quantity, poisson: Quantity,
) -> Layer:
    """Stiffness of a layer of ribs of one width.

    Args:
        pattern: isogrid, orthogrid or diagonal.
        lines: its rib families.
        node_area: area of the layer per node, m2.
        width: of the ribs, m.
        radius: of the pockets' corners, m.
        poisson: Poisson's ratio.
    """
    pitches = [line.pitch for line in lines]
    half = inscribed(pattern, pitches)
    turned: bool | BoolArray
    if pattern == "orthogrid":
        shape = 2 * half / np.maximum(pitches[0], pitches[1])
        turned = pitches[0] > pitches[1]
    elif pattern == "isogrid":  # the first family runs along the hoop, or along the axis
        shape = pitches[0] ** 2 / node_area / np.sqrt(0.75)
        turned = lines[0].name == "axial"
    else:
        angle = np.degrees(np.arctan2(np.abs(lines[0].sine), lines[0].cosine))
        shape, turned = np.minimum(angle, 90.0 - angle), angle > 45.0
    wide = np.minimum(width / (2 * half), 1.0)
    room = np.maximum(half - width / 2, 1e-9 * half)
    solid, corners = solid_share(pattern, pitches, node_area, [width] * len(lines), radius)
    solid = np.minimum(solid, 1.0)
    with np.errstate(invalid="ignore"):  # no number in, no number out
        place = np.sqrt(wide)
    table = _table(pattern)
    G11, G22, G12, G66 = _stiffness(
        shape, place, rounding_of(width, room, radius), solid, np.asarray(turned, float)[()],
        poisson, table.rows, table.grid)
    return Layer(G11, G22, G12, G66, solid, corners)


@for_many(4, tables=2)
def _stiffness(
    shape: Quantity, wide: Quantity, rounding: Quantity, solid: Quantity, turned: Quantity,
    poisson: Quantity, rows: Array, grid: Array,
) -> tuple[Quantity, Quantity, Quantity, Quantity]:
    """G11, G22, G12 and G66 of a layer over E.

    Args:
        shape: coordinate of the table, as are ``wide`` and ``rounding``.
        wide: square root of the width over that which closes the pockets.
        rounding: of the corners.
        solid: share of the layer.
        turned: 1 where axes 1 and 2 of the table change places, else 0.
        poisson: Poisson's ratio.
        rows: of the table.
        grid: of the table.
    """
    place = found_at(grid, shape, wide, rounding)
    share = solid / (2 - solid)
    one, two = value_at(rows, 0, place) * share, value_at(rows, 1, place) * share
    mixed, shear = value_at(rows, 2, place) * share, value_at(rows, 3, place) * share
    # Where the layer is all but bars one way, 12 is the root of 11 x 22: rounding may pass it.
    mixed = np.minimum(mixed, (1 - 1e-9) * np.sqrt(np.maximum(one * two, 0.0)))
    first, second = where(turned > 0, two, one), where(turned > 0, one, two)
    # From v = 0 to v, by inverting, adding -v to 12 and 2 v to 66, and inverting back.
    determinant = first * second - mixed * mixed
    whole = 1 - 2 * poisson * mixed - poisson * poisson * determinant
    return (
        first / whole, second / whole, (mixed + poisson * determinant) / whole,
        shear / (1 + 2 * poisson * shear),
    )


def bars_share(
    lines: Sequence[FamilyLine], sections: Sequence[RibSection], poisson: Quantity
) -> Quantity:
    """How much of their bar stiffness families keep that cross anywhere, a lower bound.

    Stress along each rib, added where two cross, is in equilibrium, so its complementary energy is
    an upper bound: the pair adds 2 s1 s2 ((1 + v) cos^2(psi) - v) in the share phi1 phi2 where they
    overlap (principle of least complementary energy; Jones, Mechanics of Composite Materials, uses
    it for Reuss's bound, from memory). The smallest eigenvalue of the inverse counts for all.

    Args:
        lines: the families.
        sections: of the ribs of each.
        poisson: Poisson's ratio.
    """
    covered = [np.sqrt(np.minimum(section.even_width / line.pitch, 1.0))
               for line, section in zip(lines, sections, strict=True)]
    shape = np.broadcast_shapes(np.shape(poisson), *(np.shape(part) for part in covered))
    matrix = np.zeros((*shape, len(lines), len(lines)))
    for i, one in enumerate(lines):
        matrix[..., i, i] = 1.0
        for j, other in enumerate(lines[:i]):
            cosine = one.cosine * other.cosine + one.sine * other.sine
            cross = (1 + poisson) * cosine * cosine - poisson
            matrix[..., i, j] = matrix[..., j, i] = covered[i] * covered[j] * cross
    return 1 / np.linalg.eigvalsh(matrix)[..., -1]
