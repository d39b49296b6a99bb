"""Pictures of materials: modulus and strength over temperature and over time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from gridshell.define.constants import ROOM_TEMPERATURE
from gridshell.define.types import Array
from gridshell.define.units import convert, unit_in
from gridshell.material.curve import Curve
from gridshell.material.data import MaterialData
from gridshell.report.numbers import axis, shown
from gridshell.report.plots import style

_DASHES = ("-", "--", ":")
_NARROW = 30.0  # K each side, drawn for a property that is one value at every temperature
_MINUTE, _HOUR, _DAY, _YEAR = 60.0, 3600.0, 86400.0, 3.156e7


def _degrees(kelvin: Any, system: str) -> Array:
    return np.asarray(convert(kelvin, "temperature", unit_in("degC", system)), dtype=float)


def _grid(curve: Curve) -> Array:
    low = curve.low if math.isfinite(curve.low) else ROOM_TEMPERATURE - _NARROW
    high = curve.high if math.isfinite(curve.high) else ROOM_TEMPERATURE + _NARROW
    return np.linspace(low, high, 120)


def plot_materials(materials: Sequence[MaterialData], path: str, system: str = "metric") -> None:
    """Modulus and strength over temperature, and what is left of both over time.

    Args:
        materials: one, or several to compare.
        path: file to write.
        system: metric or inch.
    """
    several = len(materials) > 1
    with style.figure(10, 9.2 if several else 7, 2, 2) as (drawn, axes):
        for at, key in enumerate(("modulus", "strength")):
            _over_temperature(axes[0, at], materials, key, system, several)
            _over_time(axes[1, at], materials, key, system)
        if several:
            handles, labels = axes[0, 0].get_legend_handles_labels()
            drawn.legend(handles, labels, loc="outside lower center", ncols=3, fontsize=9,
                         frameon=False)
            style.headline(drawn, "Materials of the library: short tests, and loads that stay on")
        else:
            style.headline(drawn, materials[0].title)
        style.save(drawn, path)


def _line(index: int) -> dict[str, Any]:
    return {"color": style.COLORS[index % len(style.COLORS)], "lw": 1.7,
            "ls": _DASHES[index // len(style.COLORS) % len(_DASHES)]}


def _over_temperature(
    axes: Any, materials: Sequence[MaterialData], key: str, system: str, several: bool
) -> None:
    """One property of each material over temperature, with its points and its scatter."""
    largest, seen = 0.0, []
    for data in materials:
        if key in data.curves:
            largest = max(largest, float(data.curves[key].value.max()))
            seen.append(data.curves[key].value)
    scale, unit = axis("pressure", system, largest or 1.0)
    for index, data in enumerate(materials):
        if key not in data.curves:
            continue
        curve = data.curves[key]
        grid = _grid(curve)
        values = curve.at(grid) * scale
        axes.plot(_degrees(grid, system), values, label=data.name, **_line(index))
        if several:
            continue
        if curve.value.size > 1:
            axes.plot(_degrees(curve.temperature, system), curve.value * scale, "o",
                      color=style.INK, ms=4.5, label="data")
        if curve.scatter:
            axes.fill_between(_degrees(grid, system), values * (1 - curve.scatter),
                              values * (1 + curve.scatter), color=style.SKY, alpha=0.3, lw=0,
                              label=f"one standard deviation ({curve.scatter * 100:g} %)")
        axes.legend(fontsize=9, frameon=False)
    if not seen:
        axes.text(0.5, 0.5, "no data", ha="center", transform=axes.transAxes, color=style.GREY)
    else:
        ends = np.concatenate(seen) * scale
        if ends.max() > 3 * ends.min():
            axes.set_yscale("log")
            style.plain_ticks(axes.yaxis, ends)
        else:
            axes.set_ylim(0, None)
    axes.set_title(f"{key.capitalize()} in a short test")
    axes.set_xlabel(f"temperature, {unit_in('degC', system).replace('deg', '°')}")
    axes.set_ylabel(f"{key}, {unit}")


def _over_time(axes: Any, materials: Sequence[MaterialData], key: str, system: str) -> None:
    """What is left of a property under a load that stays on, at room temperature."""
    time = np.geomspace(_MINUTE, _YEAR, 80)
    drawn = False
    for index, data in enumerate(materials):
        law = data.creep if key == "modulus" else data.rupture
        if law is None:
            continue
        factor = np.asarray(law.at(np.full(time.shape, ROOM_TEMPERATURE), time)[0], dtype=float)
        inside = time <= law.longest
        axes.plot(time[inside], factor[inside], **_line(index))
        axes.plot(time[~inside], factor[~inside], **{**_line(index), "alpha": 0.35})
        drawn = True
    if not drawn:
        axes.text(0.5, 0.5, "no data: taken as lasting" if key == "modulus" else
                  "no data: 10 % less for each tenfold of time is assumed", ha="center",
                  transform=axes.transAxes, color=style.GREY)
    axes.set_xscale("log")
    marks = (_MINUTE, _HOUR, _DAY, 30 * _DAY, _YEAR)
    axes.set_xticks(marks, ["1 min", "1 h", "1 d", "30 d", "1 yr"])
    axes.minorticks_off()
    axes.set_xlim(marks[0], marks[-1])
    axes.set_ylim(0, 1.05)
    word = "Modulus" if key == "modulus" else "Strength"
    axes.set_title(f"{word} under load, at {shown(ROOM_TEMPERATURE, 'temperature', system, 3)}")
    axes.set_xlabel("time under load (pale: beyond the data)")
    axes.set_ylabel(f"{key} over that of a short test")
