"""Pictures of the tube meshed from end to end: one buckling mode on the tube and unrolled."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array
from gridshell.proof.mesh.run import FullModelResult
from gridshell.proof.waves.run import UNITS
from gridshell.report.plots.tube.mode import draw_surface

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
        result: with the modes.
        path: file to write.
        load: of the mode.
        ends: of the mode.
        number: from 0, the lowest.
    """
    axis, angle, height = mode_surface(result, load, ends, number)
    mode = result.modes[load, ends][number]
    kind = f"{load} pressure" if UNITS[load] == "Pa" else load
    which = "" if number == 0 else f", mode {number + 1}"
    waves = (f"mainly {mode.along} along, {mode.around} round" if mode.is_general
             else "local buckling")
    draw_surface(path, axis, angle, height, result.radius, (
        f"{kind.capitalize()}, {ends} ends{which}: "
        f"{float(f'{mode.load:.4g}'):,.6g} {UNITS[load]}", f"Unrolled skin: {waves}",
    ), turn=np.pi - _FRONT)
