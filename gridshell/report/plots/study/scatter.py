"""Picture of a scatter study: the distributions, the failing share, and what drives them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.report.numbers import axis, column_name
from gridshell.report.plots import style
from gridshell.report.text.study.scatter import share_text
from gridshell.study.scatter.run import ScatterResult
from gridshell.study.scatter.tally import Distribution

_BARS = 60
_ENDS = 0.0005  # share of the draws at each end that the picture leaves out


def _bars(spread: Distribution) -> tuple[Any, Any]:
    """Coarser bins over the part that holds nearly all draws: edges, share of tubes in each."""
    edges, counts = spread.edges, spread.counts
    running = np.cumsum(counts) / max(counts.sum(), 1)
    first = int(np.searchsorted(running, _ENDS))
    last = int(np.searchsorted(running, 1 - _ENDS)) + 1
    width = max((last - first) // _BARS, 1)
    # A border between two bars stands at zero, so that no bar is half failing.
    zero = int(np.searchsorted(edges, 0.0))
    first = max(first - (first - zero) % width, (zero % width) if zero < len(edges) else 0, 0)
    count = -(-(last - first) // width)
    last = min(first + count * width, len(counts))
    count = (last - first) // width
    grouped = counts[first:first + count * width].reshape(count, width).sum(axis=1)
    return edges[first:first + count * width + 1:width], grouped / max(counts.sum(), 1)


def _draw(axes: Any, spread: Distribution, scale: float, label: str, stated: float,
          zero: bool) -> None:
    edges, shares = _bars(spread)
    edges = edges * scale
    centers, widths = (edges[:-1] + edges[1:]) / 2, np.diff(edges)
    failing = zero & (centers < 0)
    axes.bar(centers[~failing], 100 * shares[~failing], widths[~failing], color=style.SKY,
             edgecolor="white", linewidth=0.3)
    if failing.any():
        axes.bar(centers[failing], 100 * shares[failing], widths[failing], color=style.RED,
                 hatch="////", edgecolor="white", linewidth=0.3)
    top = 100 * shares.max() * 1.3
    axes.set_ylim(0, top)
    marks = [(stated * scale, "as stated", "-"),
             (spread.quantiles[0.01] * scale, "1 % below", ":"),
             (spread.quantiles[0.99] * scale, "99 % below", ":")]
    for level, (at, name, dash) in enumerate(marks):
        axes.axvline(at, color=style.INK, lw=1.1, ls=dash)
        axes.text(at + (0.006 if level != 1 else -0.006) * (edges[-1] - edges[0]),
                  top * (0.985 if level == 0 else 0.9), name, fontsize=8, va="top", zorder=4,
                  ha="left" if level != 1 else "right",
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6})
    if zero and edges[0] < 0 < edges[-1]:
        axes.axvline(0.0, color=style.RED, lw=1.8)
    axes.set_xlabel(label)
    axes.set_ylabel("share of tubes [%]")


def _draw_drivers(axes: Any, result: ScatterResult) -> None:
    names = [one.field for one in result.inputs]
    order = sorted(names, key=lambda name: result.drivers["margin"][name])
    outputs = [
        (name, label, color, hatch) for name, label, color, hatch in (
            ("margin", "lowest margin", style.BLUE, ""), ("EI", "stiffness", style.ORANGE, "///"),
            ("mass", "mass", "#bbbbbb", "..."),
        )
    ]
    tall = 0.26
    for place, field in enumerate(order):
        for number, (name, label, color, hatch) in enumerate(outputs):
            share = result.drivers[name][field]
            axes.barh(place + (1 - number) * tall, 100 * share, tall * 0.92, color=color,
                      hatch=hatch, edgecolor="white", label=label if place == 0 else None)
            if share > 0.005:
                axes.text(100 * share + 1, place + (1 - number) * tall, f"{100 * share:.0f} %",
                          va="center", fontsize=7.5)
    axes.set_yticks(range(len(order)), [column_name(field) for field in order])
    axes.set_xlim(0, 112)
    axes.set_xticks(range(0, 101, 20))
    axes.set_xlabel("share of the variance explained by this alone [%]")
    axes.set_title("What drives it")
    # Below the bars, where none can run into it.
    axes.set_ylim(-1.0, len(order) - 0.45)
    axes.legend(frameon=False, fontsize=8.5, loc="lower right", ncols=3)


def plot_scatter(result: ScatterResult, path: str | Path, system: str = "metric") -> None:
    """Draw a scatter study and save it; png, pdf or svg.

    Raises:
        InputError: the format or place can't be written.
    """
    style.check_picture_path(path)
    nominal = result.nominal
    mass_scale, mass_word = axis("mass", system, float(nominal.mass))
    stiff_scale, stiff_word = axis("stiffness", system)
    with style.figure(12.5, 8.0, 2, 2) as (drawn, axes):
        spread = result.distributions["margin"]
        if np.isfinite(spread.mean):
            _draw(axes[0, 0], spread, 1.0, "lowest margin of a tube", float(nominal.margin), True)
        else:
            axes[0, 0].text(0.5, 0.5, "no load case", ha="center", va="center",
                            transform=axes[0, 0].transAxes)
            axes[0, 0].set_axis_off()
        axes[0, 0].set_title("Lowest margin")
        _draw_drivers(axes[0, 1], result)
        _draw(axes[1, 0], result.distributions["EI"], stiff_scale, f"EI [{stiff_word}]",
              float(nominal.stiffness.EI), False)
        axes[1, 0].set_title("Bending stiffness")
        _draw(axes[1, 1], result.distributions["mass"], mass_scale, f"mass [{mass_word}]",
              float(nominal.mass), False)
        axes[1, 1].set_title("Mass")
        style.headline(drawn, f"{nominal.design.title}\n{share_text(result)}")
        style.save(drawn, path)
