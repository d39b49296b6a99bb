"""What `gridshell scatter` shows: the failing share first; tables and JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import finite
from gridshell.report.numbers import digits, margin, shown, table
from gridshell.report.text.study.size import percent
from gridshell.study.scatter.run import ScatterResult
from gridshell.study.scatter.tally import Distribution
from gridshell.tube.assess import least_margin

_SHOWN = (0.01, 0.5, 0.99)


def _spread_json(spread: Distribution) -> dict[str, Any]:
    return {
        "mean": finite(spread.mean), "deviation": finite(spread.deviation),
        "least": finite(spread.least), "most": finite(spread.most),
        "quantiles": {f"{share:g}": finite(v) for share, v in spread.quantiles.items()},
    }


def scatter_json(result: ScatterResult) -> dict[str, Any]:
    """JSON of a scatter study, SI: margin, mass (kg), EI (N m2). ``share`` is that of tubes below
    zero margin; ``drivers`` the share of each output's variance that an input explains alone."""
    nominal, least = result.nominal, least_margin(result.nominal)
    return {
        "title": nominal.design.title, "outside_map": bool(np.any(nominal.wall.outside_map)),
        "draws": result.samples, "failing": result.failing, "impossible": result.impossible,
        "share": result.share, "interval": list(result.interval),
        "confidence": result.confidence,
        "nominal": {
            "margin": finite(float(nominal.margin)),
            "least_margin": None if least is None else finite(float(least)),
            "mass": float(nominal.mass), "EI": float(nominal.stiffness.EI),
        },
        "spreads": {name: _spread_json(spread) for name, spread in result.distributions.items()},
        "inputs": [
            {"field": one.field, "law": one.distribution, "center": one.center, "spread": one.scale}
            for one in result.inputs
        ],
        "drivers": result.drivers,
        "governing": result.governing, "governing_failing": result.governing_failing,
    }


def share_text(result: ScatterResult) -> str:
    """The failing share and its interval, in words."""
    low, high = (percent(end * 1.0) for end in result.interval)
    return (
        f"{percent(result.share) if result.failing else '0 %'} of tubes fall below zero margin "
        f"({result.failing:,} of {result.samples:,}; {percent(result.confidence)} confidence: "
        f"{'0 %' if not result.failing else low} to {high})"
    )


def scatter_text(result: ScatterResult, system: str = "metric") -> str:
    """The report of a scatter study: the failing share, the spreads, the drivers."""
    nominal = result.nominal
    stated = {"margin": float(nominal.margin), "mass": float(nominal.mass),
              "EI": float(nominal.stiffness.EI)}
    kinds = {"margin": "margin", "mass": "mass", "EI": "stiffness"}

    def show(name: str, value: float) -> str:
        return margin(value) if name == "margin" else shown(value, kinds[name], system)

    rows = []
    for name, spread in result.distributions.items():
        deviation = digits(spread.deviation, 3) if name == "margin" else shown(
            spread.deviation, kinds[name], system, 3)
        rows.append([
            {"margin": "lowest margin", "mass": "mass", "EI": "EI"}[name],
            show(name, stated[name]), show(name, spread.mean), deviation,
            *(show(name, spread.quantiles[share]) for share in _SHOWN),
        ])
    head = ["", "as stated", "mean", "deviation", "1 % below", "median", "99 % below"]
    drivers = [
        [one.field, *(percent(result.drivers[name][one.field]) for name in result.distributions)]
        for one in result.inputs
    ]
    lines = [
        nominal.design.title, "", share_text(result), "", table(rows, head), "",
        "Share of the variance that each input explains alone:",
        table(drivers, ["input", *({"margin": "lowest margin"}.get(n, n)
                                   for n in result.distributions)]),
    ]
    counted = result.governing_failing or result.governing
    total = sum(counted.values())
    if total:
        which = "Of the failing tubes" if result.governing_failing else "Of all tubes"
        lines += ["", f"{which}, this check has the lowest margin:",
                  table([[name, percent(number / total)] for name, number in counted.items()])]
    least = least_margin(nominal)
    if least is not None:
        lines.append("note: the wall lies outside of the unit cells that the formula of its "
                     "stiffness was held to ('gridshell wall' says where). The tube as stated has "
                     f"the margin {margin(nominal.margin)} by that formula and at least "
                     f"{margin(least)} by the lower bound of its stiffness. Drawn tubes count by "
                     "the lower of the two; 'gridshell tube' solves the unit cell.")
    if result.impossible:
        lines.append(f"{result.impossible:,} tubes could not exist or be assessed (their "
                     "dimensions contradict each other, or a formula or the material's strength "
                     "gives no number there); they count as failing.")
    return "\n".join(lines)
