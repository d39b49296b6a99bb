"""Picture of the random tubes solved as shells: formula over shells, every tube a mark."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridshell.proof.shells.sample import ShellRow, ratios
from gridshell.report.plots import style
from gridshell.tube.buckling.waves import LOADS

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
    style.check_picture_path(path)
    theory, tube = ratios(rows)
    designs, depth = [row.design for row in rows], np.array([row.depth for row in rows])
    with style.figure(13.5, 4.6, 1, len(LOADS), sharey=True) as (drawn, axes):
        for name, axis in zip(LOADS, axes, strict=True):
            axis.axhspan(-5, 5, color=style.PALE, zorder=0)
            axis.axhline(0, color=style.INK, linewidth=0.8)
            axis.plot(depth, 100 * (theory[name] - 1), "x", markersize=4.5, color=style.GREY,
                      markeredgewidth=0.9, label="same wall as the shells")
            style.draw_by_pattern(axis, designs, depth, 100 * (tube[name] - 1))
            axis.set_title(_TITLES[name])
            axis.set_xlabel("depth of the wall / radius")
            axis.set_xscale("log")
        axes[0].set_ylabel("formula over shells, %  (grey: 5 %)")
        style.legend_below(drawn, axes[0])
        style.save(drawn, path)
