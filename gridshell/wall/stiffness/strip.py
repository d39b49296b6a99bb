"""A rib on the skin beneath it: how much stiffer that strip is across the rib, in shear and twist.

Where a rib stands the skin is thicker, so it stretches, bends and shears less across the rib. For
parallel ribs this is one plane problem: force and moment across the wall run in series through
pocket and strip, so the compliance across falls by a length per rib that depends on the
cross-section alone, and shear flow and twist follow from Saint-Venant's warping. Both are solved
for a spread of sections (`gridshell.proof.plates.tables`, strips.csv).

A strip can't be stiffer than if each of its columns were a plate of its own full depth, in series
across the rib: that bound is a closed form, and the table keeps what was solved as a share of it,
between nothing and all. So no section, however wide or low, gives a stiffness out of bounds.
"""

from __future__ import annotations

import csv
import functools
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.compiling import for_many, formula
from gridshell.define.types import Array, Quantity
from gridshell.wall.geometry.rib_section import RibSection
from gridshell.wall.stiffness.lookup import Table, found_at, refined, value_at

STRIPS = Path(__file__).parent / "strips.csv"
# Skin thickness and height over root width; root fillet over the smaller of width and height.
STRIP_AXES = (
    (0.05, 0.1, 0.2, 0.35, 0.6, 1.0, 1.7, 3.0, 6.0, 15.0),
    (0.03, 0.1, 0.2, 0.35, 0.6, 1.0, 1.7, 3.0, 6.0),
    (0.0, 0.5, 1.0),
)
VALUES = ("stretch", "couple", "bend", "shear", "flow_offset", "torsion")
_TALLEST = STRIP_AXES[1][-1]  # beyond it a rib only adds its own torsion
_NEAR, _FAR = 0.5 - np.sqrt(1 / 12), 0.5 + np.sqrt(1 / 12)  # Gauss points, both of weight 1/2


@dataclass(frozen=True)
class StripLengths:
    """How much a rib takes from the compliance of the skin beneath it, as lengths, m.

    Attributes:
        stretch: across the rib; compliance of a wall with ribs at pitch s is
            (1 - v^2)/(E t) (1 - stretch/s).
        couple: force across to curvature across: -(1 - v^2)/(E t^3) couple/s; a length times the
            skin's thickness, m2.
        bend: bending across the rib, 12 (1 - v^2)/(E t^3) (1 - bend/s).
        shear: compliance in shear is (1 - shear/s)/(G t).
        flow_offset: the shear flow acts t flow_offset/s above the skin's middle surface.
        torsion: torsion constant of the rib with its junction, m4 (not a length).
    """

    stretch: Quantity
    couple: Quantity
    bend: Quantity
    shear: Quantity
    flow_offset: Quantity
    torsion: Quantity

    def free_torsion(self, thickness: Quantity) -> Quantity:
        """What is left of the torsion where the shear flow may follow the twist, m4.

        Shear and twist together are positive as long as this is.
        """
        return _free_torsion(thickness, self.shear, self.flow_offset, self.torsion)


@formula
def _free_torsion(
    thickness: Quantity, shear: Quantity, flow_offset: Quantity, torsion: Quantity
) -> Quantity:
    return torsion - 4 * thickness**3 * flow_offset**2 / shear


Lengths = tuple[Quantity, Quantity, Quantity, Quantity, Quantity, Quantity]
"""In the order of `StripLengths`."""


@formula
def _column(thickness: Quantity, width: Quantity, high: Quantity) -> Lengths:
    """What one full-depth column takes, see `series_bound`; couple over t sqrt(12)."""
    d = high / thickness
    whole = 1 + d
    cube = whole * whole * whole
    share = width / cube
    return (
        share * d * (1 - d + d * d), share * d * np.sqrt(3.0), share * (cube - 1),
        width * d / whole, width * high / (2 * thickness), width * (cube - 1) * thickness**3 / 3,
    )


def series_bound(
    thickness: Quantity, root: Quantity, tip: Quantity, height: Quantity, fillet: Quantity
) -> StripLengths:
    """What full-depth columns in series across a strip take from the skin's compliance.

    A column of depth t + h about the skin's middle surface, d = h/t, has the compliance (force in
    E t/(1 - v^2), moment in t/sqrt(12) times that) 1/(1+d) + 3 d^2/(1+d)^3, -sqrt(3) d/(1+d)^3,
    1/(1+d)^3; plate theory. In shear 1/(1+d); its middle lies h/2 above the skin's; it twists like
    a plate, ((t+h)^3 - t^3)/3 per width more than the skin. Flanks and fillets by two points.

    Args:
        thickness: of the skin, m.
        root: width of the rib at the skin, m.
        tip: width of the rib at its tip, m.
        height: of the rib, m.
        fillet: radius of the root fillet, m.
    """
    return StripLengths(*_series(thickness, root, tip, height, fillet))


@formula
def _series(
    thickness: Quantity, root: Quantity, tip: Quantity, height: Quantity, fillet: Quantity
) -> Lengths:
    """In the order of `StripLengths`, see `series_bound`."""
    one = _column(thickness, tip, height)
    two = _column(thickness, (root - tip) / 2, _NEAR * height)
    three = _column(thickness, (root - tip) / 2, _FAR * height)
    # Height of the arc at a distance from the flank, both over the radius.
    four = _column(thickness, fillet, (1 - np.sqrt(1 - (1 - _NEAR) ** 2)) * fillet)
    five = _column(thickness, fillet, (1 - np.sqrt(1 - (1 - _FAR) ** 2)) * fillet)
    return (
        one[0] + two[0] + three[0] + four[0] + five[0],
        (one[1] + two[1] + three[1] + four[1] + five[1]) * thickness * np.sqrt(12.0),
        one[2] + two[2] + three[2] + four[2] + five[2],
        one[3] + two[3] + three[3] + four[3] + five[3],
        one[4] + two[4] + three[4] + four[4] + five[4],
        one[5] + two[5] + three[5] + four[5] + five[5],
    )


@formula
def _factor(
    stretch: Quantity, couple: Quantity, bend: Quantity, thickness: Quantity
) -> tuple[Quantity, Quantity, Quantity]:
    """Cholesky factor of (stretch, couple; couple, bend), moment over force times t/sqrt(12)."""
    first = np.sqrt(stretch)
    second = couple / thickness / np.sqrt(12.0) / first
    # Of a rib of a micrometer on a meter of skin, rounding leaves less than nothing.
    return first, second, np.sqrt(np.maximum(bend - second * second, 0.0))


def _solved_shares() -> Array:
    """The table as shares of the bound, (skin, height, fillet, 6): between 0 and 1."""
    with open(STRIPS, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    shape = tuple(len(axis) for axis in STRIP_AXES)
    x, tall, round_ = np.meshgrid(*STRIP_AXES, indexing="ij")
    solved = StripLengths(*(
        np.array([float(row[name]) for row in rows]).reshape(shape) for name in VALUES))
    bound = series_bound(x, np.ones(shape), 1.0, tall, round_ * np.minimum(tall, 1.0))
    l11, l21, l22 = _factor(bound.stretch, bound.couple, bound.bend, x)
    gamma = np.empty((*shape, 2, 2))
    gamma[..., 0, 0], gamma[..., 1, 1] = solved.stretch, solved.bend
    gamma[..., 0, 1] = gamma[..., 1, 0] = solved.couple / x / np.sqrt(12.0)
    factor = np.zeros((*shape, 2, 2))
    factor[..., 0, 0], factor[..., 1, 0], factor[..., 1, 1] = l11, l21, l22
    inverse = np.linalg.inv(factor)
    share = inverse @ gamma @ np.swapaxes(inverse, -1, -2)
    # Mesh error, and columns of unlike depth that part in height, pass the bound by a percent.
    values, vectors = np.linalg.eigh((share + np.swapaxes(share, -1, -2)) / 2)
    share = (vectors * np.clip(values, 1e-6, 1.0)[..., None, :]) @ np.swapaxes(vectors, -1, -2)
    others = np.stack([
        solved.shear / bound.shear, solved.flow_offset / bound.flow_offset,
        solved.free_torsion(x) / bound.free_torsion(x),
    ], axis=-1)
    return np.concatenate([
        share[..., 0, 0, None], share[..., 0, 1, None], share[..., 1, 1, None],
        np.clip(others, 1e-6, 1.0),
    ], axis=-1)


@functools.cache
def _table() -> Table:
    axes = (np.log(STRIP_AXES[0]), np.log(STRIP_AXES[1]), STRIP_AXES[2])
    return refined(axes, _solved_shares(), (46, 46, 9))


def strip_lengths(thickness: Quantity, section: RibSection, fillet: Quantity) -> StripLengths:
    """What one rib takes from the skin's compliance.

    Solved over skin thickness / root width 0.05 to 15, height / root width 0.03 to 6 and fillets up
    to the smaller of width and height; beyond, the share of the bound is held and the rest of a
    taller rib adds its Saint-Venant torsion alone. A drafted rib takes the share of a straight one
    of its root width, of its own bound.

    Args:
        thickness: of the skin, m.
        section: of the rib.
        fillet: radius of the root fillet, m.
    """
    table = _table()
    return StripLengths(*_lengths(
        thickness, section.root_width, section.tip_width, section.height, fillet, table.rows,
        table.grid))


@for_many(6, tables=2)
def _lengths(
    thickness: Quantity, root: Quantity, tip: Quantity, tall: Quantity, fillet: Quantity,
    rows: Array, grid: Array,
) -> Lengths:
    """`strip_lengths` from the shares of the bound in a table."""
    height = np.minimum(tall, _TALLEST * root)
    place = found_at(
        grid, np.log(thickness / root), np.log(height / root), fillet / np.minimum(root, height))
    one, mixed, two = value_at(rows, 0, place), value_at(rows, 1, place), value_at(rows, 2, place)
    # Between nothing and all as a matrix, which cubics read entry by entry may just pass.
    largest = np.sqrt(np.minimum(one * two, (1 - one) * (1 - two)))
    mixed = np.minimum(np.maximum(mixed, -largest), largest)
    stretch, couple, bend, shear, offset, torsion = _series(thickness, root, tip, height, fillet)
    l11, l21, l22 = _factor(stretch, couple, bend, thickness)
    free = _free_torsion(thickness, shear, offset, torsion)
    # Saint-Venant constant of a drafted stem per height. Of the root width's it is less than the
    # bound's columns are of its columns, mean of h^3 over the flanks.
    stem = (tip + root) * (tip * tip + root * root) / 12
    drafted = 3 * stem / root**3 / ((3 * tip / root + 1) / 4)
    shear, offset = shear * value_at(rows, 3, place), offset * value_at(rows, 4, place)
    return (
        l11 * l11 * one,
        np.sqrt(12.0) * thickness * l11 * (l21 * one + l22 * mixed),
        l21 * (l21 * one + 2 * l22 * mixed) + l22 * l22 * two,
        shear, offset,
        free * value_at(rows, 5, place) * drafted + (tall - height) * stem
        - _free_torsion(thickness, shear, offset, 0.0),
    )
