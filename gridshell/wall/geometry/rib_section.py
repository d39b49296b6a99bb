"""Section of one rib: a trapezoid (tip, height, draft) with a fillet on each side of its foot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Quantity

# Own second moment of the area between a right angle and its fillet arc, over radius^4:
# 1/3 - pi/16 - (1 - pi/4) c^2 with c = (5/6 - pi/4)/(1 - pi/4); plane geometry.
_SPANDREL_INERTIA = 0.0075446


@dataclass(frozen=True)
class RibSection:
    """Section of one rib above the skin's surface; each field broadcasts.

    Attributes:
        area: m2, with both root fillets.
        centroid: height of the centroid above the skin's surface, m.
        inertia: second moment about the centroid, for bending out of the wall, m4.
        torsion: Saint-Venant torsion constant, m4.
        height: m.
        tip_width: m.
        root_width: width at the skin without the fillets, m.
    """

    area: Quantity
    centroid: Quantity
    inertia: Quantity
    torsion: Quantity
    height: Quantity
    tip_width: Quantity
    root_width: Quantity

    @property
    def mean_width(self) -> Quantity:
        """Width at mid-height, m: the b of the closed forms for a rectangular rib."""
        return (self.tip_width + self.root_width) / 2

    @property
    def even_width(self) -> Quantity:
        """Width of the rectangle of equal height and area, fillets counted, m."""
        return self.area / self.height


def fillet_area(radius: Quantity, angle: Quantity) -> Quantity:
    """Area between two lines meeting at an inner angle and the arc tangent to both, m2.

    Args:
        radius: of the arc, m.
        angle: between the lines on the side of the arc, rad (90 deg for a square corner).

    >>> round(float(fillet_area(1.0, np.pi / 2)), 6)  # 1 - pi/4
    0.214602
    """
    return radius**2 * (1 / np.tan(angle / 2) - (np.pi - angle) / 2)


def _fillet_centroid(radius: Quantity, angle: Quantity) -> Quantity:
    """Height of that area's centroid above one of the two lines, m (zero for no fillet)."""
    half = angle / 2
    beta = np.pi / 2 - half  # half the angle of the arc
    to_center = radius / np.sin(half)
    kite = radius**2 / np.tan(half)
    kite_centroid = (radius / np.tan(half) * np.cos(half) + to_center) / 3
    sector = radius**2 * beta
    sector_centroid = to_center - 2 * radius * np.sin(beta) / (3 * beta)
    area = kite - sector
    with np.errstate(invalid="ignore", divide="ignore"):
        along = np.where(
            area > 0, (kite * kite_centroid - sector * sector_centroid) / area, 0.0
        )
    return along * np.sin(half)


def rectangle_torsion(width: Quantity, height: Quantity) -> Quantity:
    """Torsion constant of a rectangle, m4.

    Roark's Formulas for Stress and Strain, table of torsion constants, solid rectangle
    (error below 0.3 % against the series solution; coefficients from memory, checked in the
    tests against the series):
    J = a b^3 [1/3 - 0.21 (b/a)(1 - b^4/(12 a^4))], a the longer side.

    >>> round(float(rectangle_torsion(1.0, 1.0)), 4)  # series: 0.1406
    0.1408
    """
    long = np.maximum(width, height)
    short = np.minimum(width, height)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(long > 0, short / long, 0.0)
    fourth = ratio * ratio * ratio * ratio  # a power of an array costs twenty products
    answer: Quantity = long * short * short * short * (1 / 3 - 0.21 * ratio * (1 - fourth / 12))
    return answer


def rib_section(
    height: Quantity, tip_width: Quantity, draft: Quantity = 0.0, root_fillet: Quantity = 0.0
) -> RibSection:
    """Area, centroid, inertia and torsion constant of a drafted rib with root fillets.

    Plane geometry; the torsion constant is that of the rectangle of mean width, which is within
    2 % for a draft up to 5 deg.

    Args:
        height: above the skin, m.
        tip_width: m.
        draft: of each flank, rad.
        root_fillet: radius, m.

    >>> rib = rib_section(5e-3, 2e-3)
    >>> float(rib.area), float(rib.centroid)
    (1e-05, 0.0025)
    """
    lean = np.tan(draft)
    root_width = tip_width + 2 * height * lean
    total = tip_width + root_width
    trapezoid = height * total / 2
    with np.errstate(invalid="ignore", divide="ignore"):
        centroid_trapezoid = np.where(
            total > 0, height * (root_width + 2 * tip_width) / (3 * total), 0.0
        )
        inertia_trapezoid = np.where(
            total > 0,
            height * height * height * (total**2 + 2 * tip_width * root_width) / (36 * total),
            0.0,
        )
    angle = np.pi / 2 + draft
    fillets = 2 * fillet_area(root_fillet, angle)
    fillet_height = _fillet_centroid(root_fillet, angle)
    area = trapezoid + fillets
    with np.errstate(invalid="ignore", divide="ignore"):
        centroid = np.where(
            area > 0,
            (trapezoid * centroid_trapezoid + fillets * fillet_height) / area,
            0.0,
        )
    inertia = (
        inertia_trapezoid
        + trapezoid * (centroid_trapezoid - centroid) ** 2
        + fillets * (fillet_height - centroid) ** 2
        + 2 * _SPANDREL_INERTIA * root_fillet**4
    )
    return RibSection(
        area=area,
        centroid=centroid,
        inertia=inertia,
        torsion=rectangle_torsion((tip_width + root_width) / 2, height),
        height=height,
        tip_width=tip_width,
        root_width=root_width,
    )
