"""Picture of a tube: how much of each allowable every case uses, its section, its first mode."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.report.numbers import axis, digits, margin, shown
from gridshell.report.plots.style import BLUE, GREEN, INK, RED, figure, headline, save
from gridshell.report.plots.tube.first_buckle import draw_mode, first_mode
from gridshell.report.plots.wall import pocket_outlines
from gridshell.report.text.tube.result import tube_title
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
        share = f"{digits(value, 3)} %" if value >= 0.01 else "below 0.01 %"
        axes.annotate(share, (value, i), xytext=(3, 0),
                      textcoords="offset points", va="center", fontsize=9)
    axes.axvline(100, color=INK, linewidth=1)
    axes.annotate("margin zero", (100, 1.0), xycoords=("data", "axes fraction"), xytext=(-3, -2),
                  textcoords="offset points", ha="right", va="top", fontsize=9)
    axes.set_xlim(0, top)
    axes.set_xlabel("share of the allowable used, design factor included [%]")
    axes.set_title("\n".join(textwrap.wrap(
        f"{case.name}: {case.governing}, margin {margin(float(case.margin))}", 66)))


def _solid_angles(outlines: list[Array], place: float, left: float, wide: float) -> list[tuple[
        float, float]]:
    """Hoop ranges of a panel, m, that are solid at an axial place: all but its pockets."""
    open_ranges = []
    for outline in outlines:
        after = np.roll(outline, -1, axis=0)
        crosses = (outline[:, 1] < place) != (after[:, 1] < place)
        share = (place - outline[crosses, 1]) / (after[crosses, 1] - outline[crosses, 1])
        at = np.sort(outline[crosses, 0] + share * (after[crosses, 0] - outline[crosses, 0]))
        open_ranges += list(zip(at[::2], at[1::2], strict=False))
    ends = [-left, *(end for pair in sorted(open_ranges) for end in pair), wide - left]
    return [(low, high) for low, high in zip(ends[::2], ends[1::2], strict=True) if high > low]


def _draw_ribs(axes: Any, tube: TubeResult, skin_in: float, skin_out: float, scale: float) -> None:
    """Ribs and lands of the section, cut where the pockets are widest."""
    from matplotlib.patches import Wedge

    wall, design = tube.wall, tube.design
    grid, height = wall.grid, float(design.ribs.height)
    levels = np.linspace(0.0, height, 7)
    layers = [pocket_outlines(wall, float(level)) for level in levels]
    if not layers[0]:
        return
    left, wide = float(grid.seam_land) / 2, float(grid.panel_width + grid.seam_land)
    middle = float(grid.panel_height) / 2
    places = middle + np.linspace(0, float(grid.cell_height), 9, endpoint=False) + 1e-7
    place = min(places, key=lambda at: sum(
        high - low for low, high in _solid_angles(layers[0], float(at), left, wide)))
    step = height * scale / len(levels)
    for number, outlines in enumerate(layers):
        if wall.side < 0:
            outer = skin_in - number * step
        else:
            outer = skin_out + (number + 1) * step
        for low, high in _solid_angles(outlines, float(place), left, wide):
            for segment in range(grid.segments):
                turn = np.degrees(np.array([low, high]) / float(grid.radius)) + (
                    360.0 / grid.segments * segment)
                axes.add_patch(Wedge((0, 0), outer, *turn, width=step * 1.2, color=BLUE, lw=0))


def _draw_section(axes: Any, tube: TubeResult, system: str) -> None:
    """Cross-section of the tube to scale, with its ribs and lands."""
    from matplotlib.patches import Annulus

    design = tube.design
    scale, _ = axis("length", system)
    outside = float(design.tube.outside_diameter) / 2 * scale
    skin_out = float(tube.wall.grid.radius + design.skin.thickness / 2) * scale
    skin_in = skin_out - float(design.skin.thickness) * scale
    axes.add_patch(Annulus((0, 0), skin_out, skin_out - skin_in, color=BLUE))
    drawn = "section to scale"
    if design.has_ribs and design.ribs.pattern != "families":
        _draw_ribs(axes, tube, skin_in, skin_out, scale)
        drawn += ", cut across the middle of a pocket"
    elif design.has_ribs:
        depth = float(design.ribs.height) * scale
        axes.add_patch(Annulus((0, 0), skin_in if tube.wall.side < 0 else outside, depth,
                               facecolor="#a9cce3", hatch="///", edgecolor=BLUE))
        drawn += ", layer of the ribs hatched"
    reach = outside * 1.04
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
    axes.text(0, 0, "\n".join(lines).replace("^2", "²"), ha="center", va="center", fontsize=9)
    axes.set_title("\n".join(textwrap.wrap(drawn, 40)))


def _draw_frequencies(axes: Any, tube: TubeResult) -> None:
    names = list(tube.frequencies)
    values = [float(tube.frequencies[name]) for name in names]
    axes.barh(names, values, color=GREEN, height=0.55)
    for i, value in enumerate(values):
        axes.annotate(f"{digits(value, 3)} Hz", (value, i), xytext=(4, 0), va="center",
                      textcoords="offset points", fontsize=9)
    axes.set_xlim(0, 1.25 * max(values))
    axes.set_xticks([])
    axes.spines["bottom"].set_visible(False)
    axes.set_title("first bending frequency by support")


def _draw_mode(axes: Any, tube: TubeResult) -> None:
    mode = first_mode(tube, margin)
    if mode is None:
        axes.text(0.5, 0.5, "no load case that buckles it", ha="center", va="center",
                  transform=axes.transAxes)
        axes.axis("off")
        return
    draw_mode(axes, tube, mode)
    axes.set_title(
        "buckles first, exaggerated (red: outward):\n" + "\n".join(
            textwrap.wrap(mode.where, 40)))


def plot_tube(tube: TubeResult, path: str | Path, system: str = "metric") -> None:
    """Save the picture of a tube."""
    heights = [max(1.6, 0.36 * len(case.checks) + 1.0) for case in tube.cases] or [5.0]
    title = tube_title(tube) + ("" if tube.cases else "\nno load case in the file")
    with figure(13.5, max(1.0 + sum(heights), 9.6)) as (drawn, blank):
        blank.remove()
        # Each side lays itself out on its own: the names of checks are long.
        left, right = drawn.subfigures(1, 2, width_ratios=(8.2, 5.0))
        rows = left.subplots(len(heights), 1, height_ratios=heights, squeeze=False)[:, 0]
        for axes, case in zip(rows, tube.cases, strict=False):
            _draw_use(axes, case)
        if not tube.cases:
            rows[0].text(0.5, 0.5, "add [[case]] to the file to get margins", ha="center",
                         va="center", transform=rows[0].transAxes)
            rows[0].axis("off")
        section, mode, frequencies = right.subplots(3, 1, height_ratios=(3.6, 2.6, 1.1))
        _draw_section(section, tube, system)
        _draw_mode(mode, tube)
        _draw_frequencies(frequencies, tube)
        headline(drawn, title)
        save(drawn, path)
