"""Picture of the map of tubes: general instability, formula over solid, with every rib in place."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridshell.proof.maps.tubes import LOADS, SolidTube, table
from gridshell.report.plots import style
from gridshell.tube.buckling.general import SOLID_PERCENT


def draw_tube_map(tubes: tuple[SolidTube, ...], path: str | Path) -> None:
    """Formula over solid for each tube and load, over the depth of the wall; png, pdf or svg.

    Full marks: ribs inside, open marks: outside, crosses: the handbook's thin ribs.

    Args:
        tubes: of `gridshell.proof.maps.tubes.read`.
    """
    style.check_picture_path(path)
    formula, handbook = 100 * (table(tubes) - 1), 100 * (table(tubes, handbook=True) - 1)
    designs, walls = [tube.design for tube in tubes], [tube.wall for tube in tubes]
    depth = np.array([float(wall.depth / wall.grid.radius) for wall in walls])
    with style.figure(12.5, 4.6, 1, len(LOADS), sharey=True) as (drawn, axes):
        for column, (name, axis) in enumerate(zip(LOADS, axes, strict=True)):
            axis.axhspan(-SOLID_PERCENT, SOLID_PERCENT, color="#f2f2f2", zorder=0)
            axis.axhline(0, color=style.INK, linewidth=0.8)
            style.draw_by_pattern(axis, designs, depth, formula[:, column], handbook[:, column])
            axis.set_title(name if name != "lateral" else "lateral pressure")
            axis.set_xlabel("depth of the wall / radius")
            axis.set_xlim(0, None)
        axes[0].plot([], [], "x", color=style.GREY, label="handbook's thin ribs")
        axes[0].set_ylabel("formula over solid tube, %")
        style.legend_below(drawn, axes[0])
        style.save(drawn, path)
