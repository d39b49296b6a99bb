"""Picture of a tube: how much of each strength every load case uses, and the tube itself."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.report.numbers import digits, margin, shown
from gridshell.report.plots.style import BLUE, GREEN, GREY, INK, RED, figure, save
from gridshell.report.text.tube import tube_title
from gridshell.tube.result import CaseResult, TubeResult


def _draw_use(axes: Any, case: CaseResult) -> None:
    """Bars: share of the allowable used at the design factor; 100 % is margin zero."""
    checks = [c for c in case.checks if np.isfinite(float(c.margin))][::-1]
    names = [check.name for check in checks]
    use = np.array([1 / (1 + float(check.margin)) for check in checks]) * 100
    colors = [RED if u > 100 else (BLUE if i == len(use) - 1 else "#8fbcd9")
              for i, u in enumerate(use)]
    axes.barh(names, use, color=colors, height=0.62)
    top = max(110.0, 1.28 * float(use.max(initial=0.0)))
    for i, value in enumerate(use):
        axes.annotate(f"{digits(value, 3)} %", (value, i), xytext=(3, 0),
                      textcoords="offset points", va="center", fontsize=8.5)
    axes.axvline(100, color=INK, linewidth=1)
    axes.annotate("limit", (100, 1.0), xycoords=("data", "axes fraction"), xytext=(-3, -2),
                  textcoords="offset points", ha="right", va="top", fontsize=8.5)
    axes.set_xlim(0, top)
    axes.set_xlabel("strength used at the design factor [%]")
    axes.set_title(f"{case.name}: {case.governing}, margin {margin(float(case.margin))}",
                   fontsize=9.5)


def _draw_section(axes: Any, tube: TubeResult, system: str) -> None:
    """Cross-section of the tube to scale, with its rib layer."""
    from matplotlib.patches import Annulus

    design, mm = tube.design, 1e3
    outside = float(design.tube.outside_diameter) / 2 * mm
    skin_out = float(tube.wall.grid.radius + design.skin.thickness / 2) * mm
    skin_in = skin_out - float(design.skin.thickness) * mm
    depth = float(tube.wall.depth) * mm
    rib_in = skin_in - (depth - (skin_out - skin_in) if tube.wall.side < 0 else 0.0)
    axes.add_patch(Annulus((0, 0), skin_out, skin_out - skin_in, color=BLUE))
    if design.has_ribs:
        if tube.wall.side < 0:
            axes.add_patch(Annulus((0, 0), skin_in, skin_in - rib_in, color="#a9cce3"))
        else:
            axes.add_patch(Annulus((0, 0), outside, outside - skin_out, color="#a9cce3"))
    reach = outside * 1.12
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    axes.set_aspect("equal")
    axes.axis("off")
    stiffness = tube.stiffness
    lines = [
        f"outside {shown(design.tube.outside_diameter, 'length', system)}",
        f"length {shown(design.tube.length, 'length', system)}",
        f"mass {shown(tube.mass, 'mass', system)}",
        f"EI {shown(stiffness.EI, 'stiffness', system)}",
        f"GJ {shown(stiffness.GJ, 'stiffness', system)}",
        f"EA {shown(stiffness.EA, 'force', system)}",
    ]
    axes.text(0, 0, "\n".join(lines), ha="center", va="center", fontsize=8)
    axes.set_title("section to scale, rib layer pale", loc="center")


def _draw_frequencies(axes: Any, tube: TubeResult) -> None:
    names = list(tube.frequencies)
    values = [float(tube.frequencies[name]) for name in names]
    axes.barh(names, values, color=GREEN, height=0.45)
    for i, (name, value) in enumerate(zip(names, values, strict=True)):
        axes.annotate(f"{name}: {digits(value, 3)} Hz", (0, i + 0.25), xytext=(2, 1), va="bottom",
                      textcoords="offset points", fontsize=8.5)
    axes.set_yticks([])
    axes.set_ylim(-0.5, len(names) - 0.1)
    axes.set_xlabel("Hz")
    axes.set_title("first bending frequency")


def plot_tube(tube: TubeResult, path: str | Path, system: str = "metric") -> None:
    """Save the picture of a tube."""
    from matplotlib.gridspec import GridSpec

    if not tube.cases:
        with figure(10, 4.8, 1, 2, width_ratios=(1.2, 1)) as (drawn, axes):
            _draw_section(axes[0], tube, system)
            _draw_frequencies(axes[1], tube)
            title = f"{tube_title(tube)}\nno load case in the file"
            drawn.suptitle(title, fontsize=10, color=GREY)
            save(drawn, path)
        return
    heights = [max(1.6, 0.34 * len(case.checks) + 0.9) for case in tube.cases]
    with figure(12, max(0.8 + sum(heights), 6.2)) as (drawn, blank):
        blank.remove()
        columns = GridSpec(1, 2, figure=drawn, width_ratios=(6.5, 3.5), wspace=0.08)
        left = columns[0].subgridspec(len(heights), 1, height_ratios=heights)
        right = columns[1].subgridspec(2, 1, height_ratios=(3.4, 1.7))
        for i, case in enumerate(tube.cases):
            _draw_use(drawn.add_subplot(left[i]), case)
        _draw_section(drawn.add_subplot(right[0]), tube, system)
        _draw_frequencies(drawn.add_subplot(right[1]), tube)
        drawn.suptitle(tube_title(tube), fontsize=10, color=GREY)
        save(drawn, path)
