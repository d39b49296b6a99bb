"""From bending tests to a modulus curve: `gridshell coupon`."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array
from gridshell.define.units import parse_quantity
from gridshell.material.catalog import load_material
from gridshell.material.coupon.fit import OUTLIER_LIMIT, CurveFit, fit_modulus
from gridshell.material.coupon.modulus import CouponModulus, coupon_modulus
from gridshell.material.coupon.readings import CouponTable, read_coupon_table

USUAL_POISSON = 0.4  # common practice, no source: soft to glassy plastics 0.35 to 0.48


@dataclass(frozen=True)
class CouponResult:
    """All the coupons and the curve through them.

    Attributes:
        source: file name.
        name: name for the material, from the file or made from its name.
        title: in words.
        coupons: one per piece and temperature.
        fit: the curve.
        poisson: used for shear; goes into the material file when it was stated.
        poisson_stated: whether it was stated, or taken from the base material.
        density: stated, kg/m3, or None.
        based_on: library material for the other properties, or "".
        comments: comment lines of the file (invented data say so there).
        notes: what to know.
    """

    source: str
    name: str
    title: str
    coupons: tuple[CouponModulus, ...]
    fit: CurveFit
    poisson: float
    poisson_stated: bool
    density: float | None
    based_on: str
    comments: tuple[str, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """For ``--json``: SI units, plain numbers."""
        grid = curve_temperatures(self.fit)
        low, high = self.fit.band(grid)
        return {
            "source": Path(self.source).name,
            "name": self.name,
            "coupons": [
                {
                    "name": c.name, "test": c.test, "temperature": c.temperature,
                    "modulus": c.modulus, "modulus_error": c.error, "readings": c.readings,
                    "shear_factor": c.shear, "large_deflection_factor": c.large_deflection,
                    "deflection_over_span": c.largest_ratio,
                    "strain": c.strain if np.isfinite(c.strain) else None,
                    "outlier": c.outlier, "reason": c.reason, "notes": list(c.notes),
                }
                for c in self.coupons
            ],
            "curve": {
                "shape": self.fit.shape,
                "temperature": grid.tolist(),
                "modulus": self.fit.modulus(grid).tolist(),
                "modulus_low_95": low.tolist(),
                "modulus_high_95": high.tolist(),
                "scatter_between_coupons": self.fit.between,
                "degrees_of_freedom": self.fit.freedom,
            },
            "notes": list(self.notes),
        }


def curve_temperatures(fit: CurveFit, step: float = 5.0) -> Array:
    """Evenly spaced temperatures over the range of a fit, at most ``step`` K apart."""
    if fit.high - fit.low < 1e-6:
        return np.array([fit.low])
    return np.linspace(fit.low, fit.high, int(np.ceil((fit.high - fit.low) / step)) + 1)


def _describe(table: CouponTable) -> dict[str, Any]:
    remarks = table.remarks
    source = Path(table.source)

    def number(key: str, kind: str, low: float, high: float) -> float | None:
        if key not in remarks:
            return None
        try:
            value = parse_quantity(remarks[key], kind)
        except InputError as error:
            raise InputError(f"{table.source}: {key}: {error}") from None
        if not low < value < high:
            raise InputError(f"{table.source}: {key}: {remarks[key]!r} must be between {low:g} "
                             f"and {high:g}")
        return value

    based_on = remarks.get("based_on", "")
    base = None
    if based_on:
        try:
            base = load_material(based_on)
        except InputError as error:
            raise InputError(f"{table.source}: based_on: {error}") from None
    poisson = number("poisson", "ratio", -1.0, 0.5)
    stem = "".join(c if c.isalnum() else "-" for c in source.stem.lower()).strip("-")
    return {
        "name": (remarks.get("name") or stem or "coupons")[:80],
        "title": remarks.get("title", f"measured in bending, {source.name}")[:200],
        "density": number("density", "density", 0.0, 3e4),
        "poisson": poisson,
        "base": base,
    }


def run_coupon(path: str | Path) -> CouponResult:
    """Read bending tests and fit the modulus over temperature.

    Args:
        path: CSV file; see `gridshell.material.coupon.readings.read_coupon_table`.
    Raises:
        InputError: with the lines that can't be used.
    """
    table = read_coupon_table(path)
    about = _describe(table)
    base = about["base"]
    notes: list[str] = []
    if about["poisson"] is None and base is None:
        notes.append(f"poisson not stated: {USUAL_POISSON} used for the shear of the coupons")
    coupons: list[CouponModulus] = []
    ratios: list[float] = []
    for coupon in table.coupons:
        poisson = about["poisson"]
        if poisson is None:
            poisson = USUAL_POISSON if base is None else float(
                base.curves["poisson"].at(coupon.geometry["temperature"])
            )
        ratios.append(poisson)
        coupons.append(coupon_modulus(coupon, poisson))
    fit = fit_modulus(
        np.array([c.temperature for c in coupons]), np.array([c.modulus for c in coupons]),
        np.array([c.error / c.modulus for c in coupons]),
    )
    notes += fit.notes
    judged = []
    for index, found in enumerate(coupons):
        off = 100 * (found.modulus / float(fit.modulus(found.temperature)) - 1)
        reason = f"{off:+.0f} % off the curve"
        if np.isfinite(fit.score[index]):
            size = abs(fit.score[index])
            reason += f", {size:.1f} robust standard deviations"
            if fit.outlier[index]:
                reason += f" (limit {OUTLIER_LIMIT:g})"
            elif size > OUTLIER_LIMIT:
                reason += ", kept: no more than so few coupons may scatter"
        judged.append(
            dataclasses.replace(found, outlier=bool(fit.outlier[index]), reason=reason)
        )
    return CouponResult(
        table.source, about["name"], title=about["title"], coupons=tuple(judged), fit=fit,
        poisson=float(np.mean(ratios)), poisson_stated=about["poisson"] is not None,
        density=about["density"], based_on="" if base is None else base.name,
        comments=table.comments, notes=tuple(notes),
    )

