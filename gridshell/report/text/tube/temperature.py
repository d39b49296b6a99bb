"""What `gridshell tube --over-temperature` shows: table and JSON."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from gridshell.report.numbers import margin, shown, table
from gridshell.report.text.tube.result import tube_label
from gridshell.study.temperature import OverTemperature


def _list(values: Any, count: int) -> list[float | None]:
    numbers = np.broadcast_to(np.asarray(values, float), (count,))
    return [float(v) if math.isfinite(v) else None for v in numbers]


def temperature_json(study: OverTemperature) -> dict[str, Any]:
    """JSON over temperature, SI: temperature (K), EI (N m2), frequencies (Hz), margins by case;
    solid_cell: file of the stiffness, or null."""
    count = len(study.temperature)
    return {
        "title": study.tube.design.title,
        "solid_cell": study.reference.design.ribs.solid_cell,
        "temperature": study.temperature.tolist(),
        "EI": _list(study.tube.stiffness.EI, count),
        "stiffness_ratio": _list(study.stiffness_ratio, count),
        "frequencies": {k: _list(v, count) for k, v in study.tube.frequencies.items()},
        "cases": [
            {"name": case.name, "margin": _list(case.margin, count),
             "governing": np.broadcast_to(case.governing, (count,)).tolist()}
            for case in study.tube.cases
        ],
        "service_low": study.service[0],
        "service_high": study.service[1],
        "brittle_below": study.brittle,
    }


def temperature_text(study: OverTemperature, system: str = "metric") -> str:
    """A table over temperature."""
    count = len(study.temperature)
    picked = np.unique(np.linspace(0, count - 1, 11).astype(int))
    names = [case.name for case in study.tube.cases]
    lines = []
    for i in picked:
        row = [
            shown(study.temperature[i], "temperature", system, 3),
            f"{float(np.broadcast_to(study.stiffness_ratio, (count,))[i]):.3g} x",
            shown(np.broadcast_to(study.tube.frequencies["free-free"], (count,))[i],
                  "frequency", system, 3),
        ]
        row += [margin(np.broadcast_to(case.margin, (count,))[i]) for case in study.tube.cases]
        lines.append(row)
    head = ["temperature", "stiffness", "free-free", *(f"margin {name!r}" for name in names)]
    notes = []
    if study.brittle is not None:
        notes.append(
            f"note: below {shown(study.brittle, 'temperature', system, 3)} the material breaks "
            "without yielding: a stiff tube there may crack at a touch; see 'gridshell chill'"
        )
    label = tube_label(study.reference)
    return "\n".join([
        study.tube.design.title, "", table(lines, head), *([label] if label else []), "", *notes
    ])
