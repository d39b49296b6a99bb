"""Pictures of a mold's checks: undercut round the tube, and cooling in each mold material."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.mold.checks.heat.cooling import stands, wait
from gridshell.mold.checks.release.flanks import lock_angle, out_of_mold
from gridshell.mold.checks.result import OK
from gridshell.mold.checks.run import MoldChecks
from gridshell.report.plots import style
from gridshell.wall.geometry.lattice import lattice


def plot_undercut(checks: MoldChecks, path: str | Path) -> None:
    """Where ribs lock on a straight pull: seen along the tube, and over the angle.

    Args:
        checks: of the mold.
        path: of the picture.

    Raises:
        InputError: the path can't be written or is no picture.
    """
    with style.figure(9.5, 4.6, 1, 2, gridspec_kw={"width_ratios": [1.0, 1.15]}) as (drawn, axes):
        _round(axes[0], checks)
        _over_angle(axes[1], checks)
        style.save(drawn, path)


def _round(axes: Any, checks: MoldChecks) -> None:
    found, design = checks.pouring.undercut, checks.design
    flanks = found.flanks
    way = out_of_mold(design)  # ribs inside point inwards and leave the core upwards
    radius = float(design.skin_radius)
    half = math.pi / design.tube.segments
    angles = np.linspace(-half, half, 200)
    axes.plot(radius * np.sin(angles) * 1e3, radius * np.cos(angles) * 1e3, color=style.INK, lw=2.0)
    sides = ~flanks.corner & (np.linalg.norm(flanks.normal[:, 0, 1:], axis=1) > 0.2)
    for locked, color, width, words in (
        (False, style.BLUE, 0.7, "slides"), (True, style.RED, 1.2, "locks"),
    ):
        shown = sides & (found.locked == locked)
        start = np.stack([np.sin(flanks.angle), np.cos(flanks.angle)])[:, shown] * radius
        end = start + flanks.ruling[shown, 1:].T
        line = np.stack([start, end, np.full_like(start, np.nan)], axis=-1).reshape(2, -1) * 1e3
        axes.plot(line[0], line[1], color=color, lw=width, label=f"rib flank that {words}",
                  ls="-" if locked else (0, (4, 1.5)))
    if found.start is not None:
        for sign in (-1, 1):
            reach = np.array([0.62, 1.06]) * radius * 1e3
            axes.plot(reach * math.sin(sign * found.start), reach * math.cos(found.start),
                      color=style.GREY, lw=0.9, ls=":")
        axes.annotate(
            f"locks from {math.degrees(found.start):.1f} deg",
            (radius * 0.62e3 * math.sin(found.start), radius * 0.62e3 * math.cos(found.start)),
            (0, radius * 0.42e3), ha="center", fontsize=8.5, color=style.INK,
            arrowprops={"arrowstyle": "-", "lw": 0.6, "color": style.GREY})
    top = radius * 1e3
    axes.annotate("", (0, top * 1.28), (0, top * 1.08),
                  arrowprops={"arrowstyle": "-|>", "lw": 1.4, "color": style.GREEN})
    axes.text(top * 0.05, top * 1.18, "part leaves this way" if way > 0 else
              "mold leaves this way", fontsize=8.5, color=style.GREEN, va="center")
    axes.set_ylim(min(0.0, top * math.cos(half)) - 0.22 * top, top * 1.32)
    axes.set_xlim(-1.12 * top, 1.12 * top)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.legend(loc="lower center", frameon=False, fontsize=8.5, ncols=2)
    axes.set_title("Rib flanks seen along the tube")


def _over_angle(axes: Any, checks: MoldChecks) -> None:
    found, design = checks.pouring.undercut, checks.design
    flanks = found.flanks
    angle = np.degrees(flanks.angle)
    sides = ~flanks.corner
    for locked, color, marker, words in (
        (False, style.BLUE, "o", "slides"), (True, style.RED, "x", "locks"),
    ):
        shown = sides & (found.locked == locked)
        axes.plot(angle[shown], np.degrees(np.arcsin(np.clip(found.lean[shown], -1, 1))), marker,
                  ms=2.6, mew=0.7, color=color, label=words, ls="none",
                  mfc="none" if marker == "o" else color)
    axes.axhline(0.0, color=style.INK, lw=0.8)
    half = 180 / design.tube.segments
    seen: set[float] = set()
    for line in _cosines(checks):
        edge = round(float(np.degrees(lock_angle(design.ribs.draft, line))), 2)
        if edge < half and edge not in seen:
            seen.add(edge)
            for sign in (-1, 1):
                axes.axvline(sign * edge, color=style.GREY, lw=0.9, ls=":")
    axes.axvspan(-half, -half * 0.985, color=style.PALE)
    axes.axvspan(half * 0.985, half, color=style.PALE)
    axes.set_xlim(-half, half)
    axes.set_xlabel("angle from the crown, deg")
    axes.set_ylabel("lean of the flank against the pull, deg")
    axes.set_title("Above 0 a flank locks", fontsize=9.5)
    if seen:
        axes.text(0.5, 0.02, "dotted: tan(phi) = tan(draft)/cos(rib angle)", fontsize=8,
                  ha="center", transform=axes.transAxes,
                  bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none"})
    axes.legend(loc="upper center", framealpha=1.0, edgecolor="white", fontsize=8.5, ncols=2,
                markerscale=2)
    low, high = axes.get_ylim()
    axes.set_ylim(low - 0.08 * (high - low), high + 0.16 * (high - low))


def _cosines(checks: MoldChecks) -> list[float]:
    """Cosines of the rib families' angles from the axis."""
    return [float(line.cosine) for line in lattice(checks.design).families]


def plot_cooling(checks: MoldChecks, path: str | Path) -> None:
    """Middle of the thickest place over time in each mold material, and the waiting times.

    Args:
        checks: of the mold.
        path: of the picture.

    Raises:
        InputError: nothing cools here, or the path can't be written or is no picture.
    """
    plan = checks.pouring.cooling
    if plan is None:
        raise InputError("no cooling to draw: the material is poured at the mold's temperature")
    slowest = int(np.argmax(plan.thickness))
    followed = plan.followed
    colors = (style.INK, style.BLUE, style.RED, style.GREEN, style.ORANGE, style.GREY,
              style.PURPLE, style.SKY)
    styles = ("-", (0, (6, 2)), (0, (1, 1.3)), (0, (4, 1, 1, 1)))
    with style.figure(9.5, 4.6, 1, 2, gridspec_kw={"width_ratios": [1.25, 1.0]}) as (drawn, axes):
        left, right = axes
        # Time 0 has no place on a log axis.
        time = followed.time[1:]
        for number, material in enumerate(plan.molds):
            left.plot(time, followed.middle[1:, number, slowest] - 273.15,
                      color=colors[number % len(colors)], ls=styles[number % len(styles)], lw=1.5,
                      label=material.name)
        left.axhline(plan.release - 273.15, color=style.GREY, lw=0.9, ls=(0, (8, 3)))
        left.annotate(f"take out below {plan.release - 273.15:.0f} degC",
                      (0.02, plan.release - 273.15), xycoords=("axes fraction", "data"),
                      xytext=(0, 3), textcoords="offset points", fontsize=8.5, color=style.INK)
        left.set_xscale("log")
        start = max(float(time[0]), float(plan.simple[0, slowest]) / 100)
        left.set_xlim(start, float(time[-1]))
        left.set_xlabel("time after pouring, s")
        left.set_ylabel("temperature, degC")
        left.set_title(f"Middle of the {plan.places[slowest]}, "
                       f"{plan.thickness[slowest] * 1e3:.1f} mm")
        left.legend(frameon=False, fontsize=8, loc="upper right", handlelength=3.4)
        _waiting(right, checks)
        style.save(drawn, path)


def _waiting(axes: Any, checks: MoldChecks) -> None:
    plan = checks.pouring.cooling
    assert plan is not None
    shades = (style.BLUE, style.ORANGE, style.INK)
    hatches = ("", "///", "")
    count = len(plan.places)
    tall = 0.8 / count
    longest = float(np.nanmax(plan.followed.released))
    for place, name in enumerate(plan.places):
        times = plan.followed.released[:, place]
        at = np.arange(len(plan.molds)) + (place - (count - 1) / 2) * tall
        axes.barh(at, np.nan_to_num(times, nan=longest), height=tall * 0.9,
                  color=shades[place % 3], hatch=hatches[place % 3], ec="white", lw=0.0,
                  label=f"{name} {plan.thickness[place] * 1e3:.1f} mm")
        for y, value in zip(at, times, strict=True):
            words = "too long" if np.isnan(value) else wait(float(value))
            axes.text((longest if np.isnan(value) else value) * 1.12, y, words, va="center",
                      fontsize=7.5)
    names = []
    for material, contact in zip(plan.molds, plan.contact, strict=True):
        verdict = stands(material, float(contact))
        names.append(material.name + ("" if verdict == OK else f"\n({_word(verdict)})"))
    axes.set_yticks(np.arange(len(names)), names, fontsize=8)
    axes.invert_yaxis()
    axes.set_xscale("log")
    axes.set_xlim(0.5 * float(np.nanmin(plan.followed.released)), longest * 6)
    axes.set_xlabel("time until it may be taken out, s")
    axes.set_title("Waiting time by mold material")
    axes.legend(frameon=False, fontsize=8, loc="upper center", bbox_to_anchor=(0.5, -0.16),
                ncols=3, handlelength=1.6)


def _word(verdict: str) -> str:
    return {"fails": "its face softens", "caution": "near its softening"}.get(
        verdict, "softening not known")
