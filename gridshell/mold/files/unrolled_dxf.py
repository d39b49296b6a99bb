"""DXF drawing of the unrolled pattern of a casting, at the skin and at the rib tips.

Both are drawn side by side at the part's own size (or the mold's), in mm or, for a job in inches,
in inches: hoop length at the radius of the face across, axial length up. Corners are arcs, so that
a cutter or a CAD program gets true geometry.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.files.replacing import replacing
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.mold.relief.outline import Loops, circle_loops, polygon_loops, rectangle_corners
from gridshell.mold.relief.ribbing import Ribbing
from gridshell.wall.geometry.lattice import Lattice
from gridshell.wall.geometry.mass import at_radius, pocket_outline_at

# Layer: (color index of the DXF standard palette, line type, what is on it).
LAYERS = {
    "EDGE": (7, "CONTINUOUS", "edges of the casting"),
    "LAND": (8, "DASHED", "inner edges of the solid lands"),
    "POCKET": (5, "CONTINUOUS", "pocket outlines"),
    "RIB_CENTER": (1, "CENTER", "rib center lines"),
    "CUTOUT": (3, "CONTINUOUS", "windows and vent holes"),
    "TEXT": (7, "CONTINUOUS", "titles"),
}
GAP = 0.08  # of the width, between the two patterns


def bulged(loops: Loops, index: int, scale: float, origin: Array) -> list[tuple[float, ...]]:
    """One outline as polyline points (x, y, bulge); bulge = tan(sweep/4) of the arc that follows.

    DXF reference, LWPOLYLINE, group code 42: tangent of a quarter of the included angle.

    Args:
        loops: the outlines.
        index: number of the outline.
        scale: size drawn over that of the outline.
        origin: (2,) where its zero lies.
    """
    start = loops.start[index] * scale + origin
    bulge = np.where(loops.arc, np.tan(loops.sweep[index] / 4), 0.0)
    return [(float(x), float(y), float(b)) for (x, y), b in zip(start, bulge, strict=True)]


def unrolled_drawing(
    design: Design, grid: Lattice, ribs: Ribbing, title: str, scale: float = 1.0
) -> Any:
    """The drawing as an ezdxf document.

    Args:
        design: one casting.
        grid: one casting.
        ribs: one casting.
        title: written above.
        scale: size drawn over the part's.
    """
    import ezdxf

    drawing = ezdxf.new("R2010", setup=["linetypes"])
    inch = design.units == "inch"
    drawing.header["$INSUNITS"] = 1 if inch else 4  # DXF reference: 1 inches, 4 millimeters
    drawing.header["$MEASUREMENT"] = 0 if inch else 1
    size = "part size" if scale == 1 else f"mold size, {scale:.5f} times the part"
    scale *= 1 / 0.0254 if inch else 1e3  # from m of the part to the unit of the drawing
    unit = "in" if inch else "mm"
    for name, (color, line, _) in LAYERS.items():
        drawing.layers.add(name, color=color, linetype=line)
    space = drawing.modelspace()
    height = float(design.ribs.height) if design.has_ribs else 0.0
    faces = [("at the skin", 0.0), ("at the rib tips", height)] if design.has_ribs else [
        ("skin", 0.0)]
    left = 0.0
    text = max(3e-3 * scale, 0.012 * float(design.section_length) * scale)
    for words, depth in faces:
        radius = float(pocket_outline_at(design, grid, depth)[0])
        width = 2 * math.pi * radius / grid.segments * scale
        _pattern(space, design, grid, ribs, depth=depth, scale=scale, middle=left + width / 2)
        top = float(design.section_length) * scale
        _text(space, f"{words}, radius {radius * scale:.{4 if inch else 2}f} {unit}",
              (left, top + text), text)
        left += width * (1 + GAP)
    _text(space, f"{title}: unrolled, {unit}, {size}",
          (0.0, float(design.section_length) * scale + 3 * text), text)
    return drawing


def _text(space: Any, words: str, place: tuple[float, float], height: float) -> None:
    space.add_text(words, height=height, dxfattribs={"layer": "TEXT"}).set_placement(place)


def _pattern(
    space: Any, design: Design, grid: Lattice, ribs: Ribbing, *, depth: float, scale: float,
    middle: float,
) -> None:
    """One face; its hoop length is counted from ``middle``, in the unit of the drawing."""
    radius, inset, stated = (float(v) for v in pocket_outline_at(design, grid, depth))
    origin = np.array([middle, 0.0])
    half = math.pi * radius / grid.segments
    length = float(design.section_length)
    _box(space, "EDGE", np.array([[-half, 0.0], [half, length]]) * scale + origin)
    # Lands are the same angle wide on every face.
    panel = float(grid.panel_width) / 2 * radius / float(grid.radius)
    end = float(grid.end_land)
    if panel < half - 1e-9 or end > 0:
        _box(space, "LAND", np.array([[-panel, end], [panel, length - end]]) * scale + origin)
    sides = []
    for group in ribs.pockets:
        corners = at_radius(group.corners, np.full(len(group.corners), radius), grid.radius)
        less = float(design.ribs.corner_radius) - group.corner_radius
        loops = polygon_loops(corners, inset, max(stated - less, 0.0))
        for index in range(len(corners)):
            space.add_lwpolyline(bulged(loops, index, scale, origin), format="xyb", close=True,
                                 dxfattribs={"layer": "POCKET"})
        sides.append(np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2, 2))
    for start, end in straight_runs(np.concatenate(sides) * scale + origin) if sides else ():
        space.add_line(tuple(map(float, start)), tuple(map(float, end)),
                       dxfattribs={"layer": "RIB_CENTER"})
    for cutout in ribs.cutouts:
        center = np.array([[cutout.hoop * radius / float(grid.radius), cutout.axial]])
        if cutout.stated.shape == "round":
            outline = circle_loops(center, cutout.stated.diameter / 2)
        else:
            outline = polygon_loops(rectangle_corners(center, *cutout.size), 0.0,
                                    cutout.stated.corner_radius)
        space.add_lwpolyline(bulged(outline, 0, scale, origin), format="xyb", close=True,
                             dxfattribs={"layer": "CUTOUT"})


def _box(space: Any, layer: str, ends: Array) -> None:
    """An upright rectangle between two opposite corners (2, 2), mm."""
    (left, low), (right, high) = ends
    corners = [[left, low], [right, low], [right, high], [left, high]]
    space.add_lwpolyline([tuple(map(float, c)) for c in corners], close=True,
                         dxfattribs={"layer": layer})


def straight_runs(sides: Array) -> Array:
    """Sides that follow or cover each other on one line, as one: a rib from end to end.

    Args:
        sides: (n, 2, 2) both ends of each.

    >>> straight_runs(np.array([[[0, 0], [1, 0]], [[2, 0], [1, 0]], [[0, 1], [0, 2.0]]])).tolist()
    [[[0.0, 0.0], [2.0, 0.0]], [[0.0, 1.0], [0.0, 2.0]]]
    """
    near = 1e-9 * float(np.abs(sides).max())
    along = sides[:, 1] - sides[:, 0]
    back = (along[:, 0] < -near) | ((np.abs(along[:, 0]) <= near) & (along[:, 1] < 0))
    sides = np.where(back[:, None, None], sides[:, ::-1], sides)
    along = sides[:, 1] - sides[:, 0]
    way = along / np.linalg.norm(along, axis=1, keepdims=True)
    line = _clusters(np.arctan2(way[:, 1], np.maximum(way[:, 0], 0)), 1e-7)
    # One direction for all that are parallel, or long lines would drift apart.
    way = way[np.unique(line, return_index=True)[1]][line]
    offset = way[:, 0] * sides[:, 0, 1] - way[:, 1] * sides[:, 0, 0]
    line = line * len(sides) + _clusters(offset, 1e3 * near)
    low, high = (np.einsum("nc,nc->n", way, sides[:, end]) for end in (0, 1))
    order = np.lexsort((low, line))
    low, high, line = low[order], high[order], line[order]
    # The farthest end so far on each line: what is on the next one begins anew.
    room = 2 * (np.ptp(np.concatenate([low, high])) + 1)
    step = np.cumsum(np.r_[0, line[1:] != line[:-1]]) * room
    reach = np.maximum.accumulate(high + step)
    begins = np.r_[True, (low + step)[1:] > reach[:-1] + 1e3 * near]
    last = np.r_[np.flatnonzero(begins)[1:] - 1, len(order) - 1]
    farthest = np.array([
        first + np.argmax(high[first:end + 1])
        for first, end in zip(np.flatnonzero(begins), last, strict=True)], int)
    return np.stack([sides[order[begins], 0], sides[order[farthest], 1]], axis=1)


def _clusters(values: Array, gap: float) -> np.ndarray:
    """Number of the group of each value, where groups lie more than a gap apart."""
    order = np.argsort(values)
    number = np.empty(len(values), np.int64)
    number[order] = np.cumsum(np.r_[0, np.diff(values[order]) > gap])
    return number


def write_unrolled(
    path: str | Path, design: Design, grid: Lattice, ribs: Ribbing, title: str | None = None, *,
    scale: float = 1.0, force: bool = True,
) -> None:
    """Write the drawing, whole or not at all; see `unrolled_drawing`.

    Args:
        path: of the file.
        design: one design (no arrays).
        grid: its lattice.
        ribs: pockets and cut-outs of one cast segment.
        title: written above; the design's if left out.
        scale: size drawn over the part's.
        force: replace a file that is there.

    Raises:
        InputError: the file can't be written, or is there and ``force`` is False.
    """
    drawing = unrolled_drawing(design, grid, ribs, title or design.title, scale)
    with replacing(path, force) as scratch:
        drawing.saveas(scratch)
