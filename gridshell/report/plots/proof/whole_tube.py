"""Pictures of the whole-tube proof: buckling modes, formula against solid, tests against theory."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array
from gridshell.proof.published.compare import PublishedResult
from gridshell.proof.waves.run import WholeTubeResult
from gridshell.report.plots import style
from gridshell.report.plots.tube.mode import draw_surface

_ROUND, _ALONG = 150, 240  # points of the drawn surface


def mode_field(result: WholeTubeResult, name: str, along: Array, around: Array) -> Array:
    """Outward motion of a mode at axial places (m) and angles (rad), largest 1, (along, around).

    Modes of the round free ends are sin(k x) cos(n t) with the small-scale motion of the cell;
    torsion is a helix under an envelope that vanishes at the ends.

    Raises:
        InputError: no such mode in the result.
    """
    from scipy.interpolate import LinearNDInterpolator

    if name not in result.modes:
        raise InputError(
            f"mode {name!r} was not computed; there are: {', '.join(result.modes)}"
        )
    tube, mode = result.tube, result.modes[name]
    cell = tube.model.cell
    places, height = tube.skin_motion(mode)
    turn = LinearNDInterpolator(places, np.real(height)), LinearNDInterpolator(
        places, np.imag(height))
    x, arc = np.meshgrid(along, around * cell.radius, indexing="ij")

    def leaning(sign: int) -> Array:
        # A mirror image leans the other way: look at it from the other side of the cell.
        place = arc if sign > 0 else -arc
        column, line = np.floor(x / cell.along_axis), np.floor(place / cell.round_hoop)
        local = np.stack([x - column * cell.along_axis, place - line * cell.round_hoop], -1)
        value = turn[0](local) + 1j * turn[1](local)
        return np.asarray(value * np.exp(1j * (mode.phase[0] * column + mode.phase[1] * line)))

    if name == "torsion":
        field = np.imag(leaning(1)) * np.sin(np.pi * x / tube.length)
    else:
        field = np.imag(leaning(1) + leaning(-1))
    field = np.nan_to_num(field)
    return np.asarray(field / np.abs(field).max())


def draw_mode(result: WholeTubeResult, name: str, path: str | Path) -> None:
    """A buckling mode on the tube and unrolled; png, pdf or svg by the suffix.

    Args:
        name: key of ``result.modes``.
    """
    tube = result.tube
    along = np.linspace(0, tube.length, _ALONG)
    around = np.linspace(0, 2 * np.pi, _ROUND + 1)
    field = mode_field(result, name, along, around)
    draw_surface(path, along, around, field, tube.model.cell.radius,
                 (_title(result, name), "Unrolled skin"), turn=0.0)


def _title(result: WholeTubeResult, name: str) -> str:
    mode = result.modes[name]
    if name.startswith("local"):
        return f"Local buckling: {_number(mode.load)} N"
    unit = result.row(f"general, {name}").unit
    load = result.row(f"general, {name}").solid
    kind = "pressure" if unit == "Pa" else name
    return (f"General instability, {kind if unit != 'Pa' else name + ' pressure'}: "
            f"{_number(load)} {unit}")


def _number(value: float) -> str:
    """Four digits without an exponent."""
    return f"{float(f'{value:.4g}'):,.6g}" if abs(value) < 1e6 else f"{value:.4g}"


def draw_ratios(result: WholeTubeResult, path: str | Path) -> None:
    """Formula over solid for every row, with 5 % either way as a band."""
    style.check_picture_path(path)
    rows = [row for row in result.rows if np.isfinite(row.ratio)]
    with style.figure(7.6, 0.36 * len(rows) + 1.3) as (drawn, axes):
        place = np.arange(len(rows))[::-1]
        axes.axvspan(-5, 5, color=style.PALE, zorder=0)
        axes.axvline(0, color=style.INK, lw=1)
        values = np.array([100 * (row.ratio - 1) for row in rows])
        high = values > 5
        axes.plot(values[~high], place[~high], "o", color=style.BLUE,
                  label="formula low or within 5 %")
        if high.any():
            axes.plot(values[high], place[high], "D", color=style.RED,
                      label="formula more than 5 % high")
        axes.set_yticks(place, [row.name for row in rows])
        axes.set_ylim(-0.6, len(rows) - 0.4)
        axes.set_xlabel("formula over tube of solid cells, difference in %  (grey: 5 %)")
        axes.set_title("The whole tube with every rib, before any knockdown")
        axes.grid(axis="x", lw=0.4)
        axes.legend(fontsize=8, loc="upper center", bbox_to_anchor=(0.4, -0.2), ncols=2,
                    frameon=False)
        style.save(drawn, path)


def draw_published(result: PublishedResult, path: str | Path) -> None:
    """Predicted against published where pressures have dimensions, and the ratios of all rows."""
    style.check_picture_path(path)
    with style.figure(11.5, 5.4, 1, 2, gridspec_kw={"width_ratios": [1, 1.3]}) as (drawn, axes):
        _draw_scatter(axes[0], [row for row in result.rows if row.unit == "Pa"])
        _draw_groups(axes[1], result)
        style.save(drawn, path)


def _draw_scatter(axes: Any, rows: list[Any]) -> None:
    """Pressures of cylinders with dimensions, kPa on both axes; nothing if there are none."""
    if not rows:
        axes.set_axis_off()
        return
    tests, worked = ([row for row in rows if row.worked is kind] for kind in (False, True))
    for chosen, value, mark, color, label in (
        (tests, "perfect", "o", style.BLUE, "test, perfect theory"),
        (tests, "design", "D", style.RED, "test, with knockdown"),
        (worked, "perfect", "x", style.INK, "worked example"),
    ):
        axes.loglog(
            [row.measured / 1e3 for row in chosen], [getattr(row, value) / 1e3 for row in chosen],
            mark, color=color, label=label, ms=5, mew=1.5, mfc="none", ls="none",
        )
    values = [value / 1e3 for row in rows for value in (row.measured, row.perfect, row.design)
              if np.isfinite(value)]
    ends = min(values) / 1.5, max(values) * 1.5
    axes.plot(ends, ends, color=style.INK, lw=1)
    axes.annotate("equal", (ends[1] / 2.2, ends[1] / 2.2), (6, -10), textcoords="offset points",
                  fontsize=8)
    axes.set(xlim=ends, ylim=ends, xlabel="published, kPa", ylabel="predicted, kPa",
             title="Cylinders under pressure")
    axes.set_aspect("equal")
    axes.grid(lw=0.4)
    axes.legend(fontsize=8, loc="upper left")


def _draw_groups(axes: Any, result: PublishedResult) -> None:
    """Published over perfect theory, one line a group; the factor of each row beside it."""
    groups = list(dict.fromkeys(row.group for row in result.rows))
    place = {group: len(groups) - 1 - index for index, group in enumerate(groups)}
    worked = {row.group for row in result.rows if row.worked}
    axes.axvline(1, color=style.INK, lw=1, zorder=0)
    for kind, mark, color, label in (
        (False, "o", style.BLUE, "test over perfect theory"),
        (True, "x", style.INK, "worked example over perfect theory"),
    ):
        rows = [row for row in result.rows if row.worked is kind]
        axes.plot([row.over_perfect for row in rows], [place[row.group] for row in rows], mark,
                  color=color, mfc="none", mew=1.5, ms=6, label=label)
    axes.plot([row.knockdown for row in result.rows if not row.worked],
              [place[row.group] - 0.28 for row in result.rows if not row.worked], "^",
              color=style.RED, ms=6, label="knockdown factor")
    counts = {group: sum(row.group == group for row in result.rows) for group in groups}
    axes.set_yticks(list(place.values()), [
        f"{group}  ({counts[group]})" for group in groups], fontsize=8.5)
    if worked and len(worked) < len(groups):
        border = min(y for group, y in place.items() if group not in worked) - 0.6
        axes.axhline(border, color=style.GREY, lw=0.8, ls="--")
    axes.set(xlim=(0, 1.8), ylim=(-0.7, len(groups) - 0.4), xlabel="share of perfect theory",
             title="All rows, by source (number of rows)")
    axes.grid(axis="x", lw=0.4)
    axes.legend(fontsize=8, loc="upper center", bbox_to_anchor=(0.4, -0.13), ncols=3,
                frameon=False, columnspacing=1.2, handletextpad=0.3)
