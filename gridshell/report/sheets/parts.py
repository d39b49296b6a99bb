"""Pieces of the drawing sheets: dimension lines, section through a ribbed face, text blocks."""

from __future__ import annotations

import itertools
import math
import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.mold.pieces.solids.plain import Arc, Profile
from gridshell.mold.relief.outline import polygon_loops
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import at_radius, pocket_outline_at

INK, LIGHT, FILL, ACCENT = "#222222", "#7a7a7a", "#e3e8ee", "#0072B2"
PAPER = (11.69, 8.27)  # A4 across, inches
MACHINE_CAUTIONS = (
    "Milling and drilling: eye cover, clamp the work, no gloves or loose sleeves near a turning "
    "tool; follow the machine's own instructions.",
    "Printing: fresh air for fumes; the nozzle and the bed are hot.",
    "Edges of fresh molds are sharp: break them, except at the parting next to the part.",
)
METAL_CAUTIONS = (
    "Metal chips are sharp and hot: guards closed, a brush for chips, never the hand.",
    "A thin part springs off when its last tie is cut: clamp it, back it, or leave tabs.",
)
MELT_CAUTIONS = (
    "Hot melt sticks to skin and burns deep: gloves, long sleeves and a face shield; cool a burn "
    "with water, leave the melt on, see a doctor.",
    "Dry molds and tools only: water under a hot melt turns to steam and throws it out.",
    "Never leave a melting pot alone, never above the supplier's temperature; have a lid and a "
    "fire blanket at hand, no water on burning wax or polymer.",
)
CURE_CAUTIONS = (
    "Uncured resin and hardener: gloves and eye cover, fresh air, no skin contact; follow the "
    "safety data sheets.",
    "A large mass of resin heats itself and can smoke: pour it soon after mixing.",
)
DEFER = ("Local rules for work with machines, hot materials and chemicals come first; where they "
         "ask for a licensed person, leave it to one.")


def millimeters(value: float, system: str) -> str:
    """A length (m) in mm, with inches after it for an inch design.

    Args:
        value: m.
        system: metric or inch.

    >>> millimeters(0.0254, "metric"), millimeters(0.0254, "inch")
    ('25.40', '25.40 (1.000 in)')
    """
    text = f"{value * 1e3:.2f}"
    return text if system == "metric" else f"{text} ({value / 0.0254:.3f} in)"


def profile_points(profile: Profile) -> Array:
    """A cross section of `gridshell.mold.pieces.layout` as a closed line (n, 2).

    Args:
        profile: its cross section, mm.
    """
    corners = [item for item in profile if not isinstance(item, Arc)]
    points: list[tuple[float, float]] = []
    number = -1
    for index, item in enumerate(profile):
        if not isinstance(item, Arc):
            number += 1
            points.append(item)
            continue
        start, end = corners[number], corners[(number + 1) % len(corners)]
        radius = math.hypot(*item.middle)
        a, b, middle = (math.atan2(p[1], p[0]) for p in (start, end, item.middle))
        # Through the middle: the way round that passes it.
        if (middle - a) % (2 * math.pi) < (b - a) % (2 * math.pi):
            sweep = (b - a) % (2 * math.pi)
        else:
            sweep = -((a - b) % (2 * math.pi))
        for angle in a + sweep * np.linspace(0, 1, 90)[1:-1]:
            points.append((radius * math.cos(angle), radius * math.sin(angle)))
        assert index > 0
    return np.array(points)


def pocket_spans(
    design: Design, grid: Lattice, ribs: Ribbing, axial: float
) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Angles from the crown that pockets cover at a cross section: at the tips, at the skin.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        ribs: pockets and cut-outs of one cast segment.
        axial: position along the casting, m.
    """
    return sorted(
        (tip, floor) for tip, floor in _spans(design, grid, ribs, axial) if floor is not None)


def tip_spans(
    design: Design, grid: Lattice, ribs: Ribbing, axial: float
) -> list[tuple[float, float]]:
    """Angles from the crown that pockets cover at the rib tips, of those too whose floor lies
    beside the cross section, which goes through their sides only.

    Args:
        design: one design (no arrays).
        grid: its lattice.
        ribs: pockets and cut-outs of one cast segment.
        axial: position along the casting, m.
    """
    return sorted(tip for tip, _ in _spans(design, grid, ribs, axial))


def _spans(
    design: Design, grid: Lattice, ribs: Ribbing, axial: float
) -> Iterator[tuple[tuple[float, float], tuple[float, float] | None]]:
    for group in ribs.pockets:
        low, high = group.corners[..., 1].min(axis=1), group.corners[..., 1].max(axis=1)
        for corners in group.corners[(low < axial) & (high > axial)]:
            ends = []
            for depth in (float(design.ribs.height), 0.0):
                radius, inset, rounding = (
                    float(v) for v in pocket_outline_at(design, grid, depth))
                flat = at_radius(corners[None], np.array([radius]), grid.radius)
                loops = polygon_loops(flat, inset, max(rounding, 1e-7))
                parameter = np.linspace(0, 1, 9)
                outline = np.concatenate(
                    [loops.points(j, parameter)[0, :-1] for j in range(len(loops.arc))])
                ends.append(_crossing(outline, axial, radius))
            if ends[0] is not None:
                yield ends[0], ends[1]


def _crossing(outline: Array, axial: float, radius: float) -> tuple[float, float] | None:
    after = np.roll(outline, -1, axis=0)
    cross = (outline[:, 1] > axial) != (after[:, 1] > axial)
    if not cross.any():
        return None
    a, b = outline[cross], after[cross]
    hoop = a[:, 0] + (axial - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return float(hoop.min() / radius), float(hoop.max() / radius)


def ribbed_line(
    spans: Sequence[tuple[tuple[float, float], tuple[float, float]]], base: float, far: float,
    half_angle: float,
) -> Array:
    """The ribbed face in cross section, from the right edge to the left, (n, 2).

    Args:
        spans: from `pocket_spans`, angles counted from the crown.
        base: radius of the rib tips and of the pocket floors.
        far: radius of the rib tips and of the pocket floors.
        half_angle: of the casting.
    """
    points: list[tuple[float, float]] = [(base, -half_angle)]
    for tip, floor in spans:
        points += [(base, tip[0]), (far, floor[0])]
        points += [(far, a) for a in np.linspace(floor[0], floor[1], 12)[1:-1]]
        points += [(far, floor[1]), (base, tip[1])]
    points.append((base, half_angle))
    # Arcs of the rib tips and lands between them.
    fine: list[tuple[float, float]] = []
    for (r0, a0), (r1, a1) in itertools.pairwise(points):
        count = max(2, int(abs(a1 - a0) / 0.03)) if r0 == r1 else 2
        share = np.linspace(0, 1, count)[:-1]
        fine += list(zip(r0 + (r1 - r0) * share, a0 + (a1 - a0) * share, strict=True))
    fine.append(points[-1])
    radius, angle = np.array(fine).T
    return np.stack([radius * np.sin(angle), radius * np.cos(angle)], axis=-1)


def dimension(
    axes: Any, start: tuple[float, float], end: tuple[float, float], words: str,
    offset: tuple[float, float] = (0.0, 0.0), size: float = 7.0,
) -> None:
    """A dimension line with arrows, moved off the shape by ``offset``, with extension lines.

    Args:
        axes: of matplotlib.
        start: (x, y) of one end.
        end: (x, y) of the other.
        words: written on it.
        offset: how far it is moved off the shape.
        size: of the type, points.
    """
    a, b = np.add(start, offset), np.add(end, offset)
    axes.annotate("", a, b, arrowprops={
        "arrowstyle": "<|-|>,head_width=0.15,head_length=0.35", "lw": 0.6, "color": INK,
        "shrinkA": 0, "shrinkB": 0})
    if any(offset):
        for point, moved in ((start, a), (end, b)):
            axes.plot([point[0], moved[0]], [point[1], moved[1]], color=LIGHT, lw=0.4)
    middle = (a + b) / 2
    turn = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    turn = (turn + 90) % 180 - 90
    axes.annotate(words, middle, xytext=(0, 0), textcoords="offset points", ha="center",
                  va="center", fontsize=size, rotation=90 if turn == -90 else turn,
                  bbox={"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none"})


def view_title(axes: Any, words: str) -> None:
    """The title of a view, left above it.

    Its height is given: to find one, every tick of the hidden axes would be laid out.

    Args:
        axes: of matplotlib.
        words: written.
    """
    axes.set_title(words, fontsize=8, loc="left", y=1.0)


def rectangle(
    axes: Any, low: tuple[float, float], high: tuple[float, float], **style: Any
) -> None:
    """An upright rectangle between two corners.

    Args:
        axes: of matplotlib.
        low: (x, y) of the lower left corner.
        high: (x, y) of the upper right corner.
        style: of its patch.
    """
    from matplotlib.patches import Rectangle

    (left, bottom), (right, top) = low, high
    axes.add_patch(Rectangle((left, bottom), right - left, top - bottom, **{"ec": INK, **style}))


def text_block(
    figure: Any, place: tuple[float, float], title: str, lines: Sequence[str], width: int, *,
    size: float = 7.0, step: float = 0.0165,
) -> float:
    """A titled block of wrapped lines; returns the height it ends at (share of the figure).

    Args:
        figure: of matplotlib.
        place: (x, y) as shares of the figure.
        title: of the block.
        lines: each wrapped.
        width: letters of a line.
        size: of the type, points.
        step: line distance, share of the figure.
    """
    x, y = place
    figure.text(x, y, title, fontsize=size + 1, fontweight="bold", va="top", color=INK)
    y -= step * 1.35
    for line in lines:
        for number, piece in enumerate(textwrap.wrap(line, width) or [""]):
            figure.text(x + (0.008 if number else 0.0), y, piece, fontsize=size, va="top",
                        color=INK)
            y -= step
    return y


def rows_block(
    figure: Any, place: tuple[float, float], title: str, rows: Sequence[tuple[str, ...]],
    columns: Sequence[float], *, size: float = 7.0, step: float = 0.0165,
) -> float:
    """A titled table; ``columns`` are offsets of the columns, the rows' first is left bound.

    Args:
        figure: of matplotlib.
        place: (x, y) as shares of the figure.
        title: of the table.
        rows: of entries.
        columns: offsets of the columns; the rows' first is left bound.
        size: of the type, points.
        step: line distance, share of the figure.
    """
    x, y = place
    figure.text(x, y, title, fontsize=size + 1, fontweight="bold", va="top", color=INK)
    y -= step * 1.35
    for row in rows:
        for number, (entry, offset) in enumerate(zip(row, columns, strict=False)):
            figure.text(x + offset, y, entry, fontsize=size, va="top",
                        ha="left" if number == 0 else "right", color=INK)
        y -= step
    return y


def page(title: str, subtitle: str) -> Any:
    """An empty A4 sheet with a frame and its title.

    Args:
        title: first line.
        subtitle: second line.
    """
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle

    figure = Figure(figsize=PAPER, dpi=150)
    figure.add_artist(Rectangle((0.02, 0.025), 0.96, 0.95, fill=False, lw=0.8, ec=INK,
                                transform=figure.transFigure))
    figure.text(0.035, 0.945, title, fontsize=11, fontweight="bold", va="center", color=INK)
    figure.text(0.035, 0.915, subtitle, fontsize=8.5, va="center", color=INK)
    return figure
