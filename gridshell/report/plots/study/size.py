"""Picture of a sizing: the map, the fronts, the balance of failure modes, and what room buys."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.report.numbers import axis, shown
from gridshell.report.plots import style
from gridshell.report.text.study.size import bound_text, percent, relaxation_text
from gridshell.study.size.conflict import Conflict
from gridshell.study.size.map import Front, SizeMap, fronts, size_map, uses
from gridshell.study.size.run import SizeResult

# Pale tints of Okabe and Ito's colors, of different lightness; hatches tell them apart in grey.
_REGIONS = (
    ("#cfe3f2", ""), ("#f7d9c0", "///"), ("#cdeee2", "..."), ("#f4e3ef", "\\\\\\"),
    ("#fbf6c9", "xx"), ("#e3e3e3", "++"), ("#dceefb", "oo"), ("#f1f1f1", "--"),
)
_LINES = (
    (style.BLUE, "-", "o"), (style.RED, (0, (6, 2)), "s"), (style.GREEN, (0, (1, 1.2)), "^"),
    (style.PURPLE, (0, (4, 1.5, 1, 1.5)), "D"), (style.ORANGE, (0, (8, 2, 2, 2)), "v"),
    (style.SKY, (0, (3, 1)), "P"),
)
_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_SMALLEST_REGION = 0.012  # share of the map below which a region gets no label of its own
_BARS = 12


def _draw_map(axes: Any, found: SizeMap, system: str) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    scale, unit = axis("length", system)
    x, y = found.heights * scale, found.spacings * scale
    handles: list[Any] = []
    shares = [(found.governing == k).mean() for k in range(len(found.checks))]
    order = [k for k in np.argsort(shares)[::-1] if shares[k] > 0]
    for rank, k in enumerate(order):
        color, hatch = _REGIONS[rank % len(_REGIONS)]
        inside = (found.governing == k).astype(float)
        # One filled contour each: a hatch needs a region of its own.
        drawn = axes.contourf(x, y, inside, levels=[0.5, 1.5], colors=[color],
                              hatches=[hatch or None])
        drawn.set_edgecolor("#9a9a9a")
        drawn.set_linewidth(0.0)
        if shares[k] > _SMALLEST_REGION:
            handles.append(Patch(facecolor=color, hatch=hatch, edgecolor="#9a9a9a",
                                 label="\n".join(textwrap.wrap(found.checks[k], 30))))
    broken = ((found.margin < 0) | (found.making < 0)).astype(float)
    if 0 < broken.mean() < 1:
        axes.contourf(x, y, broken, levels=[0.5, 1.5], colors=["white"], alpha=0.6)
        handles.append(Patch(facecolor="white", edgecolor="#9a9a9a",
                             label="faded: a limit is broken"))
    if found.margin.min() < 0 < found.margin.max():
        axes.contour(x, y, found.margin, levels=[0.0], colors=[style.INK], linewidths=2.2)
        handles.append(Line2D([], [], color=style.INK, lw=2.2, label="margin zero"))
    if found.making.min() < 0 < found.making.max():
        axes.contour(x, y, found.making, levels=[0.0], colors=[style.INK], linewidths=1.4,
                     linestyles="dashed")
        handles.append(Line2D([], [], color=style.INK, lw=1.4, ls="--",
                              label="limits of making and use"))
    unit_mass, word = axis("mass", system, float(found.mass.max()))
    lines = axes.contour(x, y, found.mass * unit_mass, levels=7, colors=[style.GREY],
                         linewidths=0.9)
    axes.clabel(lines, fmt=lambda v: f"{v:.3g} {word}", fontsize=9, colors=style.INK)
    handles.append(Line2D([], [], color=style.GREY, lw=0.9, label="mass"))
    axes.plot(found.ideal[0] * scale, found.ideal[1] * scale, "*", ms=15, mfc="white",
              mec=style.INK, mew=1.4, zorder=5)
    handles.append(Line2D([], [], marker="*", ls="", ms=12, mfc="white", mec=style.INK,
                          label="ideal"))
    if found.made is not None:
        axes.plot(found.made[0] * scale, found.made[1] * scale, "o", ms=7, color=style.INK,
                  zorder=6)
        handles.append(Line2D([], [], marker="o", ls="", ms=7, color=style.INK, label="as made"))
    axes.set_xscale("log")
    axes.set_yscale("log")
    style.plain_ticks(axes.xaxis, x)
    style.plain_ticks(axes.yaxis, y)
    axes.set_xlabel(f"rib height [{unit}]")
    axes.set_ylabel(f"width of a cell around the tube [{unit}]")
    axes.set_title(f"What fails first: {found.wall.label}")
    axes.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1.0), frameon=False,
                fontsize=9, handlelength=2.2, borderaxespad=0.0)


def _draw_fronts(axes: Any, found: tuple[Front, ...], sizing: SizeResult, system: str) -> None:
    unit, word = axis("stiffness", system)
    largest = max(f.EI.max() for f in found) * unit
    if largest >= 1e6:  # short numbers at the ticks
        power = int(np.log10(largest) // 3) * 3
        unit, word = unit / 10.0**power, f"10{str(power).translate(_RAISED)} {word}"
    heaviest = float(np.nanmax([np.nanmax(f.mass, initial=0.0) for f in found]))
    mass_unit, mass_word = axis("mass", system, heaviest)
    for number, front in enumerate(found):
        color, dash, mark = _LINES[number % len(_LINES)]
        axes.plot(front.EI * unit, front.mass * mass_unit, color=color, ls=dash, marker=mark,
                  ms=4.5, lw=1.7, label=front.label)
    best = sizing.best
    if best is not None and best.rounded is not None:
        tube = best.rounded.tube
        axes.plot(float(tube.stiffness.EI) * unit, float(tube.mass) * mass_unit, "o", ms=8,
                  color=style.INK, zorder=6, label=f"as made: {best.label}")
    axes.set_xscale("log")
    every = np.concatenate([f.EI for f in found]) * unit
    style.plain_ticks(axes.xaxis, every)
    axes.set_xlabel(f"bending stiffness EI at least [{word}]")
    axes.set_ylabel(f"least mass [{mass_word}]")
    axes.set_title("Least mass for a bending stiffness, all other limits kept")
    axes.legend(frameon=False, fontsize=9, handlelength=3.4, loc="upper left")
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.22 * (high - low))  # room for the legend


def _draw_uses(axes: Any, sizing: SizeResult) -> None:
    best = sizing.best or sizing.walls[0]
    listed = uses(best)[:_BARS][::-1]
    if not listed:
        axes.text(0.5, 0.5, "no load case", ha="center", va="center", transform=axes.transAxes)
        axes.set_axis_off()
        return
    cases = list(dict.fromkeys(case for case, _, _ in reversed(listed)))
    for place, (case, _, share) in enumerate(listed):
        rank = cases.index(case)
        color = _LINES[rank % len(_LINES)][0]
        axes.barh(place, share, color=color, hatch=style.HATCHES[rank % len(style.HATCHES)],
                  edgecolor="white", height=0.72)
        axes.text(max(share, 0.02) + 0.012, place, f"{share * 100:.0f} %", va="center",
                  fontsize=9, zorder=4,
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8})
    axes.set_yticks(range(len(listed)), [check for _, check, _ in listed], fontsize=9)
    axes.axvline(1.0, color=style.INK, lw=1.4)
    axes.set_xlim(0, 1.12)
    axes.set_xticks(np.linspace(0, 1, 6), [f"{v:.0f} %" for v in np.linspace(0, 100, 6)])
    axes.set_xlabel("share of the allowable used, design factor included")
    axes.set_title(f"Balance of failure modes: {best.label}")
    from matplotlib.patches import Patch

    axes.legend(handles=[
        Patch(facecolor=_LINES[rank % len(_LINES)][0], edgecolor="white",
              hatch=style.HATCHES[rank % len(style.HATCHES)], label=case)
        for rank, case in enumerate(cases)
    ], frameon=False, fontsize=9, loc="upper left", bbox_to_anchor=(1.01, 1.0),
        borderaxespad=0.0)


def _draw_shadow_prices(axes: Any, sizing: SizeResult, system: str) -> None:
    check = sizing.optimality
    listed = [p for p in (check.shadow_prices if check else ()) if p.gain > 0][::-1]
    if not listed:
        axes.text(0.5, 0.5, "no limit holds the answer up", ha="center", va="center",
                  transform=axes.transAxes)
        axes.set_axis_off()
        return
    for_mass = sizing.task.target.aim == "mass"
    unit, word = axis("mass" if for_mass else "stiffness", system)
    names = []
    for place, price in enumerate(listed):
        axes.barh(place, price.gain * unit, color=style.SKY, edgecolor=style.INK, height=0.6)
        axes.text(price.gain * unit, place, f"  {price.gain * unit:.3g} {word}", va="center",
                  fontsize=9)
        eased = (
            shown(price.by, "length", system, 3) if price.limit.kind == "length"
            else percent(price.by / price.limit.bound)
        )
        eased = eased.replace(" ", "\u00a0")  # a number and its unit stay on one line
        names.append("\n".join(textwrap.wrap(f"{price.limit.text}, by {eased}", 34)))
    axes.set_yticks(range(len(listed)), names, fontsize=9)
    axes.set_xlim(0, max(p.gain for p in listed) * unit * 1.3)
    axes.set_ylim(-0.8, max(len(listed) - 0.2, 2.2))
    axes.set_xlabel(f"{'mass saved' if for_mass else 'stiffness gained'} [{word}]")
    axes.set_title("Gain from relaxing one limit")


def draw_conflicts(axes: Any, conflicts: list[Conflict]) -> None:
    """How much every conflicting limit of a wall has to give, all of them alike."""
    for place, conflict in enumerate(reversed(conflicts)):
        axes.barh(place, 100 * conflict.shortfall, color=style.SKY, edgecolor=style.INK, height=0.6)
        axes.text(100 * conflict.shortfall, place, f"  {percent(conflict.shortfall)}", va="center",
                  fontsize=9)
    axes.set_yticks(range(len(conflicts)), [c.wall for c in reversed(conflicts)], fontsize=9)
    axes.set_ylim(-0.8, max(len(conflicts) - 0.2, 2.2))
    axes.set_xlim(0, 120 * max(c.shortfall for c in conflicts))
    axes.set_xlabel("all conflicting limits relaxed by [%]")
    axes.set_title("No wall meets every limit: how far off")


def draw_ways_out(axes: Any, conflict: Conflict, system: str) -> None:
    """What one limit alone would have to give in one wall."""
    ways = conflict.relaxations[::-1]
    for place, way in enumerate(ways):
        share = way.share if way.needed is not None else 0.0
        axes.barh(place, 100 * share, color=style.ORANGE, edgecolor=style.INK, height=0.6)
        axes.text(100 * share, place, f"  {relaxation_text(way.limit, way.needed, system)}",
                  va="center", fontsize=9)
    names = ["\n".join([*textwrap.wrap(w.limit.text, 34), f"({bound_text(w.limit, system)})"])
             for w in ways]
    axes.set_yticks(range(len(ways)), names, fontsize=9)
    widest = max((w.share for w in ways if w.needed is not None), default=1.0)
    axes.set_xlim(0, 140 * widest)
    axes.set_xlabel("this limit alone relaxed by [%]")
    axes.set_title(f"One limit alone: {conflict.wall}")


def plot_size(sizing: SizeResult, path: str | Path, system: str = "metric") -> None:
    """Draw a sizing and save it; png, pdf or svg.

    Raises:
        InputError: the format or place can't be written.
    """
    style.check_picture_path(path)
    conflicts = [wall.conflict for wall in sizing.walls if wall.conflict is not None]
    if sizing.best is None and conflicts:
        with style.figure(13.0, 5.0, 1, 2) as (drawn, axes):
            draw_conflicts(axes[0], conflicts)
            draw_ways_out(axes[1], min(conflicts, key=lambda c: c.shortfall), system)
            style.headline(drawn, sizing.task.design.title)
            style.save(drawn, path)
        return
    found, trades = size_map(sizing), fronts(sizing)
    with style.figure(13.0, 9.4) as (drawn, axes):
        axes.remove()
        # Rows lay themselves out on their own: the names of checks are long, those of axes short.
        above, below = drawn.subfigures(2, 1, height_ratios=(1.15, 1.0))
        left, right = above.subplots(1, 2, width_ratios=(1.0, 1.1))
        if found is not None:
            _draw_map(left, found, system)
        else:
            left.text(0.5, 0.5, "no ribbed wall meets every limit", ha="center", va="center",
                      transform=left.transAxes)
            left.set_axis_off()
        if trades:
            _draw_fronts(right, trades, sizing, system)
        else:
            right.set_axis_off()
        left, right = below.subplots(1, 2, width_ratios=(1.25, 1.0))
        _draw_uses(left, sizing)
        _draw_shadow_prices(right, sizing, system)
        style.headline(drawn, sizing.task.design.title)
        style.save(drawn, path)
