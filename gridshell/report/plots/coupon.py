"""Picture of bending tests: modulus over temperature, curve and band, and what was left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gridshell.material.coupon.evaluate import CouponResult, curve_temperatures
from gridshell.report.numbers import axis, degrees
from gridshell.report.plots.style import plain_ticks

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Okabe and Ito's colors, which most color-blind readers can tell apart; the marker says it too.
_MARKS = {
    "three-point": ("o", "#0072B2"),
    "four-point": ("s", "#009E73"),
    "cantilever": ("^", "#D55E00"),
}


def coupon_figure(result: CouponResult, system: str = "metric") -> Figure:
    """Modulus of each coupon over temperature with its standard uncertainty, and the fitted curve.

    Coupons left out are crossed and named. Two bands: 95 % confidence of the curve, and where
    95 % of further parts should lie.

    Args:
        result: of `gridshell.material.coupon.evaluate.run_coupon`.
        system: metric or inch.

    Returns:
        a matplotlib figure, 7 by 5.6 inches.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7, 5.6), dpi=150, layout="constrained")
    top, bottom = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1.25))
    fit = result.fit
    scale, unit = axis("pressure", system, 1e7 if system == "metric" else 1e9)

    single = fit.high - fit.low < 1e-6
    grid = np.array([fit.low - 3, fit.high + 3]) if single else curve_temperatures(fit, 1.0)
    at = np.clip(grid, fit.low, fit.high)
    curve = fit.modulus(at)
    shown = degrees(grid, system)
    wide, narrow = fit.band(at, single=True), fit.band(at)
    if fit.freedom > 0:
        top.fill_between(shown, wide[0] * scale, wide[1] * scale, color="0.88", lw=0,
                         label="95 % of further parts")
    top.fill_between(shown, narrow[0] * scale, narrow[1] * scale, color="0.68", lw=0,
                     label="95 % confidence of the curve")
    top.plot(shown, curve * scale, color="k", lw=1.4, label=f"fitted curve ({fit.shape} in ln E)")
    if fit.freedom > 0:
        bottom.fill_between(shown, 100 * (wide[0] / curve - 1), 100 * (wide[1] / curve - 1),
                            color="0.88", lw=0)
    bottom.fill_between(shown, 100 * (narrow[0] / curve - 1), 100 * (narrow[1] / curve - 1),
                        color="0.68", lw=0)
    bottom.axhline(0, color="k", lw=1.0)
    for test, (marker, color) in _MARKS.items():
        group = [c for c in result.coupons if c.test == test]
        if not group:
            continue
        warm = degrees(np.array([c.temperature for c in group]), system)
        modulus = np.array([c.modulus for c in group])
        error = np.array([c.error for c in group])
        fitted = fit.modulus(np.array([c.temperature for c in group]))
        style = {"fmt": marker, "ms": 5, "color": color, "mfc": "white", "mew": 1.2,
                 "elinewidth": 0.9, "capsize": 2}
        top.errorbar(warm, modulus * scale, error * scale, label=f"{test} bending", **style)
        bottom.errorbar(warm, 100 * (modulus / fitted - 1), 100 * error / fitted, **style)
    out = [c for c in result.coupons if c.outlier]
    if out:
        warm = degrees(np.array([c.temperature for c in out]), system)
        top.plot(warm, [c.modulus * scale for c in out], "x", ms=11, mew=1.6, color="k",
                 label="left out of the curve")
        off = [100 * (c.modulus / float(fit.modulus(c.temperature)) - 1) for c in out]
        bottom.plot(warm, off, "x", ms=11, mew=1.6, color="k")
        middle = (min(c.temperature for c in result.coupons)
                  + max(c.temperature for c in result.coupons)) / 2
        for coupon in out:
            right = coupon.temperature > middle
            top.annotate(
                coupon.name[:20],
                (float(degrees(coupon.temperature, system)), coupon.modulus * scale),
                xytext=(-9 if right else 9, -3), textcoords="offset points",
                ha="right" if right else "left", va="center", fontsize=9,
            )
    everything = np.array([c.modulus for c in result.coupons]) * scale
    top.set_yscale("log")
    plain_ticks(top.yaxis, everything)
    top.grid(True, color="0.85", lw=0.6)
    top.set_ylabel(f"Young's modulus [{unit}]")
    top.set_title(result.title[:80], fontsize=11)
    top.legend(fontsize=8.5, loc="lower left" if _falls(result) else "best", framealpha=1.0)
    bottom.grid(True, color="0.85", lw=0.6)
    bottom.set_ylabel("off the curve [%]")
    bottom.set_xlabel(f"temperature [{'°F' if system == 'inch' else '°C'}]")
    return figure


def _falls(result: CouponResult) -> bool:
    """Whether the curve leaves the lower left corner free."""
    return bool(result.fit.modulus(result.fit.low) > 3 * result.fit.modulus(result.fit.high))
