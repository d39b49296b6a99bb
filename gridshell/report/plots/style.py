"""One look for every picture: color-blind safe, readable in grey, labels where the eye is."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.errors import InputError
from gridshell.define.files.replacing import replacing
from gridshell.define.tables.design import Design
from gridshell.define.types import Array

# Okabe and Ito's palette for color-blind readers (2008), ordered dark to light so that it
# also separates in grey.
INK = "#222222"
BLUE, RED, GREEN, ORANGE, SKY, PURPLE = (
    "#0072B2", "#D55E00", "#009E73", "#E69F00", "#56B4E9", "#CC79A7",
)
GREY, PALE = "#7a7a7a", "#e8e8e8"
COLORS = (BLUE, RED, GREEN, ORANGE, SKY, PURPLE, INK, GREY)  # of lines beside each other
PATTERN_LOOKS = dict(zip(CELL_PATTERNS, ((BLUE, "o"), (ORANGE, "s"), (RED, "^")), strict=True))
HATCHES = ("", "///", "...", "xx", "\\\\\\", "oo", "++", "--")
FORMATS = (".png", ".pdf", ".svg")


@contextmanager
def figure(width: float, height: float, rows: int = 1, columns: int = 1, **keys: Any) -> Iterator[
        tuple[Any, Any]]:
    """A matplotlib figure without a screen, with the house style; inches."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    with plt.rc_context({
        "font.size": 10, "axes.spines.top": False, "axes.spines.right": False,
        "axes.edgecolor": INK, "axes.labelcolor": INK, "text.color": INK,
        "axes.titlesize": 10.5, "axes.titleweight": "bold", "axes.titlelocation": "left",
        "savefig.dpi": 150, "figure.constrained_layout.use": True, "hatch.linewidth": 0.6,
        "svg.hashsalt": "gridshell",  # the same picture gives the same file
    }):
        drawn, axes = plt.subplots(rows, columns, figsize=(width, height), **keys)
        try:
            yield drawn, axes
        finally:
            plt.close(drawn)


def headline(drawn: Any, title: str) -> None:
    """The title of a picture: left, above everything, broken where it is too long to fit."""
    import textwrap

    room = int(drawn.get_figwidth() * 9.5)
    lines = [part for line in title.splitlines() for part in textwrap.wrap(line, room) or [""]]
    drawn.suptitle("\n".join(lines), x=0.01, ha="left", fontsize=11.5, color=INK)


def draw_by_pattern(
    axis: Any, designs: Sequence[Design], x: Array, y: Array, crosses: Array | None = None
) -> None:
    """One mark a design, by its pattern: full with ribs inside, open with ribs outside.

    Args:
        axis: to draw on.
        designs: one a mark.
        x: place of each, (designs,).
        y: value of each, (designs,).
        crosses: a value to compare, drawn grey, (designs,).
    """
    for pattern, (color, mark) in PATTERN_LOOKS.items():
        for side, face in (("inside", color), ("outside", "none")):
            of = np.array([(one.ribs.pattern, one.ribs.side) == (pattern, side) for one in designs])
            if crosses is not None:
                axis.plot(x[of], crosses[of], "x", markersize=4.5, color=GREY, markeredgewidth=0.9)
            axis.plot(x[of], y[of], mark, markersize=6, markerfacecolor=face,
                      markeredgecolor=color, markeredgewidth=1.2, label=f"{pattern}, ribs {side}")


def legend_below(drawn: Any, axis: Any) -> None:
    """One legend under all panels, from what one of them shows."""
    drawn.legend(*axis.get_legend_handles_labels(), loc="outside lower center", ncols=4,
                 fontsize=8.5, frameon=False)


def plain_ticks(axis: Any, values: Any) -> None:
    """A handful of round numbers on a logarithmic axis."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter

    low, high = float(np.min(values)), float(np.max(values))
    decades = range(int(np.floor(np.log10(low))) - 1, int(np.ceil(np.log10(high))) + 1)
    steps: tuple[float, ...] = (
        (1, 1.5, 2, 3, 4, 5, 7) if high / low < 12 else (1, 2, 5) if high / low < 3e3
        else (1, 3) if high / low < 1e5 else (1,)
    )
    marks = [s * 10.0**d for d in decades for s in steps if low <= s * 10.0**d <= high]
    axis.set_major_locator(FixedLocator(marks))
    axis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
    axis.set_minor_formatter(NullFormatter())


def check_picture_path(path: str | Path) -> None:
    """Refuse a picture file of a format that can't be written, before any work is done.

    Raises:
        InputError: the ending is not png, pdf or svg.
    """
    ending = Path(path).suffix.lower()
    if ending not in FORMATS:
        raise InputError(
            f"--plot {str(path)!r}: ending {ending!r} is not a picture; use .png, .pdf or .svg"
        )


def save(drawn: Any, path: str | Path) -> None:
    """Save a figure beside and rename; see `gridshell.define.files.replacing.replacing`."""
    check_picture_path(path)
    with replacing(path) as scratch, warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        drawn.savefig(scratch)
    if any("missing from" in str(one.message) for one in told):
        print("note: a title has letters that the picture's font lacks; they are drawn as boxes",
              file=sys.stderr)
