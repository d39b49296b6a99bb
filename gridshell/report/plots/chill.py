"""Picture of a chilling: temperature, stiffness, margin and cracking over time, and the window."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from gridshell.define.types import Array
from gridshell.report.numbers import degrees
from gridshell.report.plots.style import BLUE, INK, RED, save
from gridshell.report.text.chill import duration, limit_value
from gridshell.thermal.heat.history import Phase
from gridshell.thermal.result import ChillResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# The dashes tell the lines apart in grey.
_LINES: dict[str, tuple[str, Any]] = {
    "skin": (BLUE, "-"), "rib": (RED, (0, (6, 2))), "land": (INK, (0, (1, 1.3))),
}
_PLACES = ((INK, "-"), (RED, (0, (6, 2))), (BLUE, (0, (1, 1.3))))
_SHADE, _LIMIT = "0.90", "0.35"
_LABEL_HEIGHT = 0.165  # inches that a line of label takes


class _Label:
    """A label beside the right panel; heights as a share of the panel's."""

    def __init__(self, at: float, tall: float, text: str, color: str) -> None:
        self.at, self.tall, self.text, self.color = at, tall, text, color
        self.shown = at


class _Row:
    """One quantity: a panel for the chilling and one for the way back."""

    def __init__(self, left: Axes, right: Axes, height: float) -> None:
        self.left, self.right = left, right
        self.height = height  # of the figure, inches
        self.labels: list[tuple[float, str, str]] = []

    def line(self, result: ChillResult, series: Array, color: str, style: Any, label: str,
             width: float = 1.6) -> None:
        before, after = _halves(result)
        self.left.plot(result.time[before] / 60, series[before], color=color, ls=style, lw=width)
        self.right.plot((result.time[after] - result.exposed_at) / 60, series[after], color=color,
                        ls=style, lw=width)
        ends = series[after]
        known = np.flatnonzero(np.isfinite(ends))
        if label and known.size:
            self.labels.append((float(ends[known[-1]]), label, color))

    def limit(self, value: float, label: str) -> None:
        for axes in (self.left, self.right):
            axes.axhline(value, color=_LIMIT, lw=0.9, ls=(0, (8, 3)))
        self.labels.append((value, label, _LIMIT))

    def finish(self) -> None:
        """Labels at the right of their lines, kept apart, in the order of the lines."""
        axes = self.right
        low, high = axes.get_ylim()
        transform = axes.transData + axes.transAxes.inverted()
        whole = axes.get_position().height * self.height
        placed = []
        for value, label, color in self.labels:
            point = (axes.get_xlim()[1], float(np.clip(value, low, high)))
            at = float(transform.transform(point)[1])
            tall = _LABEL_HEIGHT * (1 + label.count("\n")) / whole
            placed.append(_Label(at, tall, label, color))
        placed.sort(key=lambda label: label.at)
        for lower, upper in itertools.pairwise([_Label(0.0, 0.0, "", ""), *placed]):
            upper.shown = max(upper.at, lower.shown + (lower.tall + upper.tall) / 2)
        for upper, lower in itertools.pairwise([_Label(1.0, 0.0, "", ""), *placed[::-1]]):
            lower.shown = min(lower.shown, upper.shown - (lower.tall + upper.tall) / 2)
        for item in placed:
            axes.annotate(
                item.text, xy=(1.0, item.at), xytext=(1.035, item.shown),
                xycoords="axes fraction", textcoords="axes fraction", va="center", ha="left",
                fontsize=8, color=item.color,
                arrowprops={"arrowstyle": "-", "lw": 0.6, "color": item.color, "shrinkA": 1,
                            "shrinkB": 0}, annotation_clip=False)


def _halves(result: ChillResult) -> tuple[np.ndarray, np.ndarray]:
    at = int(np.searchsorted(result.time, result.exposed_at - 1e-9))
    # The moment of uncovering is in the series twice: once as the end, once as the beginning.
    return np.arange(0, at + 1), np.arange(min(at + 1, len(result.time) - 1), len(result.time))


def chill_figure(result: ChillResult, system: str = "metric") -> Figure:
    """Temperatures, stiffness ratio, lowest margin and cracking ratio over time.

    Left the chilling, right the way back, each on its own time scale. The usable window is
    shaded and says what opens and ends it; limits are dashed and named at the right.

    Args:
        result: of `gridshell.thermal.chill.chill`.
        system: "metric" or "inch", for the temperatures.

    Returns:
        a matplotlib figure, 9 inches wide.
    """
    from matplotlib.figure import Figure

    count = 3 if result.margin is None else 4
    heights = [1.5] + [1.0] * (count - 1)
    upright = any(_upright(phase, result) for phase in result.phases)
    head, tall = (1.35 if upright else 0.95), 1.75 * count
    whole = head + tall + 0.6
    figure = Figure(figsize=(9, whole), dpi=150)
    grid = figure.subplots(count, 2, sharex="col", sharey="row",
                           gridspec_kw={"height_ratios": heights, "wspace": 0.06,
                                        "hspace": 0.13})
    figure.subplots_adjust(left=0.085, right=0.79, top=1 - head / whole, bottom=0.6 / whole)
    rows = [_Row(left, right, whole) for left, right in grid]
    _temperature(rows[0], result, system)
    _stiffness(rows[1], result)
    if result.margin is not None:
        _margin(rows[2], result)
    _cracking(rows[-1], result)
    _time_axes(rows, result)
    for row in rows:
        row.finish()
    _window(rows, result)
    figure.text(0.085, 1 - 0.22 / whole, result.title, fontsize=10, ha="left", va="center")
    figure.text(0.085, 1 - 0.47 / whole, _headline(result), fontsize=9, ha="left", va="center")
    return figure


def _headline(result: ChillResult) -> str:
    window = result.window
    if window is None:
        cracked = result.cracks_at
        early = cracked is not None and cracked < result.exposed_at
        return "No usable window: kept out by " + ", ".join(result.without) + (
            f" (cracks {duration(cracked)} after the start)" if early and cracked else "")
    return (f"Usable for {duration(window.length)}, from "
            f"{duration(window.start - result.exposed_at)} ({window.opened_by}) to "
            f"{duration(window.end - result.exposed_at)} ({window.ended_by}) after uncovering")


def _upright(phase: Phase, result: ChillResult) -> bool:
    """Whether a step is too short for its name."""
    inside = phase.start >= result.exposed_at - 1e-9
    whole = result.time[-1] - result.exposed_at if inside else result.exposed_at
    return bool(len(phase.name) * 0.021 > (phase.end - phase.start) / whole)


def _temperature(row: _Row, result: ChillResult, system: str) -> None:
    for part, series in result.temperature.items():
        color, style = _LINES[part]
        row.line(result, degrees(series, system), color, style, part)
    for phase in result.phases:
        inside = phase.start >= result.exposed_at - 1e-9
        axes = row.right if inside else row.left
        start = phase.start - (result.exposed_at if inside else 0.0)
        ends = np.array([start, start + phase.end - phase.start]) / 60
        axes.plot(ends, [degrees(phase.surroundings, system)] * 2, color="0.6", lw=1.0)
        if inside:
            row.labels.append((degrees(phase.surroundings, system), "air", "0.45"))
    for limit in result.limits:
        if limit.unit == "K":
            row.limit(degrees(limit.value, system), f"{limit.name}\n{limit_value(limit, system)}")
    row.left.set_ylabel(f"temperature, {'degF' if system == 'inch' else 'degC'}", fontsize=9)


def _stiffness(row: _Row, result: ChillResult) -> None:
    row.line(result, result.stiffness_ratio, INK, "-", "stiffness ratio")
    for limit in result.limits:
        if limit.name == "stiffness ratio":
            row.limit(limit.value, f"least ratio {limit.value:g}")
    row.left.set_yscale("log")
    row.left.set_ylabel("stiffness ratio", fontsize=9)
    _plain_log(row.left)


def _margin(row: _Row, result: ChillResult) -> None:
    assert result.margin is not None
    row.line(result, 1 + result.margin, INK, "-", "1 + lowest margin")
    for limit in result.limits:
        if limit.name == "lowest margin":
            row.limit(1 + limit.value, f"least margin {limit_value(limit)}")
    row.left.set_yscale("log")
    row.left.set_ylabel("1 + margin", fontsize=9)
    _plain_log(row.left)


def _cracking(row: _Row, result: ChillResult) -> None:
    shown = [crack for crack in result.cracks if np.isfinite(crack.peak)]
    for crack, (color, style) in zip(shown, _PLACES, strict=False):
        # All end near zero, so a label at the end of each line would say nothing.
        row.line(result, crack.ratio, color, style, "")
        row.right.plot([], [], color=color, ls=style, lw=1.6, label=crack.place)
    row.limit(1.0, "cracks at 1")
    top = 1.12 * max([1.0, *(crack.peak for crack in shown)])
    row.left.set_ylim(0, top)
    if shown:
        # Just under the limit, where no line should be for long.
        row.right.legend(loc="upper right", bbox_to_anchor=(1.0, 1.0 / top - 0.02), fontsize=8,
                         frameon=False, handlelength=3.2, borderaxespad=0.0)
    row.left.set_ylabel("cracking ratio", fontsize=9)


def _plain_log(axes: Axes) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    low, high = axes.get_ylim()
    decades = np.log10(high / low)
    marks = (1, 1.2, 1.5, 2, 3, 5, 7) if decades < 0.8 else (1, 2, 5) if decades < 2.2 else (1, 3)
    axes.yaxis.set_major_locator(LogLocator(subs=marks, numticks=12))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.yaxis.set_minor_formatter(NullFormatter())


def _time_axes(rows: list[_Row], result: ChillResult) -> None:
    from matplotlib.ticker import MaxNLocator

    for row in rows:
        for axes in (row.left, row.right):
            axes.grid(axis="y", color="0.88", lw=0.6)
            axes.set_axisbelow(True)
            axes.tick_params(labelsize=8)
            for name in ("top", "right"):
                axes.spines[name].set_visible(False)
        row.right.spines["left"].set_visible(False)
        row.right.tick_params(axis="y", which="both", length=0, labelleft=False)
        for phase in result.phases:
            if 0 < phase.start < result.exposed_at - 1e-9:
                row.left.axvline(phase.start / 60, color="0.6", lw=0.8)
    shown = _settled(result)
    rows[-1].left.set_xlim(0, shown / 60)
    if shown < result.exposed_at:
        rows[0].left.annotate(
            f"no change until {duration(result.exposed_at)}", (1.0, 0.03), xytext=(-4, 0),
            xycoords="axes fraction", textcoords="offset points", ha="right", va="bottom",
            fontsize=8.5, color="0.35",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0})
    rows[-1].right.set_xlim(0, (result.time[-1] - result.exposed_at) / 60)
    for axes in (rows[-1].left, rows[-1].right):
        axes.xaxis.set_major_locator(MaxNLocator(nbins=6, integer=axes.get_xlim()[1] > 4,
                                                 steps=[1, 2, 3, 5, 6, 10]))
    # The end of the left scale would run into the start of the right one.
    last = [tick for tick in rows[-1].left.get_xticks() if tick < 0.96 * shown / 60]
    rows[-1].left.set_xticks(last)
    rows[-1].left.set_xlabel("min since the start", fontsize=9)
    rows[-1].right.set_xlabel("min since uncovering", fontsize=9)
    top = rows[0]
    for phase in result.phases:
        inside = phase.start >= result.exposed_at - 1e-9
        axes = top.right if inside else top.left
        if inside:
            middle, text = 0.5 * (phase.end - phase.start) / 60, "uncovered"
        else:
            middle, text = 0.5 * (phase.start + min(phase.end, shown)) / 60, phase.name
        axes.annotate(text, xy=(middle, 1.0), xycoords=("data", "axes fraction"),
                      xytext=(0, 4), textcoords="offset points", ha="center", va="bottom",
                      fontsize=8.5, rotation=90 if _upright(phase, result) else 0)


def _settled(result: ChillResult) -> float:
    """Where the picture of the chilling may end: soon after nothing changes any more, s."""
    before = result.time <= result.exposed_at + 1e-9
    last = max((phase.start for phase in result.phases
                if phase.start < result.exposed_at - 1e-9), default=0.0)
    for series in result.temperature.values():
        kelvin = series[before]
        off = np.abs(kelvin - kelvin[-1]) > 0.02 * max(float(np.ptp(kelvin)), 1e-9)
        if off.any():
            last = max(last, float(result.time[before][np.flatnonzero(off)[-1]]))
    end = 1.3 * last
    return float(end if end < 0.75 * result.exposed_at else result.exposed_at)


def _window(rows: list[_Row], result: ChillResult) -> None:
    window = result.window
    if window is None:
        return
    start, end = ((t - result.exposed_at) / 60 for t in (window.start, window.end))
    for row in rows:
        row.right.axvspan(start, end, color=_SHADE, lw=0, zorder=0)
        for at in (start, end):
            row.right.axvline(at, color=_LIMIT, lw=0.7)
    axes = rows[0].right
    wide = axes.get_xlim()[1]
    if (end - start) > 0.16 * wide:
        axes.text((start + end) / 2, _free_height(axes, (start + end) / 2), "usable",
                  transform=axes.get_xaxis_transform(), ha="center", va="center", fontsize=9,
                  weight="bold", bbox={"color": _SHADE, "pad": 1.5})


def _free_height(axes: Axes, middle: float) -> float:
    """Height, as a share of the panel, at which a word in the window meets the fewest lines."""
    low, high = axes.get_ylim()
    half = 0.08 * axes.get_xlim()[1]
    crossed = []
    for line in axes.get_lines():
        x, y = (np.asarray(v, dtype=float) for v in line.get_data())
        if x.size < 2 or x.max() - x.min() <= 0:
            continue
        # A line across the whole panel gives its ends as shares of the panel.
        across = x.size == 2 and x.min() == 0 and x.max() == 1
        at = np.interp(np.linspace(middle - half, middle + half, 9), x, y) if not across else y
        crossed += list((at - low) / (high - low))
    heights = np.linspace(0.07, 0.93, 30)
    away = np.abs(heights[:, None] - np.array(crossed)[None, :]).min(axis=1)
    return float(heights[int(np.argmax(away))])


def save_chill_figure(
    result: ChillResult, path: str | Path, system: str = "metric"
) -> None:
    """Save the picture of a chilling; see `gridshell.report.plots.style.save`."""
    save(chill_figure(result, system), path)
