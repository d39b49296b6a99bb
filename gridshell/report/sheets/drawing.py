"""A drawing sheet for each mold half and for the casting: main dimensions, groove, cautions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.files.replacing import replacing
from gridshell.mold.pieces.cores.round_mold import LOWER, UPPER
from gridshell.mold.pieces.features.fittings import flange_holes
from gridshell.mold.pieces.features.pouring import gate_diameter, vent_diameter
from gridshell.mold.pieces.layout import end_dish
from gridshell.mold.pieces.splitting import spans
from gridshell.report.sheets.details import flange_detail, groove_detail
from gridshell.report.sheets.parts import (
    ACCENT,
    DEFER,
    FILL,
    INK,
    MACHINE_CAUTIONS,
    dimension,
    millimeters,
    page,
    rectangle,
    rows_block,
    text_block,
    view_title,
)
from gridshell.report.sheets.section import draw_section
from gridshell.report.sheets.subject import Subject, round_faces


def sheet_figure(subject: Subject) -> Any:
    """The sheet of one side as a matplotlib figure, A4 across."""
    design, mold, side, scale = subject.design, subject.mold, subject.side, subject.scale
    what = {"part": subject.part, "core": "core half",
            "cavity": "both cavity halves" if subject.whole else "cavity half"}[side]
    made = "" if side == "part" else (
        f", {'printed' if mold.process == 'print' else 'milled'}, {scale:.5f} times the part "
        f"(shrinkage {subject.shrinkage:.2%})")
    figure = page(
        f"{design.title}",
        f"{what}{' ' + subject.name if subject.name else ''} for {design.material.name}{made}; "
        "dimensions in mm, views not to scale")
    draw_section(figure.add_axes((0.04, 0.47, 0.44, 0.395)), subject)
    _plan(figure.add_axes((0.50, 0.47, 0.465, 0.395)), subject)
    detail = figure.add_axes((0.04, 0.06, 0.32, 0.38))
    if subject.ribbed:
        groove_detail(detail, design, subject.ribs, side, scale)
    elif side != "part":
        flange_detail(detail, design, mold, subject.plan, side)
    else:
        detail.set_axis_off()
    _words(figure, subject)
    return figure


def _plan(axes: Any, subject: Subject) -> None:
    """Seen along the pull: length across, width up."""
    design, grid, plan, side = subject.design, subject.grid, subject.plan, subject.side
    units, planes, ribbed = design.units, subject.planes, subject.ribbed
    end = float(grid.end_land) * subject.scale * 1e3
    edge = plan.outer if subject.closed else plan.edge
    if side == "part":
        width, start, stop = edge, 0.0, plan.length
    else:
        width, start, stop = plan.half_width, plan.start, plan.end
    rectangle(axes, (start, -width), (stop, width), fc=FILL, lw=0.9)
    rectangle(axes, (0.0, -edge), (plan.length, edge), fc="white", lw=0.7)
    panel = float(grid.panel_width) / (2 * float(grid.radius))
    across = plan.base * math.sin(min(panel, math.pi / 2))
    if ribbed:
        rectangle(axes, (end, -across), (plan.length - end, across), fc="none", ec=ACCENT, lw=0.8,
                  ls="--")
    edges = np.array([0.0, *planes, plan.length])
    widest = int(np.argmax(np.diff(edges)))
    words = "smooth" if subject.recess is None else "recess"
    if ribbed:
        words = f"pockets\n{int(grid.cells_round)} x {int(grid.cells_along)} cells"
    low = -0.72 * across if subject.windows() else 0.0  # clear of windows on the crown
    axes.text(float(edges[widest:widest + 2].mean()), low, words, ha="center", va="center",
              fontsize=7, color=ACCENT)
    for number, outline in enumerate(subject.windows(), start=1):
        axes.fill(outline[:, 0], outline[:, 1], fc="white", ec=INK, lw=0.9)
        axes.annotate(str(number), outline.mean(axis=0), ha="center", va="center", fontsize=6.5)
    step = 0.10 * (stop - start)
    if side != "part":
        _holes(axes, subject, planes)
        for place in planes:
            axes.plot([place, place], [-width, width], color="#D55E00", lw=0.9, ls="-.")
        dimension(axes, (start, -width), (stop, -width),
                  millimeters((stop - start) / 1e3, units), (0, -1.45 * step))
    dimension(axes, (0.0, -width), (plan.length, -width),
              f"{subject.part} {millimeters(plan.length / 1e3, units)}", (0, -0.65 * step))
    dimension(axes, (stop, -width), (stop, width), millimeters(2 * width / 1e3, units),
              (0.7 * step, 0))
    if end > 0 and ribbed:
        dimension(axes, (plan.length - end, across), (plan.length, across), "", (0, 0))
        axes.annotate(f"end land {millimeters(end / 1e3, units)}", (plan.length - end / 2, across),
                      (plan.length - end - 0.5 * step, 0.45 * across), fontsize=7,
                      ha="right", va="center",
                      arrowprops={"arrowstyle": "-", "lw": 0.5, "color": INK})
    title = "Seen along the pull; fill end left" if side != "part" else (
        "Seen from the crown" if subject.mold.direct else "Seen along the pull")
    if len(planes):
        title += "; split at the dash-dotted lines"
    view_title(axes, title)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.margins(0.03)


def _holes(axes: Any, subject: Subject, planes: Sequence[float]) -> None:
    from matplotlib.patches import Circle

    for span in spans(subject.plan, planes):
        for hole in flange_holes(subject.plan, subject.mold, span, subject.side == "core"):
            axes.add_patch(Circle((hole.x, hole.y), hole.diameter / 2, ec=INK, lw=0.6,
                                  fc=INK if hole.what == "dowel" else "white"))


def _words(figure: Any, subject: Subject) -> None:
    mold, grid, ribs, plan = subject.mold, subject.grid, subject.ribs, subject.plan
    side, scale, units = subject.side, subject.scale, subject.design.units

    def mm(value: float) -> str:
        return millimeters(value, units)

    rows: list[tuple[str, ...]] = [
        *((f"radius: {face.name}", mm(face.radius / 1e3)) for face in round_faces(subject)),
        (f"{subject.part} length", mm(plan.length / 1e3)),
        ("cell round, at mid skin", mm(float(grid.cell_width) * scale)),
        ("cell along", mm(float(grid.cell_height) * scale)),
        ("seam land", mm(float(grid.seam_land) * scale)),
        ("end land", mm(float(grid.end_land) * scale)), ("pockets", str(ribs.count)),
        ("ribs lean from the axis", ", ".join(sorted(
            {f"{abs(math.degrees(float(f.angle))):.1f} deg" for f in grid.families})) or "none"),
    ]
    if side != "part":
        rows += [
            ("flange width, thickness",
             f"{mm(float(mold.flange_width))}, {mm(float(mold.flange_thickness))}"),
            ("screw holes", f"{mm(float(mold.screw_diameter))}"),
            ("dowel holes (3, dark)", f"{mm(float(mold.dowel_diameter))}, press" if (
                side == "core") else
             f"{mm(float(mold.dowel_diameter + 2 * mold.clearance))}, slip"),
            ("slip fit, each side", mm(float(mold.clearance))),
        ]
        if side == "cavity":
            rows += [("end walls lean, at the crown",
                      f"{math.degrees(mold.end_draft):.3g} deg"),
                     ("jack holes (large), to be tapped", mm(float(mold.jack_diameter))),
                     ("gate", f"{mold.gate_count} x {mm(gate_diameter(plan, mold) / 1e3)}"),
                     ("vents", f"{mold.vents} x {mm(vent_diameter(plan, mold) / 1e3)}")]
    rows_block(figure, (0.39, 0.43), "Main dimensions, mm", rows, (0.0, 0.26), step=0.0195)
    lines = [*subject.window_notes(), *ribs.notes]
    if subject.whole and side == "cavity":
        lines.append(f"Drawn is {UPPER}; {LOWER} is its mirror image at the parting, without gates "
                     "and pry slots, with the flash grooves and with press holes for the dowels: "
                     "see the sheets of holes.")
    dish = end_dish(plan, mold, plan.inner)
    if side == "part" and not mold.direct and dish:
        lines.append(
            f"Ends leave the mold {mm(dish / 1e3)} longer at the bore than outside (draft of its "
            "end walls): face them square to the length.")
    y = text_block(figure, (0.685, 0.43), "Notes", lines or ["none"], 62, step=0.0165)
    if side != "part":
        text_block(figure, (0.685, y - 0.02), "Cautions",
                   [*MACHINE_CAUTIONS, DEFER], 62, step=0.0165)
    else:
        text_block(figure, (0.685, y - 0.02), "Cautions", [
            "Not proven by this drawing: " + (
                "a printed or milled part has flaws of its own" if mold.direct else
                "a cast part has voids and weld lines")
            + "; test pieces before people or property depend on it.",
            *(MACHINE_CAUTIONS[:2] if mold.direct else ()), DEFER], 62, step=0.0165)


def write_sheets(paths: Sequence[Path], subject: Subject, force: bool = True) -> None:
    """Write one sheet to each path, by its ending (.pdf, .png), whole or not at all.

    Args:
        paths: of the pages.
        subject: what they show.
        force: replace a file that is there.

    Raises:
        InputError: a file can't be written, or is there and ``force`` is False.
    """
    figure = sheet_figure(subject)
    for path in paths:
        with replacing(path, force) as scratch:
            quick = {"pil_kwargs": {"compress_level": 2}} if path.suffix == ".png" else {}
            figure.savefig(scratch, **quick)
