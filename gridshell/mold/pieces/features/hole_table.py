"""The hole table of the mold halves: where each hole, slot and groove is, from a stated zero.

Zero is the casting's low-x end face (the pour end), the middle between the flanges, and the parting
face of the flanges: x along the tube, y across, z along the pull. All in mm of the mold; written in
the units of the job. In the mold of a rubber insert the casting is the insert.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass

from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.cores.inserts import carried_wall, insert_growth, insert_layout
from gridshell.mold.pieces.cores.round_mold import LOWER, UPPER
from gridshell.mold.pieces.features.fittings import (
    flange_holes,
    flash_grooves,
    joint_pins,
    key_boxes,
    pry_slots,
)
from gridshell.mold.pieces.features.pouring import end_holes
from gridshell.mold.pieces.layout import Layout
from gridshell.mold.pieces.mold_set import MoldSet
from gridshell.mold.pieces.splitting import Span, spans

ZERO = ("zero: x = 0 at the casting's pour end face, y = 0 midway between the flanges, z = 0 on "
        "the parting face of the flanges")
COLUMNS = ("piece", "feature", "x", "y", "z", "diameter", "length", "width", "height", "depth",
           "along", "fit")
LENGTHS = COLUMNS[2:10]
INCH = 25.4  # mm


@dataclass(frozen=True)
class Feature:
    """One row: a hole by its middle, a slot or groove by the middle of its opening, mm.

    Attributes:
        piece: core or cavity, with its number where the half is split.
        feature: what it is.
        x: along the tube.
        y: across.
        z: along the pull.
        diameter: of a hole; None for slots and grooves.
        length: of a slot or groove along x.
        width: of it across.
        height: of a key or socket along z.
        depth: of the hole, slot or groove.
        along: direction of the depth.
        fit: how it takes what goes in.
    """

    piece: str
    feature: str
    x: float
    y: float
    z: float
    diameter: float | None = None
    length: float | None = None
    width: float | None = None
    height: float | None = None
    depth: float = 0.0
    along: str = "z"
    fit: str = ""


@dataclass(frozen=True)
class Half:
    """A half of a mold, or a piece of one that is split.

    Attributes:
        name: core, cavity or a half of the insert's mold, with its number where it is split.
        plan: sizes of its mold, mm.
        mold: the `[mold]` table as its mold has it.
        span: where it lies along the tube.
        core: whether it is the core.
        at: number of its span, from 0.
    """

    name: str
    plan: Layout
    mold: Mold
    span: Span
    core: bool
    at: int = 0


def halves_of(molds: MoldSet) -> list[Half]:
    """Every half with holes, those of the insert's mold last; none where parts are made directly.

    Args:
        molds: every piece of a design.
    """
    plan, mold = molds.plan, molds.mold
    if mold.direct:
        return []
    parts = spans(plan, molds.planes)
    names = (LOWER, UPPER) if molds.design.tube.segments == 1 else ("core", "cavity")
    found = [
        Half(name + (f"-{at + 1}" if len(parts) > 1 else ""), plan, mold, span, name == names[0],
             at)
        for at, span in enumerate(parts) for name in names]
    wall = carried_wall(plan, mold, molds.design)
    if mold.core == "rubber" and wall:
        own = insert_layout(plan, mold, wall, insert_growth(mold))
        span = Span(own.start, own.end, False, False)
        found += [Half(f"insert-{name}", own, mold, span, name == "core")
                  for name in ("core", "cavity")]
    return found


def hole_table(molds: MoldSet) -> list[Feature]:
    """Every hole, slot and groove of the halves; none for parts that are made directly.

    Args:
        molds: every piece of a design.
    """
    return [row for half in halves_of(molds) for row in _rows(half)]


def _rows(half: Half) -> list[Feature]:
    name, plan, mold, span = half.name, half.plan, half.mold, half.span
    rows = _flange(half)
    if half.core:
        rows += [_slot(name, "flash groove", (max(low[0], span.start), *low[1:]),
                       (min(high[0], span.end), *high[1:]), plan.parting)
                 for low, high in flash_grooves(plan, mold)]
    else:
        rows += [_slot(name, "pry slot", low, high, plan.parting)
                 for low, high in pry_slots(plan, mold, span)]
        rows += [Feature(
            name, hole.what, plan.length if hole.far else 0.0,
            hole.radius * math.cos(hole.angle),
            hole.radius * math.sin(hole.angle) - plan.parting, hole.diameter,
            depth=plan.end_wall, along="x" if hole.far else "-x",
            fit="widens outwards" if hole.what == "gate" else "",
        ) for hole in end_holes(plan, mold)
            if (span.end >= plan.end if hole.far else span.start <= plan.start)]
    rows += _joints(half)
    return rows + [Feature(name, "split plane", x, 0.0, 0.0, along="x")
                   for x in (span.start, span.end) if plan.start < x < plan.end]


def _flange(half: Half) -> list[Feature]:
    plan, core = half.plan, half.core
    # Through the core's block beside the flange, or the cavity's ledge.
    ledge = min(plan.flange, plan.top - plan.parting)
    deep = plan.parting - plan.bottom if core and half.name != LOWER else ledge
    return [Feature(half.name, f"{hole.what} hole", hole.x, hole.y, 0.0, hole.diameter, depth=deep,
                    along="-z" if core else "z", fit=hole.fit)
            for hole in flange_holes(plan, half.mold, half.span, core)]


def _joints(half: Half) -> list[Feature]:
    """Keys, sockets and pins where a half is split; keys by the middle of their foot."""
    name, plan, mold, span = half.name, half.plan, half.mold, half.span
    made, sockets = key_boxes(plan, mold, span, half.core)
    slip = f"slip, {mold.clearance * 1e3:g} mm each side"
    rows = [
        Feature(name, what, low[0], (low[1] + high[1]) / 2, (low[2] + high[2]) / 2 - plan.parting,
                width=high[1] - low[1], height=high[2] - low[2], depth=high[0] - low[0],
                along="x", fit=fit)
        for what, boxes, fit in (("key", made, ""), ("socket", sockets, slip))
        for low, high in boxes]
    return rows + [
        Feature(name, "joint pin hole", hole.x, hole.y, hole.z - plan.parting, hole.diameter,
                depth=hole.depth, along="x" if hole.inward > 0 else "-x", fit="close")
        for hole in joint_pins(plan, mold, span, half.core)]


def _slot(
    name: str, what: str, low: tuple[float, ...], high: tuple[float, ...], parting: float
) -> Feature:
    return Feature(
        name, what, (low[0] + high[0]) / 2, (low[1] + high[1]) / 2, 0.0,
        length=high[0] - low[0], width=high[1] - low[1], depth=high[2] - low[2],
        along="z" if low[2] >= parting - 1e-9 else "-z",
    )


def as_csv(rows: list[Feature], units: str = "metric") -> str:
    """The table as comma-separated text, its zero in the first line.

    Args:
        rows: from `hole_table`.
        units: metric (mm) or inch.
    """
    inch = units == "inch"
    out = io.StringIO()
    out.write(f"# {ZERO}; all in {'inches' if inch else 'mm'} of the mold\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([
            length(getattr(row, column), inch) if column in LENGTHS else getattr(row, column)
            for column in COLUMNS])
    return out.getvalue()


def length(value: float | None, inch: bool) -> str:
    """A length of the table in the unit of the job; nothing for None.

    Args:
        value: mm.
        inch: whether the job is in inches.

    >>> length(6.3, False), length(6.3, True), length(None, True)
    ('6.300', '0.2480', '')
    """
    if value is None:
        return ""
    return f"{value / INCH + 0.0:.4f}" if inch else f"{value + 0.0:.3f}"
