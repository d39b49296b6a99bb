"""Picture over temperature: stiffness, frequency and the lowest margin of every case."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.report.plots.style import (
    BLUE,
    GREEN,
    GREY,
    INK,
    ORANGE,
    PURPLE,
    RED,
    SKY,
    figure,
    headline,
    plain_ticks,
    save,
)
from gridshell.report.text.tube import tube_title
from gridshell.study.temperature import OverTemperature

_LINES = ("-", "--", "-.", ":")
_COLORS = (BLUE, ORANGE, GREEN, PURPLE, SKY, RED)


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
        plain_ticks(axis.yaxis, axis.get_ylim())


def plot_over_temperature(
    study: OverTemperature, path: str | Path, system: str = "metric"
) -> None:
    """Save the picture of a tube over temperature."""
    count = len(study.temperature)
    shown = study.temperature - 273.15
    unit = "°C"
    if system == "inch":
        shown, unit = shown * 1.8 + 32, "°F"

    def at(kelvin: float) -> float:
        celsius = kelvin - 273.15
        return celsius * 1.8 + 32 if system == "inch" else celsius

    with figure(9.5, 8.2, 3, 1, sharex=True) as (drawn, axes):
        ratio = np.broadcast_to(study.stiffness_ratio, (count,))
        axes[0].plot(shown, ratio, color=BLUE)
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
        axes[2].axhline(1, color=INK, linewidth=1)
        _scale(axes[2])
        axes[2].annotate("margin zero", (shown[0], 1), xytext=(3, 3),
                         textcoords="offset points", fontsize=8.5)
        axes[2].set_ylabel("1 + lowest margin")
        axes[2].set_title("lowest margin of each case")
        axes[2].set_xlabel(f"temperature of the whole tube [{unit}]")
        _label_ends(axes[2], entries)
        limits = [
            (study.brittle, "brittle below", RED), (study.service[0], "usual use from", GREY),
            (study.service[1], "usual use to", GREY),
            (float(np.asarray(study.reference.wall.properties.temperature)), "stated", INK),
        ]
        for axis in axes:
            for kelvin, _, color in limits:
                if kelvin is not None and shown[0] <= at(kelvin) <= shown[-1]:
                    axis.axvline(at(kelvin), color=color, linewidth=0.9, linestyle="--")
        for kelvin, label, color in limits:
            if kelvin is not None and shown[0] <= at(kelvin) <= shown[-1]:
                # Along the line at whichever end the curve leaves free.
                height = float(np.interp(at(kelvin), shown, ratio))
                top = _place(axes[0], height) < 0.5
                axes[0].annotate(label, (at(kelvin), float(top)),
                                 xycoords=("data", "axes fraction"),
                                 xytext=(-2, -4 if top else 4), textcoords="offset points",
                                 rotation=90, ha="right", va="top" if top else "bottom",
                                 fontsize=8, color=color)
        headline(drawn, tube_title(study.reference))
        save(drawn, path)
