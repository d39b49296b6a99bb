"""Pictures of the wall: the pattern unrolled, and the section with its dimensions."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.report.numbers import axis, shown
from gridshell.report.plots.style import BLUE, GREY, INK, PALE, RED, figure, headline, save
from gridshell.report.text.wall import titled, wall_label
from gridshell.wall.assess import Wall
from gridshell.wall.geometry.mass import at_radius, is_left_solid, pocket_outline_at
from gridshell.wall.geometry.pattern import panel_pockets
from gridshell.wall.geometry.pockets import inscribed_radius, rounded_points


def pocket_outlines(wall: Wall, depth: float) -> list[Array]:
    """Outlines (points, 2) of every open pocket of a panel at a height above the skin, m, in
    hoop coordinate at the skin's middle radius and axial coordinate."""
    design, grid = wall.design, wall.grid
    radius, inset, rounding = pocket_outline_at(design, grid, depth)
    found = []
    for kind in panel_pockets(grid):
        corners = at_radius(kind.corners, radius, grid.radius)
        for one, original in zip(corners, kind.corners, strict=True):
            if bool(is_left_solid(design, grid, original, kind.cut)):
                continue
            if float(inset) + float(rounding) >= float(inscribed_radius(one)):
                continue
            outline = rounded_points(one, float(inset), float(rounding))
            found.append(outline * [float(grid.radius / radius), 1.0])
    return found


def draw_pattern(axes: Any, wall: Wall, system: str = "metric") -> None:
    """One panel unrolled with its lands: ribs and lands dark, pockets light."""
    from matplotlib.collections import PolyCollection
    from matplotlib.patches import Rectangle

    grid = wall.grid
    scale, unit = axis("length", system)
    left, low = float(grid.seam_land) / 2, float(grid.end_land)
    wide = float(grid.panel_width) + 2 * left
    high = float(grid.panel_height) + 2 * low
    axes.add_patch(Rectangle((-left * scale, -low * scale), wide * scale, high * scale,
                             facecolor=BLUE, edgecolor=INK, linewidth=0.8, zorder=1))
    for depth, color in ((float(wall.design.ribs.height), "#a9cce3"), (0.0, PALE)):
        outlines = pocket_outlines(wall, depth)
        axes.add_collection(PolyCollection(
            [outline * scale for outline in outlines], facecolors=color, edgecolors="none", zorder=2
        ))
    if not wall.sections:
        axes.text(0.5, 0.5, "plain wall", transform=axes.transAxes, ha="center", color="white")
    if grid.pattern == "families":
        _draw_family_lines(axes, wall, scale)
    axes.set_xlim((-left - 0.02 * wide) * scale, (wide - left + 0.02 * wide) * scale)
    axes.set_ylim((-low - 0.02 * high) * scale, (high - low + 0.02 * high) * scale)
    axes.set_aspect("equal")
    axes.set_xlabel(f"round the tube [{unit}]")
    axes.set_ylabel(f"along the tube [{unit}]")
    axes.set_title(
        f"one of {grid.segments} x {grid.sections} panels unrolled\n"
        f"cells {float(grid.cell_width) * scale:.4g} x {float(grid.cell_height) * scale:.4g} "
        f"{unit}, {int(grid.cells_round)} round, {int(grid.cells_along)} along"
        if wall.sections else f"one of {grid.segments} x {grid.sections} panels unrolled"
    )


def _draw_family_lines(axes: Any, wall: Wall, scale: float) -> None:
    """Rib center lines of the user's own families, clipped to the panel."""
    from matplotlib.patches import Rectangle

    grid = wall.grid
    wide, high = float(grid.panel_width) * scale, float(grid.panel_height) * scale
    frame = axes.add_patch(Rectangle((0, 0), wide, high, facecolor=PALE, zorder=2))
    reach = np.hypot(wide, high)
    for line, section in zip(grid.families, wall.sections, strict=True):
        along = np.array([float(line.sine), float(line.cosine)])
        across = np.array([along[1], -along[0]])
        pitch = float(line.pitch) * scale
        count = int(reach / pitch) + 1
        for i in range(-count, count + 1):
            start = across * i * pitch
            ends = np.stack([start - along * 2 * reach, start + along * 2 * reach])
            drawn, = axes.plot(ends[:, 0], ends[:, 1], color=BLUE, zorder=3,
                               linewidth=max(0.8, float(section.tip_width) * 1e3 * 1.2))
            drawn.set_clip_path(frame)


def draw_section(axes: Any, wall: Wall, system: str = "metric") -> None:
    """Section of the wall across one rib, true to scale, with dimensions and the neutral axis."""
    design = wall.design
    scale, unit = axis("length", system)
    skin = float(design.skin.thickness) * scale
    side = wall.side
    if not wall.sections:
        axes.fill([-5 * skin, 5 * skin, 5 * skin, -5 * skin], [-skin / 2, -skin / 2, skin / 2,
                  skin / 2], color=BLUE)
        axes.text(0, skin, f"plain wall {shown(design.skin.thickness, 'length', system)}",
                  ha="center")
        axes.set_ylim(-3 * skin, 3 * skin)
        axes.set_aspect("equal")
        axes.set_ylabel(f"z, outwards [{unit}]")
        return
    section, line = wall.sections[0], wall.grid.families[0]
    height, tip = float(section.height) * scale, float(section.tip_width) * scale
    root, fillet = float(section.root_width) * scale, float(design.ribs.root_fillet) * scale
    half = float(line.pitch) * scale / 2
    centers = (-half, half)
    reach = half + max(root, 1.5 * tip) + 0.15 * half
    axes.fill([-reach, reach, reach, -reach], [-skin / 2, -skin / 2, skin / 2, skin / 2],
              color=BLUE, linewidth=0)
    base, top = side * skin / 2, side * (skin / 2 + height)
    lean = (root - tip) / 2
    for center in centers:
        axes.fill([center - root / 2, center - tip / 2, center + tip / 2, center + root / 2],
                  [base, top, top, base], color=BLUE, linewidth=0)
        if fillet > 0:
            _draw_fillets(
                axes, center, half_root=root / 2, lean=lean, height=height, fillet=fillet,
                base=base, side=side,
            )
    grey = {"color": GREY, "fontsize": 8.5}
    stiff = wall.A[..., 0, 0] + wall.A[..., 1, 1]
    neutral = float((wall.B[..., 0, 0] + wall.B[..., 1, 1]) / stiff) * scale
    axes.plot([-reach, reach], [neutral, neutral], color=RED, linestyle="--", linewidth=1)
    axes.annotate("neutral axis", (reach, neutral), color=RED, fontsize=8.5, ha="left",
                  va="center", xytext=(4, 0), textcoords="offset points")

    def dimension(start: tuple[float, float], end: tuple[float, float], label: str,
                  shift: tuple[float, float], align: str = "center") -> None:
        axes.annotate("", start, end, arrowprops={
            "arrowstyle": "<->", "color": GREY, "linewidth": 0.9, "shrinkA": 0, "shrinkB": 0})
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        axes.annotate(label, middle, xytext=shift, textcoords="offset points", ha=align,
                      va="center", **grey)

    beyond = top + side * max(0.55 * height, 0.16 * half)
    dimension((-half, beyond), (half, beyond),
              f"pitch {shown(line.pitch, 'length', system)}", (0, 8 * side))
    dimension((0, base), (0, top), f"rib {shown(section.height, 'length', system)}", (4, 0),
              "left")
    at = -reach - 0.05 * half
    dimension((at, -skin / 2), (at, skin / 2),
              f"skin {shown(design.skin.thickness, 'length', system)}", (-4, 0), "right")
    axes.annotate(f"tip {shown(section.tip_width, 'length', system)}", (half + tip / 2, top),
                  xytext=(5, 0), textcoords="offset points", ha="left", va="center", **grey)
    axes.annotate(f"root {shown(section.root_width, 'length', system)}",
                  (half, -side * skin / 2), xytext=(0, -9 * side), textcoords="offset points",
                  ha="center", va="center", **grey)
    axes.set_xlim(-reach - 1.0 * half, reach + 0.8 * half)
    low, high = sorted((-side * (skin / 2 + 0.2 * half), beyond + side * 0.2 * half))
    axes.set_ylim(low, high)
    axes.set_aspect("equal")
    axes.set_ylabel(f"z, outwards [{unit}]")
    axes.set_xlabel(f"across the {line.name} ribs [{unit}]")
    equivalent = wall.equivalent
    axes.set_title(
        f"section to scale, ribs {design.ribs.side}\nequals a plain wall of "
        f"{shown(equivalent.thickness, 'length', system)} and "
        f"{shown(equivalent.modulus, 'pressure', system)};\nweighs as a plain wall of "
        f"{shown(wall.volume_per_area, 'length', system)}"
    )


def _draw_fillets(
    axes: Any, center: float, half_root: float, lean: float, height: float, fillet: float,
    base: float, side: float,
) -> None:
    draft = np.arctan2(lean, height)
    inner = np.pi / 2 + draft  # angle between skin and flank
    tangent = fillet / np.tan(inner / 2)
    arc = np.linspace(-np.pi / 2, -np.pi / 2 - (np.pi - inner), 12)
    x = half_root + tangent + fillet * np.cos(arc)
    y = fillet + fillet * np.sin(arc)
    x, y = np.append(x, half_root), np.append(y, 0.0)
    for mirror in (-1.0, 1.0):
        axes.fill(center + mirror * x, base + side * y, color=BLUE, linewidth=0)


def plot_wall(wall: Wall, path: str | Path, system: str = "metric") -> None:
    """Save the picture of a wall: unrolled pattern and section with dimensions."""
    tall = float(wall.grid.panel_height / wall.grid.panel_width)
    left = 4.2 if tall > 0.6 else 6.0
    with figure(left + 5.6, 5.2, 1, 2, width_ratios=(left, 5.6)) as (drawn, axes):
        draw_pattern(axes[0], wall, system)
        draw_section(axes[1], wall, system)
        headline(drawn, titled(wall.design.title, wall_label(wall)))
        save(drawn, path)
