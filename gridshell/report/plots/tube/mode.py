"""One buckling mode: on the tube in three dimensions, and unrolled beside it."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridshell.define.types import Array
from gridshell.report.plots import style

_BULGE = 0.14  # height of the drawn wave over the radius
_ROUND, _ALONG = 150, 240  # points of the drawn surface, about
_LONGEST = 4.0  # length over diameter beyond which the drawn tube is foreshortened


def spread(count: int, most: int) -> np.ndarray:
    """Indices of at most so many of the points, both ends among them."""
    return np.unique(np.linspace(0, count - 1, min(count, most)).round().astype(int))


def draw_surface(
    path: str | Path, axis: Array, angle: Array, field: Array, radius: float,
    titles: tuple[str, str], turn: float = np.pi,
) -> None:
    """A mode as bulges of the tube, and as a map; png, pdf or svg by the suffix.

    Args:
        path: file to write.
        axis: axial places from end to end, m, (k,).
        angle: angles all round, rad, (m,).
        field: outward motion, largest 1, (k, m).
        radius: of the tube, m.
        titles: of the tube and of the map.
        turn: angle that faces the viewer's far side, rad.
    """
    from matplotlib import colormaps

    style.check_picture_path(path)
    length = float(axis[-1])
    with style.figure(10.5, 4.2, 1, 2, gridspec_kw={"width_ratios": [1.15, 1]}) as (drawn, axes):
        axes[0].remove()
        left = drawn.add_subplot(1, 2, 1, projection="3d")
        few, thin = spread(len(axis), _ALONG), spread(len(angle), _ROUND + 1)
        shown, turned = field[np.ix_(few, thin)], angle[thin] + turn
        outward = radius * (1 + _BULGE * shown) * 1e3
        x = np.broadcast_to(axis[few, None] * 1e3, shown.shape)
        left.plot_surface(
            x, outward * np.cos(turned), outward * np.sin(turned),
            facecolors=colormaps["RdBu_r"](0.5 + shown / 2), rstride=1, cstride=1, linewidth=0,
            antialiased=False, shade=True, clip_on=False,  # the axes are a square, the tube is long
        )
        wide = radius * (1 + _BULGE) * 1e3
        left.set(xlim=(0, length * 1e3), ylim=(-wide, wide), zlim=(-wide, wide))
        slender = min(length / radius / 2, _LONGEST)
        left.set_box_aspect((slender, 1, 1), zoom=1.15 if slender > 2 else 1.0)
        left.view_init(elev=22, azim=-62)
        left.set_axis_off()
        left.set_title(titles[0])
        right = axes[1]
        image = right.imshow(
            field.T, origin="lower", aspect="auto", cmap="RdBu_r", vmin=-1, vmax=1,
            extent=(0, length * 1e3, 0, 360), interpolation="bilinear",
        )
        right.set(xlabel="along the tube, mm", ylabel="angle round the tube, deg",
                  yticks=range(0, 361, 60), title=titles[1])
        for side in ("top", "right"):
            right.spines[side].set_visible(True)
        bar = drawn.colorbar(image, ax=right, ticks=[-1, 0, 1], shrink=0.9)
        bar.set_ticklabels(["in", "0", "out"])
        style.save(drawn, path)
