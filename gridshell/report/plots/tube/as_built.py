"""Pictures of a scanned tube: unrolled map, spectrum, the tube exaggerated; factor over roundness.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.report.numbers import axis
from gridshell.report.plots import style
from gridshell.tube.as_built.own import AsBuiltTube
from gridshell.tube.as_built.tolerance import Expected

_SHOWN = 0.12  # greatest deviation of the exaggerated tube over its radius


def plot_as_built(tube: AsBuiltTube, path: str | Path, system: str = "metric") -> None:
    """The unrolled map with the readings, the spectrum, and the tube exaggerated.

    Args:
        tube: one.
        path: png, pdf or svg.
        system: metric or inch.
    """
    style.check_picture_path(path)
    scale, unit = axis("length", system)
    shape = tube.shape
    x = np.linspace(0, shape.length, 121)
    t = np.linspace(0, 2 * np.pi, 181)
    field = shape.at(x[:, None], t[None, :])
    with style.figure(12.5, 8.2, 2, 2, gridspec_kw={"width_ratios": (1.35, 1)}) as (drawn, axes):
        factor = tube.factor
        style.headline(
            drawn, f"{tube.design.title}: own factor {factor.low:.2f} to {factor.high:.2f}, "
            f"published {float(tube.published['compression'].factor):.2f}")
        most = max(float(np.abs(field).max()), 1e-12) * scale
        drawn_map = axes[0, 0].pcolormesh(
            np.degrees(t), x * scale, field * scale, cmap="RdBu_r", vmin=-most, vmax=most,
            shading="gouraud", rasterized=True)
        axes[0, 0].plot(np.degrees(tube.scan.angle), tube.scan.station * scale, ".",
                        color=style.INK, markersize=2.5)
        for one in shape.outliers:
            axes[0, 0].plot(np.degrees(one.angle), one.station * scale, "o", mfc="none",
                            mec=style.RED, markersize=10, mew=1.6)
        axes[0, 0].set(xlabel="angle [deg]", ylabel=f"along [{unit}]", xlim=(0, 360),
                       xticks=range(0, 361, 60))
        axes[0, 0].set_title("Unrolled: fitted waves, readings as dots"
                             + (", outliers circled" if shape.outliers else ""))
        drawn.colorbar(drawn_map, ax=axes[0, 0], label=f"outward [{unit}]", pad=0.02)
        _stations(tube, axes[1, 0], scale, unit)
        _spectrum(tube, axes[0, 1], scale, unit)
        axes[1, 1].remove()
        _solid(drawn, axes[1, 1], tube, field, x, t)
        style.save(drawn, path)


def _stations(tube: AsBuiltTube, axes: Any, scale: float, unit: str) -> None:
    """Deviation round at each station, one under the other."""
    scan, shape = tube.scan, tube.shape
    fine = np.linspace(0, 2 * np.pi, 241)
    n = np.arange(shape.most_round + 1)
    waves = np.exp(1j * np.outer(fine, n))
    rows = []
    for around in shape.around:
        own = around.copy()
        own[0] -= shape.even
        own[1] = 0
        rows.append((waves @ own).real)
    step = 2.4 * max(float(np.abs(rows).max()), 1e-12)
    for k, (place, row) in enumerate(zip(shape.stations, rows, strict=True)):
        here = scan.station == place
        around = shape.around[k]
        even = around[0].real + (around[1] * np.exp(1j * scan.angle[here])).real
        rest = scan.deviation[here] - even + (around[0].real - shape.even)
        axes.plot(np.degrees(fine), (row + k * step) * scale, color=style.BLUE, lw=1.3)
        axes.plot(np.degrees(scan.angle[here]), (rest + k * step) * scale, ".", color=style.INK,
                  markersize=4)
        axes.axhline(k * step * scale, color=style.GREY, lw=0.5)
    axes.set(xlabel="angle [deg]", xlim=(0, 360), xticks=range(0, 361, 60))
    axes.set_yticks([k * step * scale for k in range(len(rows))],
                    [f"{place * scale:.4g}" for place in shape.stations])
    axes.set_ylabel(f"station [{unit}]")
    axes.set_title(f"Station by station, without shift; lines {step * scale:.2g} {unit} apart")


def _spectrum(tube: AsBuiltTube, axes: Any, scale: float, unit: str) -> None:
    """Amplitude of each number of waves round, by half waves along together."""
    shape, law = tube.shape, tube.factor.law
    total = np.sqrt(np.sum(shape.amplitude**2, axis=1)) * scale
    noise = np.sqrt(np.sum(shape.error**2, axis=1)) * scale
    n = np.arange(len(total))
    kept = n != 1
    axes.bar(n[kept], total[kept], color=style.BLUE, width=0.7, label="measured")
    axes.plot(n[kept], 2 * noise[kept], "_", color=style.INK, markersize=10, mew=1.6,
              label="twice its uncertainty")
    m = np.arange(1.0, shape.most_along + 1)
    top = np.arange(2, len(total) + 8)
    assumed = [np.sqrt(np.sum(law.at(m, np.array(float(k))) ** 2)) * scale for k in top]
    axes.plot(top, assumed, color=style.RED, ls="--", lw=1.3,
              label="spectrum for waves not measured")
    axes.set_yscale("log")
    low = max(float(noise[kept].min()) * 0.5, 1e-9)
    axes.set_ylim(low, 2 * max(float(total[kept].max()), 4 * low))
    style.plain_ticks(axes.yaxis, np.array(axes.get_ylim()))
    axes.set_xticks(range(0, len(total) + 8, 2))
    axes.set(xlabel="waves round (0: rings)", ylabel=f"amplitude [{unit}]")
    axes.set_title("Spectrum")
    axes.legend(frameon=False, fontsize=8.5)


def _solid(drawn: Any, place: Any, tube: AsBuiltTube, field: Any, x: Any, t: Any) -> None:
    axes = drawn.add_subplot(place.get_subplotspec(), projection="3d")
    radius = float(tube.design.skin_radius)
    most = max(float(np.abs(field).max()), 1e-12)
    grown = _SHOWN * radius / most
    out = radius + field * grown
    import matplotlib as mpl

    colors = mpl.colormaps["RdBu_r"](0.5 + field / most / 2)
    axes.plot_surface(
        np.broadcast_to(x[:, None], field.shape), out * np.cos(t), out * np.sin(t),
        facecolors=colors, rcount=90, ccount=120, linewidth=0, antialiased=False, shade=True)
    axes.set_box_aspect((min(tube.shape.length / (2 * radius), 3.0), 1, 1), zoom=1.1)
    axes.set_axis_off()
    axes.set_title(f"Deviations {grown:,.0f} times as large")


def plot_tolerance(title: str, found: Expected, path: str | Path, system: str = "metric") -> None:
    """Factor over roundness with the published factor.

    Args:
        title: of the design.
        found: answer.
        path: png, pdf or svg.
        system: metric or inch.
    """
    style.check_picture_path(path)
    scale, unit = axis("length", system)
    with style.figure(7.6, 4.8) as (drawn, axes):
        style.headline(drawn, title)
        a, f = found.curve.amplitude * scale, found.curve.factor * found.thin
        axes.plot(a, f, "o-", color=style.BLUE, lw=1.6, label="tube at its tolerance, worst shape")
        axes.axhline(found.published, color=style.GREY, ls="--", lw=1.2, label="published factor")
        if found.needed is not None:
            axes.plot(found.needed * scale, found.published, "s", color=style.RED, markersize=8,
                      label=f"as round as this: {found.needed * scale:.3g} {unit}")
        if found.roundness is not None:
            axes.axvline(found.roundness * scale, color=style.INK, lw=1.0, ls=":",
                         label="as_built.roundness")
        for name, (deviation, factor) in found.classes.items():
            axes.plot(deviation * scale, factor, "D", color=style.ORANGE, markersize=7,
                      label="classes of EN 1993-1-6" if name == "A" else None)
            axes.annotate(name, (deviation * scale, factor), xytext=(7, 0), va="center",
                          textcoords="offset points", fontsize=9)
        axes.set_xscale("log")
        style.plain_ticks(axes.xaxis, a)
        axes.set(xlabel=f"greatest distance from the true place [{unit}]",
                 ylabel="knockdown factor in compression", ylim=(0, 1.05))
        axes.legend(frameon=False, fontsize=9, loc="lower left")
        style.save(drawn, path)
