"""A drawing sheet for each mold half and for the casting: main dimensions, groove, cautions."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.files.replacing import replacing
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.features import gate_diameter, places_along
from gridshell.mold.pieces.layout import Layout, cavity_profile, core_profile, layout, part_profile
from gridshell.mold.pieces.splitting import spans
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.report.sheets.details import flange_detail, groove_detail
from gridshell.report.sheets.parts import (
    ACCENT,
    DEFER,
    FILL,
    INK,
    LIGHT,
    MACHINE_CAUTIONS,
    dimension,
    millimeters,
    page,
    pocket_spans,
    profile_points,
    rectangle,
    ribbed_line,
    rows_block,
    text_block,
)
from gridshell.wall.geometry.lattice import Lattice

SIDES = ("part", "core", "cavity")


@dataclass(frozen=True)
class Subject:
    """What one sheet shows.

    Attributes:
        design: one design.
        mold: its `[mold]` table.
        grid: its lattice.
        ribs: pockets and cut-outs of one cast segment.
        side: part, core or cavity.
        shrinkage: (mold - part)/mold; the part is drawn at its own size, molds at theirs.
        planes: where the halves are split along x, mm.
        name: of the cast segment, when the tube has several kinds.
    """

    design: Design
    mold: Mold
    grid: Lattice
    ribs: Ribbing
    side: str
    shrinkage: float
    planes: Sequence[float] = ()
    name: str = ""

    @property
    def scale(self) -> float:
        """Size drawn over the part's."""
        return 1.0 if self.side == "part" else 1 / (1 - self.shrinkage)

    @property
    def plan(self) -> Layout:
        """Sizes of the halves as drawn, mm."""
        return layout(self.design, self.mold, self.scale * 1e3)

    @property
    def part(self) -> str:
        """What the part is called: a casting, or the part itself where there is no mold."""
        return "part" if self.mold.direct else "casting"

    @property
    def closed(self) -> bool:
        """Whether it is a whole tube, without a seam."""
        return int(self.design.tube.segments) == 1

    @property
    def ribbed(self) -> bool:
        """Whether the side carries the ribs: core for ribs inside, else cavity; the part always."""
        inside = self.design.ribs.side == "inside"
        grooved = ("part", "core" if inside else "cavity")
        return bool(self.design.has_ribs and self.side in grooved)


def sheet_figure(subject: Subject) -> Any:
    """The sheet of one side as a matplotlib figure, A4 across.

    Args:
        subject: what it shows.
    """
    design, mold, side, scale = subject.design, subject.mold, subject.side, subject.scale
    what = {"part": subject.part, "core": "core half", "cavity": "cavity half"}[side]
    made = "" if side == "part" else (
        f", {'printed' if mold.process == 'print' else 'milled'}, {scale:.5f} times the part "
        f"(shrinkage {subject.shrinkage:.2%})")
    figure = page(
        f"{design.title}",
        f"{what}{' ' + subject.name if subject.name else ''} for {design.material.name}{made}; "
        "dimensions in mm, views not to scale")
    _section(figure.add_axes((0.04, 0.47, 0.44, 0.395)), subject)
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


def _section(axes: Any, subject: Subject) -> None:
    """Cross section through a row of pockets."""
    design, plan, side, ribs = subject.design, subject.plan, subject.side, subject.ribs
    profile = {"part": part_profile, "core": core_profile, "cavity": cavity_profile}[side](plan)
    outline = profile_points(profile)
    ribbed = subject.ribbed
    pockets: list[tuple[tuple[float, float], tuple[float, float]]] = []
    # A whole tube has no seam to draw where its outline starts.
    axes.fill(outline[:, 0], outline[:, 1], fc=FILL, ec="none" if subject.closed else INK, lw=0.9)
    if subject.closed:
        for radius in (plan.inner, plan.outer):
            angles = np.linspace(0, 2 * math.pi, 240)
            axes.plot(radius * np.cos(angles), radius * np.sin(angles), color=INK, lw=0.9)
    if side == "cavity":
        # Between the end walls the half is bored out to the casting's outer radius.
        _sector(axes, plan, plan.outer)
    if ribbed and ribs.pockets:
        # Through the pockets nearest the middle; half way itself may run along a rib.
        places = np.concatenate([g.base[..., 1].mean(axis=1) for g in ribs.pockets])
        middle = float(places[np.argmin(np.abs(places - float(design.section_length) / 2))])
        pockets = pocket_spans(design, subject.grid, ribs, middle)
        line = ribbed_line(pockets, plan.base, plan.floor, plan.half_angle)
        edge = ribbed_line([], plan.base, plan.floor, plan.half_angle)
        # The part loses its pockets; the half that makes them has blocks there.
        color = "white" if side == "part" else FILL
        axes.fill(*np.concatenate([line, edge[::-1]]).T, fc=color, ec="none")
        axes.plot(line[:, 0], line[:, 1], color=ACCENT, lw=0.9)
        axes.plot(edge[:, 0], edge[:, 1], color=LIGHT, lw=0.3, ls="--")
        outline = np.concatenate([outline, line])
    high, low = outline[:, 1].max(), outline[:, 1].min()
    wide = np.abs(outline[:, 0]).max()
    step = 0.09 * wide
    units = design.units
    if side == "part":
        dimension(axes, (-plan.edge, plan.parting), (plan.edge, plan.parting),
                  f"diameter {millimeters(2 * plan.outer / 1e3, units)}"
                  + ("" if subject.closed else " (over the edges)")
                  if plan.half_angle >= math.pi / 2 - 1e-9 else
                  f"{millimeters(2 * plan.edge / 1e3, units)}", (0, -step))
    else:
        dimension(axes, (-wide, low), (wide, low), millimeters(2 * wide / 1e3, units),
                  (0, -step))
        dimension(axes, (wide, low), (wide, high), millimeters((high - low) / 1e3, units),
                  (step, 0))
    _leaders(axes, subject, pockets)
    if not subject.mold.direct:
        _pull(axes, high, wide, step)
    axes.set_xlim(-1.08 * wide, 1.08 * wide + 2.2 * step)
    axes.set_ylim(low - 1.8 * step, high + 2.4 * step)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title("Section across, through a row of pockets" if ribbed and ribs.pockets
                   else "Section across", fontsize=8, loc="left")


def _pull(axes: Any, high: float, wide: float, step: float) -> None:
    """The arrow of the way the halves part."""
    axes.annotate("", (0, high + 1.9 * step), (0, high + 0.4 * step),
                  arrowprops={"arrowstyle": "-|>", "lw": 1.2, "color": ACCENT})
    axes.text(0.05 * wide, high + 1.2 * step, "pull", fontsize=7, color=ACCENT, va="center")


def faces_of(subject: Subject) -> list[tuple[str, float, str]]:
    """Every round face of a side: its name, its radius in mm, and where a leader finds it.

    The last entry is ``pocket`` for faces that lie in the pockets (or are the tops of the blocks
    that cast them), ``rib`` for those between pockets, ``end`` for faces of the end walls only,
    and ``any`` for smooth faces.

    Args:
        subject: what the sheet shows.
    """
    plan, side = subject.plan, subject.side
    ribs_inside = plan.base == plan.inner
    ribbed = subject.ribbed and bool(subject.ribs.pockets)
    seat = ("seats of the core's prints", plan.inner + plan.clearance, "end")
    if side == "part":
        tips, smooth = ("outside", "inside")[ribs_inside], ("inside", "outside")[ribs_inside]
        found = [(smooth, plan.far, "any"),
                 ("rib tips and lands" if ribbed else tips, plan.base, "rib")]
        return [*found, ("pocket floors", plan.floor, "pocket")] if ribbed else found
    if not ribbed:
        return [("core", plan.inner, "any")] if side == "core" else [
            ("bore", plan.outer, "any"), seat]
    grooves = [("groove bottoms", plan.base, "rib"), ("block tops", plan.floor, "pocket")]
    return grooves if side == "core" else [*grooves, seat]


def _leaders(
    axes: Any, subject: Subject, pockets: list[tuple[tuple[float, float], tuple[float, float]]]
) -> None:
    """The radius of every round face, each with a leader to the face itself."""
    plan = subject.plan
    faces = faces_of(subject)
    middles = [(low + high) / 2 for _, (low, high) in pockets]
    solid = [(a + b) / 2 for (_, a), (b, _) in itertools.pairwise([tip for tip, _ in pockets])]
    for number, (name, radius, place) in enumerate(faces):
        # Angles from the crown, to the right; the faces come one after the other round it.
        wanted = plan.half_angle * (0.68 - 0.55 * number / max(len(faces) - 1, 1))
        near = {"pocket": middles, "rib": solid}.get(place) or [wanted]
        angle = min(near, key=lambda a: abs(a - wanted))
        way = np.array([math.sin(angle), math.cos(angle)])
        text = np.array([
            (0.62 - 0.5 * number) * plan.outer * math.sin(plan.half_angle),
            plan.parting + (0.12 + 0.17 * number) * (plan.inner - plan.parting)])
        words = f"{name} R {millimeters(radius / 1e3, subject.design.units)}"
        if place == "end":
            words += " (end walls)"
        axes.annotate(words, radius * way, text, fontsize=7, ha="center", va="center",
                      bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none"},
                      arrowprops={"arrowstyle": "-|>", "lw": 0.6, "color": INK})


def _sector(axes: Any, plan: Layout, radius: float) -> None:
    angles = np.linspace(plan.left, plan.right, 120)
    hollow = np.stack([radius * np.cos(angles), radius * np.sin(angles)], axis=-1)
    axes.fill(hollow[:, 0], hollow[:, 1], fc="white", ec=INK, lw=0.9)


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
    axes.text(
        float(edges[widest:widest + 2].mean()), 0.0,
        f"pockets\n{int(grid.cells_round)} x {int(grid.cells_along)} cells" if ribbed
        else "smooth", ha="center", va="center", fontsize=7, color=ACCENT)
    step = 0.10 * (stop - start)
    if side != "part":
        _holes(axes, subject.mold, plan, planes)
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
        axes.annotate(f"end land {end:.2f}", (plan.length - end / 2, across),
                      (plan.length - end - 0.5 * step, 0.45 * across), fontsize=7,
                      ha="right", va="center",
                      arrowprops={"arrowstyle": "-", "lw": 0.5, "color": INK})
    title = "Seen along the pull; fill end left" if side != "part" else (
        "Seen from the crown" if subject.mold.direct else "Seen along the pull")
    if len(planes):
        title += "; split at the dash-dotted lines"
    axes.set_title(title, fontsize=8, loc="left")
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.margins(0.03)


def _holes(axes: Any, mold: Mold, plan: Layout, planes: Sequence[float]) -> None:
    from matplotlib.patches import Circle

    for span in spans(plan, planes):
        places, _ = places_along(plan, mold, span)
        for sign in (1, -1):
            dowels = {0, len(places) - 1} if sign > 0 else {0}
            for index, x in enumerate(places):
                dowel = index in dowels
                diameter = (mold.dowel_diameter if dowel else mold.screw_diameter) * 1e3
                axes.add_patch(Circle((x, sign * plan.fastener), diameter / 2, ec=INK, lw=0.6,
                                      fc=INK if dowel else "white"))


def _words(figure: Any, subject: Subject) -> None:
    mold, grid, ribs, plan = subject.mold, subject.grid, subject.ribs, subject.plan
    side, scale, units = subject.side, subject.scale, subject.design.units

    def mm(value: float) -> str:
        return millimeters(value, units)

    rows: list[tuple[str, ...]] = [
        *((f"radius: {name}", mm(radius / 1e3)) for name, radius, _ in faces_of(subject)),
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
            ("dowels (3, dark)", f"{mm(float(mold.dowel_diameter))}"),
            ("slip fit, each side", mm(float(mold.clearance))),
        ]
        if side == "cavity":
            rows += [("gate", f"{mold.gates} x {mm(gate_diameter(plan, mold) / 1e3)}"),
                     ("vents", f"{mold.vents} x {mm(float(mold.vent_diameter))}")]
    rows_block(figure, (0.39, 0.43), "Main dimensions, mm", rows, (0.0, 0.26), step=0.0195)
    lines = list(ribs.notes)
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
            figure.savefig(scratch)
