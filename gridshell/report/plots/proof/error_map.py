"""Picture of the map: how far the formulas are off solid cells, over each ratio of their shape."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.types import Array
from gridshell.proof.maps.cells import UnitCells, errors
from gridshell.report.plots import style

_LINEAR = 3.0  # %: to there the axis is even, beyond by decades
_TICKS = (-30, -10, -3, -2, -1, 0, 1, 2, 3, 10)


def _ratios(cells: UnitCells) -> dict[str, Array]:
    shape = cells.shape
    return {
        "rib width / node distance": shape["width"],
        "rib height / width": shape["height"] / shape["width"],
        "root fillet / width": shape["root_fillet"] / shape["width"],
        "corner radius / width": shape["corner_radius"] / shape["width"],
        "skin / rib width": shape["thickness"] / shape["width"],
    }


def _largest(values: Array) -> Array:
    """Of each row the entry that is largest either way, %."""
    return np.asarray(100 * values[np.arange(len(values)), np.argmax(np.abs(values), axis=1)])


def draw_map(cells: UnitCells, path: str | Path) -> None:
    """Largest error of each cell in A, B and D over its ratios; png, pdf or svg by the suffix.

    Args:
        cells: of `gridshell.proof.maps.cells.read`.
    """
    style.check_picture_path(path)
    handbook, formula = errors(cells)
    ratios = _ratios(cells)
    with style.figure(14.5, 8.2, 3, len(ratios), sharex="col", sharey=True) as (drawn, axes):
        for line, matrix in enumerate("ABD"):
            old, new = (_largest(getattr(found, matrix)) for found in (handbook, formula))
            for column, (name, values) in enumerate(ratios.items()):
                axis: Any = axes[line, column]
                axis.axhspan(-_LINEAR, _LINEAR, color="#f2f2f2", zorder=0)
                axis.axhline(0, color=style.INK, linewidth=0.8)
                for pattern in CELL_PATTERNS:
                    of = np.array([one == pattern for one in cells.pattern])
                    color, mark = style.PATTERN_LOOKS[pattern]
                    axis.plot(values[of], old[of], mark, markersize=3.6, markerfacecolor="none",
                              markeredgecolor=style.GREY, markeredgewidth=0.7)
                    axis.plot(values[of], new[of], mark, markersize=4, color=color)
                axis.set_yscale("symlog", linthresh=_LINEAR, linscale=1.6)
                axis.set_ylim(-60, 12)
                axis.set_yticks(_TICKS, [f"{tick:+d}" if tick else "0" for tick in _TICKS])
                axis.minorticks_off()
                axis.locator_params(axis="x", nbins=5)
                axis.grid(linewidth=0.3)
                if column == 0:
                    axis.set_ylabel(f"{matrix}: largest difference [%]")
                if line == 2:
                    axis.set_xlabel(name)
        _legend(drawn, len(cells.pattern))
        style.save(drawn, path)


def _legend(drawn: Any, count: int) -> None:
    from matplotlib.lines import Line2D

    marks = [
        Line2D([], [], color=color, marker=mark, linestyle="", label=f"{pattern}, fat-rib formula")
        for pattern, (color, mark) in style.PATTERN_LOOKS.items()
    ]
    marks.append(Line2D([], [], color=style.GREY, marker="o", markerfacecolor="none", linestyle="",
                        label="thin ribs of the handbook, same shapes"))
    drawn.legend(handles=marks, loc="outside upper center", ncols=4, frameon=False,
                 title=f"formula over solid, less one, of {count} solid cells (axis even within "
                 f"{_LINEAR:g} %)", title_fontsize=10)
