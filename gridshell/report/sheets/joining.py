"""The sheet of the joining mandrel and the end ring, which fit the finished part (no shrinkage)."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from gridshell.define.files.replacing import replacing
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.bed import mandrel_edges
from gridshell.mold.pieces.cores.mandrel import end_hole, mandrel_radius, ring_sizes
from gridshell.report.sheets.parts import (
    DEFER,
    FILL,
    MACHINE_CAUTIONS,
    dimension,
    millimeters,
    page,
    rectangle,
    rows_block,
    text_block,
    view_title,
)


def joining_figure(design: Design, mold: Mold) -> Any:
    """The sheet as a matplotlib figure, A4 across."""
    units, edges = design.units, mandrel_edges(design, mold)
    count = len(edges) - 1
    figure = page(design.title, "joining mandrel and end ring, at the size of the finished part; "
                                "dimensions in mm, sections through the axis, not to scale")
    radius = mandrel_radius(design, mold)
    ring = ring_sizes(design, mold)

    def mm(value: float) -> str:
        return millimeters(value / 1e3, units)

    _mandrel(figure.add_axes((0.04, 0.42, 0.52, 0.42)), design, mold, edges, mm)
    _ring(figure.add_axes((0.58, 0.42, 0.38, 0.42)), ring, mm)
    rows: list[tuple[str, ...]] = [
        ("mandrel diameter", mm(2 * radius)),
        ("its slip in the bore, on the radius", mm(mold.clearance * 1e3)),
        ("mandrel length", mm(edges[-1])),
        *([("in pieces of", f"{count} x {mm(edges[1])}")] if count > 1 else []),
        ("jack-out holes at its ends", " x ".join(mm(v) for v in end_hole(
            design, mold, edges[0], edges[1], True))),
        *([("dowel holes at its joints", " x ".join(mm(v) for v in end_hole(
            design, mold, edges[0], edges[1], False)))] if count > 1 else []),
    ]
    y = rows_block(figure, (0.035, 0.37), "Mandrel (1)", rows, (0.0, 0.33), step=0.0205)
    rows_block(figure, (0.035, y - 0.02), "End ring (2)", [
        ("outside diameter", mm(2 * ring.outside)), ("seat of the tube, diameter",
                                                     mm(2 * ring.seat)),
        ("bore for the mandrel, diameter", mm(2 * ring.bore)), ("length", mm(ring.length)),
        ("depth of the seat", mm(ring.length - ring.wall))],
        (0.0, 0.33), step=0.0205)
    text_block(figure, (0.42, 0.37), "How it is used", [
        "Wax or film on mandrel and rings: bond must not stick to them.",
        "Bond the segments round the mandrel, a ring over each end; the rings' shoulders stand one "
        "section apart and hold the segments concentric.",
        "Tap the end holes and jack the mandrel out with a bolt against a bar across the ring.",
        "Break all edges but the shoulders."], 92)
    text_block(figure, (0.42, 0.2), "Cautions", [*MACHINE_CAUTIONS, DEFER], 92)
    return figure


def _mandrel(axes: Any, design: Design, mold: Mold, edges: Sequence[float], mm: Any) -> None:
    radius, last = mandrel_radius(design, mold), len(edges) - 2
    for number, (start, end) in enumerate(itertools.pairwise(edges)):
        rectangle(axes, (start, -radius), (end, radius), fc=FILL, lw=0.9)
        for at, way, true in ((start, 1, number == 0), (end, -1, number == last)):
            diameter, deep = end_hole(design, mold, start, end, true)
            low, high = sorted((at, at + way * deep))
            rectangle(axes, (low, -diameter / 2), (high, diameter / 2), fc="white", lw=0.6)
    axes.plot([edges[0] - 0.05 * edges[-1], 1.05 * edges[-1]], [0, 0], color="#7a7a7a", lw=0.5,
              ls="-.")
    step = 0.16 * max(radius, 0.2 * edges[-1])
    dimension(axes, (0.0, -radius), (edges[-1], -radius), mm(edges[-1]), (0, -step))
    dimension(axes, (edges[-1], -radius), (edges[-1], radius), f"diameter {mm(2 * radius)}",
              (1.4 * step, 0))
    _done(axes, "Mandrel")


def _ring(axes: Any, ring: Any, mm: Any) -> None:
    for sign in (1, -1):
        points = [(0.0, ring.bore), (ring.wall, ring.bore), (ring.wall, ring.seat),
                  (ring.length, ring.seat), (ring.length, ring.outside), (0.0, ring.outside)]
        axes.fill([x for x, _ in points], [sign * y for _, y in points], fc=FILL, ec="#222222",
                  lw=0.9)
    step = 0.16 * ring.outside
    for number, (radius, name) in enumerate(
            ((ring.seat, "seat"), (ring.outside, "outside")), start=1):
        dimension(axes, (ring.length, -radius), (ring.length, radius),
                  f"{name} dia {mm(2 * radius)}", (number * 1.3 * step, 0))
    dimension(axes, (0.0, -ring.bore), (0.0, ring.bore), f"bore dia {mm(2 * ring.bore)}",
              (-1.3 * step, 0))
    dimension(axes, (0.0, -ring.outside), (ring.length, -ring.outside), "", (0, -step))
    axes.text(ring.length / 2, -ring.outside - 1.5 * step, mm(ring.length), fontsize=7,
              ha="center")
    dimension(axes, (0.0, ring.outside), (ring.wall, ring.outside), "", (0, step))
    axes.text(ring.wall / 2, ring.outside + 1.35 * step, mm(ring.wall), fontsize=7, ha="center")
    _done(axes, "End ring")


def _done(axes: Any, title: str) -> None:
    view_title(axes, title)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.margins(0.06)


def write_joining_sheet(paths: Sequence[Path], design: Design, mold: Mold) -> None:
    """Write the sheet to each path, by its ending (.pdf, .png), whole or not at all.

    Args:
        paths: of the pages.
        design: one design (no arrays).
        mold: the `[mold]` table.

    Raises:
        InputError: a file can't be written.
    """
    figure = joining_figure(design, mold)
    for path in paths:
        with replacing(path) as scratch:
            figure.savefig(scratch)
