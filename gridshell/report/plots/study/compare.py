"""Picture of the comparison: each plain wall as a multiple of the grid."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridshell.report.numbers import shown
from gridshell.report.plots.style import BLUE, HATCHES, INK, ORANGE, SKY, figure, headline, save
from gridshell.report.text.tube.result import tube_title
from gridshell.study.compare import WallComparison


def plot_compare(comparison: WallComparison, path: str | Path, system: str = "metric") -> None:
    """Save the picture of a comparison: mass, stiffness and buckling load side by side."""
    from matplotlib.ticker import MultipleLocator

    walls = comparison.contenders
    measures = [
        ("mass", "mass", [c.tube.mass for c in walls]),
        ("tube bending\nstiffness EI", "stiffness", [c.tube.stiffness.EI for c in walls]),
        ("wall stiffness\nagainst dents", "moment", [c.wall_bending for c in walls]),
        ("first buckling\nin compression", "force", [c.buckling_load for c in walls]),
        ("external\nbuckling pressure", "pressure", [c.crushing_pressure for c in walls]),
    ]
    colors = (BLUE, ORANGE, SKY, "#bbbbbb")
    names = [
        f"{c.name}\n({shown(c.thickness, 'length', system, 3)} deep)" for c in walls
    ]
    with figure(14, 1.5 + 0.62 * len(walls), 1, len(measures), sharey=True) as (drawn, axes):
        for axis, (title, kind, values) in zip(axes, measures, strict=True):
            numbers = np.array([float(v) for v in values])
            share = numbers / numbers[0]
            bars = axis.barh(names, share, color=colors[: len(walls)], edgecolor=INK,
                             linewidth=0.6, height=0.7)
            for bar, hatch in zip(bars, HATCHES, strict=False):
                bar.set_hatch(hatch)
            for i, (part, number) in enumerate(zip(share, numbers, strict=True)):
                axis.annotate(
                    f"{part:.2f}\n{shown(number, kind, system, 3)}", (part, i), ha="left",
                    va="center", fontsize=8, xytext=(4, 0), textcoords="offset points",
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4},
                )
            axis.axvline(1.0, color=INK, linewidth=0.8, linestyle=":", zorder=0)
            axis.set_xlim(0, float(share.max()) * 1.48)
            axis.xaxis.set_major_locator(MultipleLocator(1.0 if share.max() > 1.2 else 0.5))
            axis.set_title(title)
            axis.set_xlabel("multiple of the grid")
        axes[0].invert_yaxis()
        headline(drawn, tube_title(walls[0].tube))
        save(drawn, path)
