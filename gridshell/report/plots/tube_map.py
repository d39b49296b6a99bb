"""Picture of the map of tubes: general instability, formula over solid, with every rib in place."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.proof.maps.tubes import LOADS, SolidTube, table
from gridshell.report.plots.style import (
    BLUE,
    GREY,
    INK,
    ORANGE,
    RED,
    check_picture_path,
    figure,
    save,
)
from gridshell.tube.buckling.general import SOLID_PERCENT

_LOOKS = dict(zip(CELL_PATTERNS, ((BLUE, "o"), (ORANGE, "s"), (RED, "^")), strict=True))


def draw_tube_map(tubes: tuple[SolidTube, ...], path: str | Path) -> None:
    """Formula over solid for each tube and load, over the depth of the wall; png, pdf or svg.

    Full marks: ribs inside, open marks: outside, crosses: the handbook's thin ribs.

    Args:
        tubes: of `gridshell.proof.maps.tubes.read`.
    """
    check_picture_path(path)
    formula, handbook = 100 * (table(tubes) - 1), 100 * (table(tubes, handbook=True) - 1)
    walls = [tube.wall for tube in tubes]
    depth = np.array([float(wall.depth / wall.grid.radius) for wall in walls])
    with figure(12.5, 4.6, 1, len(LOADS), sharey=True) as (drawn, axes):
        for column, name in enumerate(LOADS):
            axis = axes[column]
            axis.axhspan(-SOLID_PERCENT, SOLID_PERCENT, color="#f2f2f2", zorder=0)
            axis.axhline(0, color=INK, linewidth=0.8)
            for pattern in CELL_PATTERNS:
                color, mark = _LOOKS[pattern]
                for side, face in (("inside", color), ("outside", "none")):
                    of = np.array([
                        (tube.design.ribs.pattern, tube.design.ribs.side) == (pattern, side)
                        for tube in tubes
                    ])
                    axis.plot(depth[of], handbook[of, column], "x", markersize=4.5, color=GREY,
                              markeredgewidth=0.9)
                    axis.plot(depth[of], formula[of, column], mark, markersize=6,
                              markerfacecolor=face, markeredgecolor=color, markeredgewidth=1.2,
                              label=f"{pattern}, ribs {side}" if column == 0 else None)
            axis.set_title(name if name != "lateral" else "lateral pressure")
            axis.set_xlabel("depth of the wall / radius")
            axis.set_xlim(0, None)
        axes[0].plot([], [], "x", color=GREY, label="handbook's thin ribs")
        axes[0].set_ylabel("formula over solid tube, %")
        drawn.legend(*axes[0].get_legend_handles_labels(), loc="outside lower center", ncols=4,
                     fontsize=8.5, frameon=False)
        save(drawn, path)
