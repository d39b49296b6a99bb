"""Enlarged details of the drawing sheets: a rib or its groove, and the flange."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import Mold
from gridshell.mold.pieces.layout import Layout
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.report.sheets.parts import FILL, INK, dimension, millimeters, rectangle, view_title


def groove_detail(
    axes: Any, design: Design, ribs_molded: Ribbing, side: str, scale: float
) -> None:
    """One rib (or the groove that casts it), enlarged, with its dimensions.

    Args:
        axes: of matplotlib.
        design: one design (no arrays).
        ribs_molded: its pockets as molded.
        side: part, core or cavity.
        scale: size drawn over the part's.
    """
    ribs, mm = design.ribs, scale * 1e3
    tip, height = float(ribs.width) * mm, float(ribs.height) * mm
    skin = float(design.skin.thickness) * mm
    root = tip + 2 * height * math.tan(float(ribs.draft))
    reach = root * 1.6
    units = design.units
    line = np.array([[-reach, 0], [-root / 2, 0], [-tip / 2, -height], [tip / 2, -height],
                     [root / 2, 0], [reach, 0]])
    inside = ribs.side == "inside"
    line[:, 1] *= 1 if inside else -1
    away = skin if inside else -skin
    if side == "part":
        shape = np.concatenate([line, [[reach, away], [-reach, away]]])
    else:
        deep = -height * 1.35 if inside else height * 1.35
        shape = np.concatenate([line, [[reach, deep], [-reach, deep]]])
    axes.fill(shape[:, 0], shape[:, 1], fc=FILL, ec=INK, lw=0.9)
    sign = -1 if inside else 1
    dimension(axes, (-tip / 2, sign * height), (tip / 2, sign * height), "",
              (0, sign * -0.08 * height))
    axes.text(0, sign * height * 0.78, millimeters(tip / mm * scale, units), fontsize=7,
              ha="center", va="center",
              bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"})
    dimension(axes, (reach, 0), (reach, sign * height), millimeters(height / 1e3, units),
              (0.16 * reach, 0))
    dimension(axes, (-root / 2, 0), (root / 2, 0), millimeters(root / 1e3, units),
              (0, -sign * (skin + 0.14 * height)))
    if side == "part":
        dimension(axes, (-reach, 0), (-reach, away), "", (-0.12 * reach, 0))
        axes.text(-1.17 * reach, away / 2, millimeters(skin / 1e3, units), fontsize=7, ha="right",
                  va="center")
    words = [f"draft {math.degrees(float(ribs.draft)):.3g} deg"]
    # As molded: where the stated ones do not fit a small pocket they are smaller.
    for name, radii in (("pocket corners", [g.corner_radius for g in ribs_molded.pockets]),
                        ("root fillet", [g.fillet for g in ribs_molded.pockets])):
        low, high = min(radii, default=0.0) * scale, max(radii, default=0.0) * scale
        if high > 0:
            words.append(f"{name} R {millimeters(high, units)}" if high - low < 5e-6 else
                         f"{name} R {low * 1e3:.2f} to {millimeters(high, units)}")
    axes.text(-1.08 * reach, sign * height * 0.62, "\n".join(words), fontsize=6.5, va="center",
              ha="right")
    view_title(axes, "Rib" if side == "part" else "Groove")
    axes.set_xlim(-2.45 * reach, 1.35 * reach)
    axes.set_aspect("equal")
    axes.set_axis_off()


def flange_detail(axes: Any, design: Design, mold: Mold, plan: Layout, side: str) -> None:
    """The flange beside the part's edge, enlarged: screws, flash groove or pry slot.

    Args:
        axes: of matplotlib.
        design: one design (no arrays).
        mold: the `[mold]` table.
        plan: sizes of the halves, mm.
        side: part, core or cavity.
    """
    wide, thick = plan.half_width - plan.edge, plan.flange
    units = design.units
    shape = [(0.0, 0.0), (wide, 0.0), (wide, thick), (0.0, thick)]
    hole = float(mold.screw_diameter) * 1e3
    near, deep = float(mold.flash_gap) * 1e3, float(mold.flash_depth) * 1e3
    across = float(mold.flash_width) * 1e3
    if side == "core":  # its parting face is on top
        if across:
            shape[3:] = [(near + across, thick), (near + across, thick - deep),
                         (near, thick - deep), (near, thick), (0.0, thick)]
        words = "Flange of the core: parting face on top" + (", flash groove" if across else "")
    else:
        words = "Flange of the cavity: parting face below"
        shape += [(0.0, 0.0)]
    points = np.array(shape)
    axes.fill(points[:, 0], points[:, 1], fc=FILL, ec=INK, lw=0.9)
    screw = plan.fastener - plan.edge
    rectangle(axes, (screw - hole / 2, 0.0), (screw + hole / 2, thick), fc="white", lw=0.6, ls="--")
    dimension(axes, (0.0, 0.0), (wide, 0.0), millimeters(wide / 1e3, units), (0, -0.3 * thick))
    dimension(axes, (0.0, 0.0), (screw, 0.0), f"to screws {millimeters(screw / 1e3, units)}",
              (0, -0.75 * thick))
    dimension(axes, (wide, 0.0), (wide, thick), millimeters(thick / 1e3, units),
              (0.12 * wide, 0))
    if side == "core" and across:
        note = (f"flash groove {millimeters(across / 1e3, units)} wide, "
                f"{millimeters(deep / 1e3, units)} deep,\n"
                f"{millimeters(near / 1e3, units)} from the part")
    elif side == "cavity" and mold.pry_width:
        note = (f"pry slots {millimeters(mold.pry_width, units)} long,\n"
                f"{millimeters(mold.pry_depth, units)} high")
    else:
        note = ""
    axes.text(wide / 2, 1.5 * thick, note, fontsize=7, ha="center", va="center")
    view_title(axes, words)
    axes.set_xlim(-0.1 * wide, 1.3 * wide)
    axes.set_ylim(-1.3 * thick, 1.9 * thick)
    axes.set_aspect("equal")
    axes.set_axis_off()
