"""Picture over temperature: stiffness, frequency and the lowest margin of every case."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.report.numbers import degrees
from gridshell.report.plots import style
from gridshell.report.text.tube.result import tube_title
from gridshell.study.temperature import OverTemperature

_LINES = ("-", "--", "-.", ":")
_COLORS = (style.BLUE, style.ORANGE, style.GREEN, style.PURPLE, style.SKY, style.RED)


def _place(axis: Any, value: float) -> float:
    """Height of a value over that of the axes."""
    low, high = axis.get_ylim()
    if axis.get_yscale() == "log":
        return float(np.log(value / low) / np.log(high / low))
    return float((value - low) / (high - low))


def _label_ends(axis: Any, entries: list[tuple[float, float, str, str]]) -> None:
    """Names at the right ends of lines, moved apart so that they do not overlap."""
    last = -1.0
    for x, y, name, color in sorted(entries, key=lambda e: e[1]):
        at = max(_place(axis, y), last + 0.065)
        last = at
        axis.annotate(name, (x, y), xytext=(1.015, at), textcoords="axes fraction", color=color,
                      fontsize=8.5, va="center", annotation_clip=False)


def _scale(axis: Any) -> None:
    """Logarithmic where the values span much, with plain numbers; else as it is."""
    low, high = axis.dataLim.intervaly
    if low > 0 and high / low > 3:
        axis.set_yscale("log")
        style.plain_ticks(axis.yaxis, axis.get_ylim())


def plot_over_temperature(
    study: OverTemperature, path: str | Path, system: str = "metric"
) -> None:
    """Save the picture of a tube over temperature."""
    count = len(study.temperature)
    shown, unit = degrees(study.temperature, system), "°F" if system == "inch" else "°C"
    with style.figure(9.5, 8.2, 3, 1, sharex=True) as (drawn, axes):
        ratio = np.broadcast_to(study.stiffness_ratio, (count,))
        axes[0].plot(shown, ratio, color=style.BLUE)
        _scale(axes[0])
        axes[0].set_ylabel("stiffness against that\nat the stated temperature")
        axes[0].set_title("bending stiffness")
        entries = []
        for (name, values), line, color in zip(
            study.tube.frequencies.items(), _LINES, _COLORS, strict=False
        ):
            values = np.broadcast_to(values, (count,))
            axes[1].plot(shown, values, line, color=color)
            entries.append((shown[-1], float(values[-1]), name, color))
        _scale(axes[1])
        axes[1].set_ylabel("Hz")
        axes[1].set_title("first bending frequency")
        _label_ends(axes[1], entries)
        entries = []
        for i, case in enumerate(study.tube.cases):
            values = np.broadcast_to(case.margin, (count,))
            if not np.any(np.isfinite(values)):
                continue
            color = _COLORS[i % len(_COLORS)]
            axes[2].plot(shown, 1 + values, _LINES[i % len(_LINES)], color=color)
            entries.append((shown[-1], float(1 + values[-1]), case.name, color))
        axes[2].axhline(1, color=style.INK, linewidth=1)
        _scale(axes[2])
        axes[2].annotate("margin zero", (shown[0], 1), xytext=(3, 3),
                         textcoords="offset points", fontsize=8.5)
        axes[2].set_ylabel("1 + lowest margin")
        axes[2].set_title("lowest margin of each case")
        axes[2].set_xlabel(f"temperature of the whole tube [{unit}]")
        _label_ends(axes[2], entries)
        limits = [
            (study.brittle, "brittle below", style.RED),
            (study.service[0], "usual use from", style.GREY),
            (study.service[1], "usual use to", style.GREY),
            (float(np.asarray(study.reference.wall.properties.temperature)), "stated", style.INK),
        ]
        for kelvin, label, color in limits:
            if kelvin is None or not shown[0] <= (at := degrees(kelvin, system)) <= shown[-1]:
                continue
            for axis in axes:
                axis.axvline(at, color=color, linewidth=0.9, linestyle="--")
            # Along the line at whichever end the curve leaves free.
            top = _place(axes[0], float(np.interp(at, shown, ratio))) < 0.5
            axes[0].annotate(label, (at, float(top)), xycoords=("data", "axes fraction"),
                             xytext=(-2, -4 if top else 4), textcoords="offset points",
                             rotation=90, ha="right", va="top" if top else "bottom",
                             fontsize=8, color=color)
        style.headline(drawn, tube_title(study.reference))
        style.save(drawn, path)
