"""Picture of the loads along the body: the body sketched above compression, shear and moment."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.loads.normal_force import shape_radius
from gridshell.loads.run import LoadsResult
from gridshell.report.numbers import axis, shown
from gridshell.report.plots import style

COLORS = (style.BLUE, style.RED, style.GREEN, style.PURPLE, style.ORANGE, style.SKY, "#000000")
DASHES = ("-", "--", "-.", ":")


def _reach(result: LoadsResult) -> float:
    """Axis to the outermost point of body and fins, m."""
    body = result.body
    return max([float(body.diameter.max()) / 2] + [
        part.aft_diameter / 2 + part.fins.span for part in body.parts if part.fins is not None])


def _sketch(axes: Any, result: LoadsResult) -> None:
    body = result.body
    names = []
    for part in body.parts:
        if part.role == "carried":
            half = body.diameter.max() / 2
            if part.length:
                axes.fill_between([part.fore, part.aft], -0.45 * half, 0.45 * half, color="0.8",
                                  lw=0, zorder=3)
            else:
                axes.plot([part.fore], [0.0], "o", color="0.5", ms=5, zorder=3)
            axes.text((part.fore + part.aft) / 2, 0.72 * half, part.name, ha="center",
                      va="center", fontsize=7, color="0.3", zorder=7)
            continue
        x = np.linspace(0, 1, 60)
        radius = shape_radius(part.shape, x, part.fore_diameter / 2, part.aft_diameter / 2,
                              part.length)
        tube = part.role == "tube"
        axes.fill_between(part.fore + x * part.length, -radius, radius, lw=1.0, zorder=2,
                          facecolor="#FFF3D6" if tube else "#EFEFEF", edgecolor="0.25")
        names.append((part.fore + part.length / 2, part.name))
        if part.fins is not None:
            fins = part.fins
            root, tip = part.fins_at, part.fins_at + fins.sweep
            for side in (-1, 1):
                base = part.aft_diameter / 2
                axes.fill(
                    [root, tip, tip + fins.tip_chord, root + fins.root_chord],
                    [side * base, side * (base + fins.span), side * (base + fins.span),
                     side * base], facecolor="#EFEFEF", edgecolor="0.25", lw=1.0, zorder=1,
                )
    sections = result.flexible.joints + 1
    for place in body.joint_positions(sections - 1):
        half = body.tube.aft_diameter / 2
        axes.plot([place, place], [-half, half], color="0.25", lw=1.0, ls=":", zorder=4)
    reach = _reach(result)
    for place, name in names:
        axes.text(place, -1.15 * reach, name, ha="center", va="top", fontsize=8)
    # Both points as the forces that act there: weight down, normal force up.
    half = body.diameter.max() / 2
    arrow = {"arrowstyle": "-|>", "color": "black", "lw": 1.6, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", (body.mass.center, -0.8 * half), (body.mass.center, 0.8 * half),
                  arrowprops=arrow, zorder=6)
    axes.text(body.mass.center, 1.15 * reach, "weight acts", ha="center", va="bottom",
              fontsize=8)
    _, center = body.normal_force()
    if np.isfinite(center):
        axes.annotate("", (center, 0.8 * half), (center, -0.8 * half),
                      arrowprops={**arrow, "color": "0.45"}, zorder=6)
        axes.text(center, 1.15 * reach, "normal force acts", ha="center", va="bottom", fontsize=8)
    axes.set_aspect("equal", adjustable="datalim")
    axes.axis("off")


def plot_loads(result: LoadsResult, path: str | Path, system: str = "metric") -> None:
    """Write the picture; the ending of the name says the format (png, svg, pdf).

    Raises:
        InputError: a format that can't be written, or a folder that is not there.
    """
    style.check_picture_path(path)
    # The sketch is to scale: its height follows from the page's width.
    high = float(np.clip(7.3 / 1.04 * 2 * _reach(result) / result.body.length + 0.7, 1.1, 4.0))
    with style.figure(
        8.2, high + 7.6, rows=4, sharex=True,
        gridspec_kw={"height_ratios": (high, 2.0, 2.0, 2.2)},
    ) as (drawn, axes):
        _draw(result, drawn, axes, system)
        style.save(drawn, path)


def _step(span: float) -> float:
    """A round step (1, 2 or 5 times a power of ten) that a span has about eight of."""
    size = 10.0 ** np.floor(np.log10(span / 8))
    return float(next(size * m for m in (1, 2, 5, 10) if size * m >= span / 8))


def _draw(result: LoadsResult, drawn: Any, all_axes: Any, system: str) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.ticker import MultipleLocator

    sketch, *panels = all_axes
    _sketch(sketch, result)
    drawn.suptitle("\n".join(textwrap.wrap(result.title, 90)), fontsize=10)
    worst = result.worst[result.governing]
    x = result.events[0].forces.position
    forces = max(float(np.abs(part).max()) for part in result.envelope["shear"])
    for axes, (name, kind, title) in zip(panels, (
        ("compression", "force", "axial force"), ("shear", "force", "shear force"),
        ("moment", "moment", "bending moment"),
    ), strict=True):
        low, high = result.envelope[name]
        scale, unit = axis(kind, system)
        axes.fill_between(x, low * scale, high * scale, color="0.84", lw=0,
                          label="envelope of all events")
        for index, found in enumerate(result.events):
            axes.plot(x, getattr(found.forces, name) * scale, lw=1.3,
                      color=COLORS[index % len(COLORS)], ls=DASHES[index % 4],
                      label=found.event.name)
        axes.axhline(0, color="0.4", lw=0.7)
        axes.axvline(worst.position, color="#B00020", lw=1.2, ls="--")
        for end in (result.body.tube.fore, result.body.tube.aft):
            axes.axvline(end, color="0.6", lw=0.8, ls=":")
        axes.set_ylabel(f"{title} [{unit}]")
        axes.grid(True, color="0.92", lw=0.6)
        axes.set_axisbelow(True)
        axes.tick_params(labelsize=8)
        axes.margins(y=0.08)
        if max(np.abs(low).max(), np.abs(high).max()) <= 1e-9 * forces:
            axes.set_ylim(-1, 1)  # no load but rounding, which needs no scale of its own
    panels[0].annotate(
        "compression is positive", (0.005, 0.97), xycoords="axes fraction", va="top", fontsize=7.5,
        color="0.35", bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
    )
    sketch.axvline(worst.position, color="#B00020", lw=1.2, ls="--")
    length = result.body.length
    for axes in panels:
        axes.set_xlim(-0.02 * length, 1.02 * length)
    scale, unit = axis("length", system)
    panels[-1].xaxis.set_major_locator(MultipleLocator(_step(length * scale) / scale))
    panels[-1].xaxis.set_major_formatter(lambda value, _: f"{value * scale:.6g}")
    panels[-1].set_xlabel(f"distance from the fore end [{unit}] (dotted: ends of the tube)")
    handles, labels = panels[0].get_legend_handles_labels()
    handles.append(Line2D([], [], color="#B00020", lw=1.2, ls="--"))
    labels.append(f"worst section of the tube, "
                  f"{shown(worst.position, 'length', system, 3)} "
                  f"({result.events[result.governing].event.name})")
    drawn.legend(handles, labels, loc="outside lower center", ncols=2, fontsize=8, frameon=False)
