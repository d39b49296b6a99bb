"""Pictures of the tube meshed from end to end: one buckling mode on the tube and unrolled."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array
from gridshell.proof.full_model import UNITS, FullModelResult
from gridshell.report import style

_BULGE = 0.14  # height of the drawn wave over the radius
_FRONT = 0.6  # turns the side that bending compresses to the viewer, rad


def mode_surface(
    result: FullModelResult, load: str, ends: str, number: int = 0
) -> tuple[Array, Array, Array]:
    """Axial places (m), angles (rad, all round) and outward motion, largest 1, (axis, angle).

    Raises:
        InputError: no such mode in the result.
    """
    found = result.modes.get((load, ends), ())
    if not 0 <= number < len(found):
        there = ", ".join(f"{a} with {b} ends ({len(m)})" for (a, b), m in result.modes.items())
        raise InputError(f"mode {number + 1} of {load} with {ends} ends was not computed; "
                         f"there are: {there or 'none'}")
    mode = found[number]
    angle, height = mode.angle, mode.height
    if angle[-1] < 1.5 * np.pi:  # half a tube: the other half is its mirror image
        angle = np.concatenate([angle, 2 * np.pi - angle[-2::-1]])
        height = np.concatenate([height, height[:, -2::-1]], axis=1)
    return mode.axis, angle, height


def draw_full_mode(
    result: FullModelResult, load: str, ends: str, path: str | Path, number: int = 0
) -> None:
    """A buckling mode of the meshed tube; png, pdf or svg by the suffix.

    Args:
        load, ends: which of the result's modes. number: from 0, the lowest.
    """
    style.check_picture_path(path)
    axis, angle, height = mode_surface(result, load, ends, number)
    mode = result.modes[load, ends][number]
    radius = result.radius
    from matplotlib import colormaps

    with style.figure(10.5, 4.6, 1, 2, gridspec_kw={"width_ratios": [1.15, 1]}) as (drawn, axes):
        colors = colormaps["RdBu_r"]
        axes[0].remove()
        left = drawn.add_subplot(1, 2, 1, projection="3d")
        few, thin = slice(None, None, 2), slice(None, None, 3)
        shown, turn = height[few, thin], angle[thin] - _FRONT
        outward = radius * (1 + _BULGE * shown) * 1e3
        x = np.broadcast_to(axis[few, None] * 1e3, shown.shape)
        left.plot_surface(
            x, -outward * np.cos(turn), -outward * np.sin(turn),
            facecolors=colors(0.5 + shown / 2), rstride=1, cstride=1, linewidth=0,
            antialiased=False, shade=True,
        )
        wide = radius * (1 + _BULGE) * 1e3
        left.set(xlim=(0, result.length * 1e3), ylim=(-wide, wide), zlim=(-wide, wide))
        left.set_box_aspect((min(result.length / radius / 2, 4.0), 1, 1), zoom=0.95)
        left.view_init(elev=22, azim=-62)
        left.set_axis_off()
        kind = f"{load} pressure" if UNITS[load] == "Pa" else load
        which = "" if number == 0 else f", mode {number + 1}"
        left.set_title(f"{kind.capitalize()}, {ends} ends{which}: "
                       f"{float(f'{mode.load:.4g}'):,.6g} {UNITS[load]}")
        right = axes[1]
        image = right.imshow(
            height.T, origin="lower", aspect="auto", cmap="RdBu_r", vmin=-1, vmax=1,
            extent=(0, result.length * 1e3, 0, 360), interpolation="bilinear",
        )
        waves = (f"mainly {mode.along} along, {mode.around} round" if mode.is_general
                 else "local buckling")
        right.set(xlabel="along the tube, mm", ylabel="angle round the tube, deg",
                  yticks=range(0, 361, 60), title=f"Unrolled skin: {waves}")
        for side in ("top", "right"):
            right.spines[side].set_visible(True)
        bar = drawn.colorbar(image, ax=right, ticks=[-1, 0, 1], shrink=0.9)
        bar.set_ticklabels(["in", "0", "out"])
        style.save(drawn, path)
