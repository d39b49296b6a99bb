"""Picture of the finished tube's bend test: readings against prediction, and the causes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.report.numbers import axis, shown, with_error
from gridshell.report.plots.style import BLUE, GREY, INK, RED, check_picture_path, figure, save
from gridshell.report.text.tube.measured import flexibility_unit
from gridshell.tube.bend_test.measured import MeasuredResult


def plot_measured(
    result: MeasuredResult, path: str | Path, system: str = "metric"
) -> None:
    """Readings, their line and the predicted line; below it each cause's step in stiffness.

    Raises:
        InputError: a format that can't be written, or a folder that is not there.
    """
    check_picture_path(path)
    with figure(7.4, 7.4, rows=2, gridspec_kw={"height_ratios": (1.25, 1)}) as (drawn, axes):
        _readings(result, axes[0], system)
        _causes(result, axes[1])
        save(drawn, path)


def _readings(result: MeasuredResult, axes: Any, system: str) -> None:
    scale, unit = axis("length", system)
    force, force_unit = axis("force", system)
    per, _ = flexibility_unit(system)
    load, deflection = result.test.load * force, result.test.deflection * scale
    slope = result.flexibility[0] * per
    zero = float(deflection.mean() - slope * load.mean())
    reach = np.array([0.0, 1.05 * load.max()])
    axes.plot(load, deflection - zero, "o", mfc="none", mec=BLUE, clip_on=False, zorder=4,
              label="readings, zero taken out")
    axes.plot(reach, slope * reach, color=BLUE, lw=1.5, label="their line")
    spread = 2 * result.flexibility[1] * per
    axes.fill_between(reach, (slope - spread) * reach, (slope + spread) * reach, color=BLUE,
                      alpha=0.15, lw=0, label="two standard uncertainties")
    axes.plot(reach, result.predicted_flexibility * per * reach, color=RED, lw=1.5, ls="--",
              label="predicted, with joints")
    axes.set_xlim(0, reach[1])
    axes.set_ylim(bottom=min(0.0, float((deflection - zero).min())))
    axes.set_xlabel(f"load [{force_unit}]")
    axes.set_ylabel(f"deflection [{unit}]")
    axes.legend(frameon=False, loc="upper left")
    axes.set_title(f"Built tube {result.ratio:.3f} times as stiff as predicted\n"
                   f"EI {with_error(result.EI, 2 * result.EI_error, 'stiffness', system)}, "
                   f"predicted {shown(result.EI_predicted, 'stiffness', system)}".replace(
                       "+-", "±").replace("^2", "²"), loc="left", fontsize=10)


def _causes(result: MeasuredResult, axes: Any) -> None:
    """Stiffness in percent of the tube in one piece as designed, cause after cause."""
    level = 100.0
    names = ["as designed, in one piece"]
    axes.barh(0, level, color="#d0d0d0", height=0.6)
    axes.text(level, 0, "  100 %", va="center", ha="left")
    for row, cause in enumerate(result.causes, start=1):
        after = level * cause.factor
        low, width = min(level, after), abs(after - level)
        axes.barh(row, width, left=low, height=0.6, color=RED if after < level else BLUE)
        axes.errorbar(after, row, xerr=2 * cause.uncertainty * after, color=INK, capsize=3, lw=1)
        edge = max(level, after + 2 * cause.uncertainty * after)
        axes.text(edge, row, f"  x{cause.factor:.3f}", va="center", ha="left")
        axes.plot([after, after], [row + 0.3, row + 0.7], color=GREY, lw=0.8)
        names.append(cause.name)
        level = after
    row = len(names)
    axes.barh(row, level, color="#d0d0d0", height=0.6)
    axes.text(level, row, f"  {level:.1f} %", va="center", ha="left")
    names.append("as tested")
    axes.set_yticks(range(len(names)), names)
    axes.invert_yaxis()
    axes.set_xlim(0, 1.22 * max(100.0, level))
    axes.set_xlabel("bending stiffness [%] (whiskers: two standard uncertainties)")
    axes.set_title("Where the difference comes from")
