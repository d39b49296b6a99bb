"""Picture of the random tubes solved as shells: formula over shells, every tube a mark."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.proof.shells.sample import ShellRow, ratios
from gridshell.report.plots.style import (
    BLUE,
    GREY,
    INK,
    ORANGE,
    PALE,
    RED,
    check_picture_path,
    figure,
    save,
)
from gridshell.tube.buckling.waves import LOADS

_LOOKS = dict(zip(CELL_PATTERNS, ((BLUE, "o"), (ORANGE, "s"), (RED, "^")), strict=True))
_TITLES = {"compression": "compression", "lateral": "lateral pressure",
           "hydrostatic": "pressure, closed ends", "torsion": "torsion"}


def draw_shell_sample(rows: tuple[ShellRow, ...], path: str | Path) -> None:
    """Formula over shells for each tube and load, over the depth of the wall; png, pdf or svg.

    Full marks: ribs inside, open marks: outside, crosses: the formula on the very wall of the
    shells.

    Args:
        rows: of `gridshell.proof.shells.sample.read`.
        path: file to write.
    """
    check_picture_path(path)
    theory, tube = ratios(rows)
    depth = np.array([row.depth for row in rows])
    with figure(13.5, 4.6, 1, len(LOADS), sharey=True) as (drawn, axes):
        for column, name in enumerate(LOADS):
            axis = axes[column]
            axis.axhspan(-5, 5, color=PALE, zorder=0)
            axis.axhline(0, color=INK, linewidth=0.8)
            axis.plot(depth, 100 * (theory[name] - 1), "x", markersize=4.5, color=GREY,
                      markeredgewidth=0.9,
                      label="same wall as the shells" if column == 0 else None)
            for pattern in CELL_PATTERNS:
                color, mark = _LOOKS[pattern]
                for side, face in (("inside", color), ("outside", "none")):
                    of = np.array([
                        (row.design.ribs.pattern, row.design.ribs.side) == (pattern, side)
                        for row in rows
                    ])
                    axis.plot(depth[of], 100 * (tube[name][of] - 1), mark, markersize=6,
                              markerfacecolor=face, markeredgecolor=color, markeredgewidth=1.2,
                              label=f"{pattern}, ribs {side}" if column == 0 else None)
            axis.set_title(_TITLES[name])
            axis.set_xlabel("depth of the wall / radius")
            axis.set_xscale("log")
        axes[0].set_ylabel("formula over shells, %  (grey: 5 %)")
        drawn.legend(*axes[0].get_legend_handles_labels(), loc="outside lower center", ncols=4,
                     fontsize=8.5, frameon=False)
        save(drawn, path)
