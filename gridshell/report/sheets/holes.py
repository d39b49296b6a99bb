"""The sheet of holes of a half: where each hole, slot, groove and key is, from a stated zero."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from gridshell.define.files.replacing import replacing
from gridshell.mold.pieces.cores.inserts import insert_growth
from gridshell.mold.pieces.features.hole_table import (
    ZERO,
    Feature,
    Half,
    halves_of,
    hole_table,
    length,
)
from gridshell.mold.pieces.layout import cavity_profile, core_profile
from gridshell.mold.pieces.mold_set import MoldSet
from gridshell.report.sheets.parts import (
    ACCENT,
    FILL,
    INK,
    page,
    profile_points,
    rectangle,
    rows_block,
    text_block,
    view_title,
)

COLUMNS = (0.0, 0.11, 0.155, 0.2, 0.3, 0.345, 0.37, 0.45)  # offsets on the page
HEADS = ("feature", "x", "y", "z", "size", "depth", "along", "fit")
IN_A_BLOCK = 27  # rows, then a second block


def hole_figure(molds: MoldSet, name: str) -> Any:
    """The sheet of one piece of a half as a matplotlib figure, A4 across.

    Args:
        molds: every piece of a design.
        name: core or cavity, with its number where the half is split.
    """
    design = molds.design
    inch = design.units == "inch"
    half = next(half for half in halves_of(molds) if half.name == name)
    rows = [row for row in hole_table(molds) if row.piece == name]
    scale = f"{molds.factor:.5f} times the part" if half.plan == molds.plan else (
        f"{insert_growth(molds.mold):.5f} times the insert")
    figure = page(design.title, f"holes of {name}, {scale}; all in "
                                f"{'inches' if inch else 'mm'}, views not to scale")
    _map(figure.add_axes((0.04, 0.63, 0.56, 0.235)), half, rows)
    _end(figure.add_axes((0.62, 0.63, 0.34, 0.235)), half, rows)
    size = max(4.0, min(6.5, 6.5 * 2 * IN_A_BLOCK / max(len(rows), 1)))
    per = max(IN_A_BLOCK, math.ceil(len(rows) / 2))
    step = 0.52 / (per + 3)
    lines = [(f"{number}  {row.feature}", length(row.x, inch), length(row.y, inch),
              length(row.z, inch), _size(row, inch), length(row.depth, inch) if row.depth else "",
              row.along, row.fit) for number, row in enumerate(rows, start=1)]
    end = 0.6
    for block in range(0, len(lines), per):
        end = rows_block(figure, (0.035 + (0.475 if block else 0.0), 0.60),
                   "Holes, by their number in the views" if not block else "continued",
                   [HEADS, *lines[block:block + per]], COLUMNS, size=size,
                   step=min(step, 0.018))
    words = [f"{ZERO[0].upper()}{ZERO[1:]}.", *_fits(half, inch)]
    if len(lines) <= per:
        text_block(figure, (0.66, 0.60), "Zero and fits", words, 66)
    elif end > 0.25:
        text_block(figure, (0.51, end - 0.02), "Zero and fits", words, 92)
    return figure


def _size(row: Feature, inch: bool) -> str:
    if row.diameter is not None:
        return f"dia {length(row.diameter, inch)}"
    return " x ".join(length(value, inch) for value in (row.length, row.width, row.height)
                      if value is not None)


def _fits(half: Half, inch: bool) -> list[str]:
    """Radii that meet and the clearances between them."""
    plan, mold = half.plan, half.mold
    dowel, slip = mold.dowel_diameter * 1e3, mold.clearance * 1e3

    def mm(value: float) -> str:
        return length(value, inch)

    return [
        f"Core in the cavity's end walls: core R {mm(plan.inner)}, seat R "
        f"{mm(plan.inner + plan.clearance)}, clearance {mm(plan.clearance)} on the radius.",
        f"Dowels {mm(dowel)}: hole {mm(dowel)} in the core, press fit; {mm(dowel + 2 * slip)} in "
        "the cavity, slip fit. A printed press hole is reamed to the pin.",
        f"Screw holes {mm(mold.screw_diameter * 1e3)} are clearance holes through both halves.",
        f"Jack holes {mm(mold.jack_diameter * 1e3)} are tapped in the cavity's flanges only; their "
        "screws bear on the core's (printed: on a washer, with a nut let in).",
    ]


def _map(axes: Any, half: Half, rows: Sequence[Feature]) -> None:
    """The parting face seen along the pull, every feature on it numbered."""
    plan, span = half.plan, half.span
    rectangle(axes, (span.start, -plan.half_width), (span.end, plan.half_width), fc=FILL, lw=0.8)
    rectangle(axes, (max(0.0, span.start), -plan.edge), (min(plan.length, span.end), plan.edge),
              fc="white", lw=0.6)
    for number, row in enumerate(rows, start=1):
        if row.along in ("z", "-z") or row.feature == "split plane":
            _mark(axes, row.x, row.y, number, row, ("length", "width"))
    if span.start <= 0.0:
        axes.plot([0.0], [0.0], marker="+", ms=12, mew=0.9, color=ACCENT)
        axes.annotate("zero", (0.0, 0.0), (6, 4), textcoords="offset points", fontsize=7,
                      color=ACCENT)
    through = "" if half.core else ", through the cavity"
    _finish(axes, f"Parting face seen from above{through}: x to the right, y up")


def _end(axes: Any, half: Half, rows: Sequence[Feature]) -> None:
    """The section through an end wall, seen along x: gates, vents, keys and pins."""
    plan = half.plan
    outline = profile_points(core_profile(plan) if half.core else cavity_profile(plan))
    axes.fill(outline[:, 0], outline[:, 1] - plan.parting, fc=FILL, ec=INK, lw=0.8)
    for number, row in enumerate(rows, start=1):
        if row.along in ("x", "-x") and row.feature != "split plane":
            _mark(axes, row.y, row.z, number, row, ("width", "height"))
    axes.plot([0.0], [0.0], marker="+", ms=12, mew=0.9, color=ACCENT)
    _finish(axes, "Ends seen from high x: y to the right, z up")


def _mark(
    axes: Any, across: float, up: float, number: int, row: Feature, sides: tuple[str, str]
) -> None:
    from matplotlib.patches import Circle

    wide, high = (getattr(row, side) for side in sides)
    if row.diameter is not None:
        axes.add_patch(Circle((across, up), row.diameter / 2, ec=INK, lw=0.6, fc="white"))
    elif wide is not None and high is not None:
        rectangle(axes, (across - wide / 2, up - high / 2), (across + wide / 2, up + high / 2),
                  fc="white", lw=0.5)
    elif row.feature == "split plane":
        axes.axvline(across, color="#D55E00", lw=0.8, ls="-.")
    axes.annotate(str(number), (across, up), (4, 3), textcoords="offset points", fontsize=5.5,
                  color=ACCENT)


def _finish(axes: Any, title: str) -> None:
    view_title(axes, title)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.margins(0.03)
    axes.autoscale_view()


def write_hole_sheet(paths: Sequence[Path], molds: MoldSet, name: str) -> None:
    """Write the sheet to each path, by its ending (.pdf, .png), whole or not at all.

    Args:
        paths: of the pages.
        molds: every piece of a design.
        name: of the piece, as `hole_table` has it.

    Raises:
        InputError: a file can't be written.
    """
    figure = hole_figure(molds, name)
    for path in paths:
        with replacing(path) as scratch:
            figure.savefig(scratch)
