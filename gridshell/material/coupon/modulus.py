"""One coupon: its readings to a modulus with uncertainty, corrections and cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import NOT_STATED, Array
from gridshell.material.coupon.beam import (
    FOUR_POINT_LIMIT,
    Section,
    load_per_modulus,
    outer_strain,
    rectangle,
    round_tube,
)
from gridshell.material.coupon.readings import Coupon

LARGE_STRAIN = 0.01
LARGE_ERROR = 0.2  # relative standard uncertainty of a modulus
SHORT_SPAN = 16.0  # span over depth of ISO 178 and ASTM D790
_SIZES = ("width", "depth", "diameter", "outside_diameter", "wall")


@dataclass(frozen=True)
class CouponModulus:
    """What one coupon gave.

    Attributes:
        name: name of the piece.
        test: how it was bent.
        temperature: K.
        modulus: Pa.
        error: standard uncertainty of the modulus, Pa.
        readings: how many.
        shear: factor on the plain beam formula for shear deflection.
        large_deflection: factor for large deflection, at the largest reading.
        largest_ratio: largest deflection over span.
        strain: largest bending strain.
        rows: line numbers in the file.
        notes: what to know of it.
        outlier: left out of the curve.
        reason: why, or where it lies.
    """

    name: str
    test: str
    temperature: float
    modulus: float
    error: float
    readings: int
    shear: float
    large_deflection: float
    largest_ratio: float
    strain: float
    rows: tuple[int, ...]
    notes: tuple[str, ...]
    outlier: bool = False
    reason: str = ""


def coupon_section(geometry: Mapping[str, float], poisson: float) -> Section:
    """Section of a coupon from its columns."""
    if "width" in geometry:
        return rectangle(geometry["width"], geometry["depth"], poisson)
    if "diameter" in geometry:
        return round_tube(geometry["diameter"], geometry["diameter"] / 2, poisson)
    if "outside_diameter" in geometry:
        return round_tube(geometry["outside_diameter"], geometry["wall"], poisson)
    return Section(geometry["second_moment"], geometry.get("shear_area", NOT_STATED),
                   geometry.get("outer_fiber", np.nan))


def _slope(load: Array, per_modulus: Array) -> tuple[float, float]:
    """Modulus as the slope of load over load-per-modulus, and its standard error.

    One reading: through zero. Two or more: free intercept, so that a slack seat drops out.
    """
    if len(load) == 1:
        return float(load[0] / per_modulus[0]), 0.0
    x, y = per_modulus - per_modulus.mean(), load - load.mean()
    slope = float(x @ y / (x @ x))
    if len(load) == 2:
        return slope, 0.0
    residual = y - slope * x
    return slope, float(np.sqrt(residual @ residual / (len(load) - 2) / (x @ x)))


def coupon_modulus(coupon: Coupon, poisson: float) -> CouponModulus:
    """Modulus of one coupon with its uncertainty, corrected for shear and large deflection.

    Uncertainty: each measured size is shifted by its standard uncertainty and the changes of the
    modulus are added in quadrature (JCGM 100:2008, GUM, 5.1.2, by finite differences), with that
    of the line through the readings.

    Raises:
        InputError: no modulus can be had from the readings; names the line.
    """
    where = f"line {coupon.rows[0]}, coupon {coupon.name!r}"
    geometry = dict(coupon.geometry)
    span, load_span = geometry["span"], geometry.get("load_span", 0.0)

    def modulus(geometry: dict[str, float], deflection: Array) -> tuple[float, float]:
        per_modulus, _, _ = load_per_modulus(
            coupon.test, deflection, geometry["span"], load_span,
            coupon_section(geometry, poisson), poisson,
        )
        return _slope(coupon.load, per_modulus)

    section = coupon_section(geometry, poisson)
    per_modulus, shear, large = load_per_modulus(
        coupon.test, coupon.deflection, span, load_span, section, poisson
    )
    ratio = np.abs(coupon.deflection) / span
    if not np.all(np.isfinite(per_modulus)):
        raise InputError(
            f"{where}: deflection is {ratio.max():.2f} of the span, too far to be solved; "
            "bend it less"
        )
    if (len(coupon.load) > 1 and np.ptp(per_modulus) == 0) or not np.any(per_modulus):
        raise InputError(f"{where}: the deflection is the same in every reading, or zero")
    value, line_error = modulus(geometry, coupon.deflection)
    if not (np.isfinite(value) and value > 0):
        raise InputError(
            f"{where}: the load falls as the deflection grows; check signs and units"
        )
    changes = [line_error, value * coupon.errors["load_error"]]
    for key in (*_SIZES, "span"):
        if key in geometry:
            error = coupon.errors["span_error" if key == "span" else "size_error"]
            shifted, _ = modulus({**geometry, key: geometry[key] + error}, coupon.deflection)
            changes.append(shifted - value)
    if "second_moment" in geometry:
        changes.append(value * coupon.errors["second_moment_error"])
    spread = coupon.deflection - (coupon.deflection.mean() if len(coupon.load) > 1 else 0.0)
    reading = value * coupon.errors["deflection_error"] / float(np.sqrt(spread @ spread))
    # The scatter about the line holds the reading error already; the larger of the two counts.
    changes[0] = max(line_error, reading)
    strain = float(np.max(outer_strain(coupon.test, coupon.deflection, span, load_span, section)))
    at = int(np.argmax(ratio))
    factor = float(np.broadcast_to(large, ratio.shape)[at])
    error = float(np.sqrt(np.sum(np.square(changes))))
    if error >= value:
        raise InputError(
            f"{where}: its modulus is uncertain by {error / value:.0%}, so the test says nothing "
            "of it; bend it further, or measure sizes, loads and deflection better")
    found = CouponModulus(
        coupon.name, coupon.test, temperature=geometry["temperature"], modulus=value,
        error=error, readings=len(coupon.load),
        shear=float(shear), large_deflection=factor, largest_ratio=float(ratio.max()),
        strain=strain, rows=coupon.rows,
        notes=tuple(_notes(
            coupon, section, shear=float(shear), large=factor, ratio=float(ratio.max()),
            strain=strain, error=error / value)),
    )
    return found


def _notes(
    coupon: Coupon, section: Section, *, shear: float, large: float, ratio: float, strain: float,
    error: float,
) -> list[str]:
    notes = []
    if error > LARGE_ERROR:
        notes.append(f"uncertain by {error:.0%}: bend it further, or measure better")
    span = coupon.geometry["span"]
    if len(coupon.load) == 1:
        notes.append("one reading: a slack seat would not show")
    if coupon.test != "cantilever" and span < SHORT_SPAN * 2 * section.outer_fiber:
        notes.append(
            f"span is {span / (2 * section.outer_fiber):.1f} times the depth, below 16 (ISO 178); "
            f"shear is {100 * (shear - 1):.0f} % on top of bending, taken off"
        )
    elif shear > 1.05:
        notes.append(f"shear is {100 * (shear - 1):.0f} % on top of bending, taken off")
    if coupon.test == "four-point" and ratio > FOUR_POINT_LIMIT:
        notes.append(
            f"deflection is {ratio:.2f} of the span: no large-deflection correction for "
            f"four-point bending; keep it below {FOUR_POINT_LIMIT:g}"
        )
    elif abs(large - 1) > 0.02:
        notes.append(f"large deflection changes the modulus by {100 * (large - 1):+.0f} %, "
                     "corrected")
    if strain > LARGE_STRAIN:
        notes.append(f"strain reaches {100 * strain:.1f} %: a secant modulus, softer than at "
                     "small strain")
    if section.shear_area is None:
        notes.append("shear_area not given: shear deflection not taken off")
    if "outside_diameter" in coupon.geometry or "second_moment" in coupon.geometry:
        notes.append("tube: hold and load it through rings or saddles, or the wall dents and the "
                     "modulus comes out low")
    return notes
