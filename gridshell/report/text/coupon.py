"""What `gridshell coupon` shows: a table of coupons and of the curve through them."""

from __future__ import annotations

import numpy as np

from gridshell.material.coupon.evaluate import CouponResult, curve_temperatures
from gridshell.report.numbers import shown, table


def coupon_text(result: CouponResult, system: str = "metric") -> str:
    """The tables of a coupon test: the curve first, then each coupon."""
    grid = curve_temperatures(result.fit)
    picked = grid[np.unique(np.linspace(0, len(grid) - 1, 7).astype(int))]
    low, high = result.fit.band(picked)
    modulus = result.fit.modulus(picked)
    curve = [
        [shown(t, "temperature", system, 3), shown(e, "pressure", system, 3),
         shown(a, "pressure", system, 3), shown(b, "pressure", system, 3)]
        for t, e, a, b in zip(picked, modulus, low, high, strict=True)
    ]
    coupons = [
        [c.name, c.test, shown(c.temperature, "temperature", system, 3),
         shown(c.modulus, "pressure", system, 3), f"{c.error / c.modulus:.1%}",
         f"left out: {c.reason}" if c.outlier else "; ".join(c.notes)]
        for c in result.coupons
    ]
    return "\n".join([
        f"{result.title} ({result.name})", "",
        table(curve, ["temperature", "modulus", "95 % from", "to"]), "",
        table(coupons, ["coupon", "test", "at", "modulus", "error", "remarks"]), "",
        *result.comments,
        *(f"note: {note}" for note in result.notes),
        "CAUTION: a coupon under load can snap and throw pieces: wear eye protection. Handle dry",
        "ice and other cold baths by local rules, with gloves and fresh air.",
    ])
