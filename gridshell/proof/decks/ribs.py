"""Shell mesh of a tube with its ribs: the skin's middle surface, each rib on its true height.

The skin of the quarter cell is meshed as in `gridshell.proof.cell.mesh`; mirrored copies make the
tube. Ribs stand on their center lines in layers whose thickness follows draft, root fillet and the
rounded corners of the pockets, which widen the ribs toward their nodes. From the middle surface to
the face of the skin a link carries them, which has no stiffness along the rib: that material is the
skin's. Under the foot of a rib the skin is stiffer across it, in shear and in bending across, as
`gridshell.wall.stiffness.strip` has it from solved cross-sections.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.types import Array, IntArray
from gridshell.proof.cell.compare import cell_of
from gridshell.proof.cell.geometry import (
    COARSE,
    Cell,
    Resolution,
    half_corner,
    outline,
    rib_levels,
    sectors,
)
from gridshell.proof.cell.mesh import fan
from gridshell.proof.decks.model import (
    Model,
    Part,
    Plate,
    Rim,
    areas,
    check_size,
    shell_rim,
)
from gridshell.proof.mesh.mesh import copied, even_strips, fitted, merged
from gridshell.wall.assess import Wall
from gridshell.wall.geometry.rib_section import fillet_area
from gridshell.wall.stiffness.strip import strip_lengths

LAYERS = 3  # of a rib, beside the link
# Share of a corner's rounding that a rib gains in width: load does not spread into all of it.
# Chosen on one isogrid and one orthogrid so that EA is that of the wall's formula (README).
_ACTS = 0.7
PER_POCKET = 4.0  # at least
_LEAST = 0.02  # of the skin's compliance that is left under a rib
# Side of an element over sqrt(radius x thickness): buckles are longer than that. In the fans of
# triangles flat elements also follow the cylinder in a zigzag along the axis, which gives way by
# bending the more, the deeper it is over the thickness.
_SIDE = 0.6


def rib_mesh(design: Design, wall: Wall, per_pocket: float | None = None) -> Model:
    """Skin and ribs as shells, the grid from end to end.

    Args:
        design: one design.
        wall: of the design.
        per_pocket: elements along one rib between two nodes, at least 4; None: as many as the
            curvature asks for.

    Raises:
        InputError: a pattern that has no repeating rectangle or no ribs, or too large a mesh.
    """
    if not design.has_ribs:
        raise InputError("--as ribs: ribs.pattern 'plain' has none; use --as wall or --as solid")
    if per_pocket is not None and not per_pocket >= PER_POCKET:
        raise InputError(
            f"--per-pocket {per_pocket:g}: must be at least {PER_POCKET:g} for --as ribs")
    length = float(design.tube.length)
    cell, along, around = fitted(cell_of(design, wall.grid), length)
    size, notes = _resolution(cell, per_pocket)
    each = len(sectors(cell)) * (
        2 * size.fan * size.node + size.node**2 + 2 * size.node * (LAYERS + 2))
    check_size(f"--per-pocket {4 * size.node}", each * along * around)

    foot, skin, ribs = _quarter(cell, size)
    lines = np.concatenate(ribs)
    spans = cell.along_axis / 2, cell.round_hoop / 2
    strips = even_strips(along, spans[0]), even_strips(around, spans[1])
    quads = np.concatenate([
        copied(part.reshape(-1, 2), spans, *strips).reshape(-1, 4, 2) for part in (foot, skin)])
    feet = copied(lines.reshape(-1, 2), spans, *strips).reshape(-1, 2, 2)
    heights, thicknesses = _layers(cell)
    extra = np.tile(_gussets(cell, ribs), (1, len(feet) // len(lines)))
    places = [np.concatenate([quads, np.zeros((*quads.shape[:2], 1))], axis=2).reshape(-1, 3)]
    for low, high in pairwise(heights):
        strip = np.concatenate([feet, feet[:, ::-1]], axis=1)
        z = cell.side * np.array([low, low, high, high])
        places.append(np.concatenate(
            [strip, np.broadcast_to(z[:, None], (*strip.shape[:2], 1))], axis=2).reshape(-1, 3))
    flat = np.concatenate(places)
    out = cell.radius + flat[:, 2]
    angle = flat[:, 1] / cell.radius
    bent = np.stack([flat[:, 0], out * np.sin(angle), out * np.cos(angle)], axis=1)
    number = merged(bent, 1e-6 * min(cell.thickness, *spans))
    points = np.empty((int(number.max()) + 1, 3))
    points[number] = bent
    cells = np.asarray(number.reshape(-1, 4), dtype=int)
    ways = _ways(feet)

    first = len(quads)
    known = wall.properties
    modulus, poisson = float(known.modulus), float(known.poisson)
    density = float(known.density)
    skins = _upright(points, cells[:first])
    under = len(foot) * along * around
    plate = Plate(cell.thickness, modulus, poisson, density)
    parts = [Part("FOOT", skins[:under], _foot(plate, wall, cell)),
             Part("SKIN", skins[under:], plate)]
    for k, (thick, name) in enumerate(thicknesses):
        block = cells[first + k * len(feet): first + (k + 1) * len(feet)]
        wide = thick + (0.0 * extra[0] if k == 0 else extra[k - 1])
        parts += _rib_parts(block, ways, name, wide, modulus, poisson)
    parts = _weighed(points, parts, float(wall.areal_mass) * 2 * np.pi * cell.radius * length,
                     density, float(wall.tube_mass))
    rims = (_rim(points, parts, 0.0, cell.radius), _rim(points, parts, length, cell.radius))
    return Model(
        "ribs", np.concatenate([points, [[0.0, 0.0, 0.0], [length, 0.0, 0.0]]]), tuple(parts),
        rims, np.stack([np.arange(first), np.zeros(first, dtype=int)], axis=1),
        radius=cell.radius, length=length, notes=notes,
    )


def _resolution(cell: Cell, per_pocket: float | None) -> tuple[Resolution, tuple[str, ...]]:
    """Elements of a quarter cell, and a note if they are few."""
    long, deep = (max(float(np.linalg.norm(getattr(one, to) - one.node)) for one in sectors(cell))
                  for to in ("middle", "center"))
    side = _SIDE * float(np.sqrt(cell.radius * cell.thickness))
    usual = int(np.ceil(long / (2 * side)))
    part = usual if per_pocket is None else int(np.ceil(per_pocket / 4))
    fans = max(round(deep / 2 / (long / (2 * part))), 1)
    notes = () if part > 0.6 * usual else (
        f"elements {long / part * 500:.3g} mm long are coarse for this radius and skin: stiffness "
        f"comes out low; take --per-pocket {4 * usual}",)
    return Resolution(part, part, across=1, fan=fans), notes


def _quarter(cell: Cell, size: Resolution) -> tuple[Array, Array, list[Array]]:
    """Quads (n, 4, 2) of the skin under ribs and between them, first side along the rib, and
    segments (m, 2, 2) of the rib of each sector, of a quarter cell."""
    _, offsets, radii = rib_levels(cell, COARSE)
    steps = size.node + size.span
    if cell.pattern == "orthogrid":
        return _rectangles(cell, float(offsets[0]), steps)
    share = np.linspace(0, 1, steps + 1)
    feet, skins, lines = [], [], []
    for sector in sectors(cell):
        middle = sector.node + share[:, None] * (sector.middle - sector.node)
        edge = outline(sector, offsets[0], radii[0], 1.0, share)
        feet.append(_quads(np.stack([middle, edge], axis=1)))
        skins += [_quads(grid) for grid in fan(edge, sector.center, size, crowded=False)]
        lines.append(np.stack([middle[:-1], middle[1:]], axis=1))
    return np.concatenate(feet), np.concatenate(skins), lines


def _quads(grid: Array) -> Array:
    """Of a grid of points (i, j, 2), (n, 4, 2), first side along i."""
    corners = [grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]]
    return np.stack(corners, axis=2).reshape(-1, 4, 2)


def _rectangles(cell: Cell, offset: float, steps: int) -> tuple[Array, Array, list[Array]]:
    """`_quarter` of an orthogrid: lines along and round the tube, pockets with sharp corners."""
    half = np.array([cell.along_axis, cell.round_hoop]) / 2
    if not offset < half.min():
        raise InputError(f"ribs.width: ribs {2 * offset * 1e3:g} mm wide at the skin leave no "
                         "pocket")
    # Elements as long as wide, about: the shorter side has fewer steps.
    x, y = (np.concatenate([[0.0], np.linspace(
        offset, one, max(round(steps * one / half.max()), 2))]) for one in half)
    grid = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
    feet = [_quads(grid[:, :2]), _quads(grid[:2, 1:].transpose(1, 0, 2))]
    lines = [np.stack([line[:-1], line[1:]], axis=1) for line in (grid[:, 0], grid[0])]
    return np.concatenate(feet), _quads(grid[1:, 1:]), lines


def _foot(skin: Plate, wall: Wall, cell: Cell) -> Plate:
    """The skin under a rib and its fillets: its compliance less the length that the rib takes."""
    found = strip_lengths(skin.thickness, wall.sections[0], cell.root_fillet)
    width = 2 * float(rib_levels(cell, COARSE)[1][0])
    across, shear, bending = (
        1 / max(1 - float(length) / width, _LEAST)
        for length in (found.stretch, found.shear, found.bend))
    return replace(skin, across=across, shear=shear, bending=bending)


def _layers(cell: Cell) -> tuple[Array, list[tuple[float, str]]]:
    """Heights above the middle surface, and thickness and name of each layer between them."""
    foot = cell.thickness / 2
    heights = np.concatenate([[0.0], foot + np.linspace(0, cell.height, LAYERS + 1)])
    middle = cell.height * (np.arange(LAYERS) + 0.5) / LAYERS
    wide = cell.width + 2 * (cell.height - middle) * np.tan(cell.draft)
    fillets = 2 * float(fillet_area(cell.root_fillet, np.pi / 2 + cell.draft))
    wide[0] += fillets * LAYERS / cell.height
    root = cell.width + 2 * cell.height * np.tan(cell.draft)
    return heights, [(root, "LINK"), *(
        (float(w), f"RIB_{k}") for k, w in enumerate(wide, 1))]


def _gussets(cell: Cell, ribs: list[Array]) -> Array:
    """What rounded pocket corners add to the width of a rib, (layers, segments) of a quarter cell.

    The mean over each segment, of both sides; as far as the corner's bisector it stays as it is
    there, since the node belongs to every rib that meets in it. In steps of a twentieth of the
    rib, so that few sections differ.
    """
    found = np.zeros((LAYERS, sum(map(len, ribs))))
    if not cell.corner_radius > 0:
        return found
    for k in range(LAYERS):
        up = cell.height * (k + 0.5) / LAYERS
        offset = cell.width / 2 + (cell.height - up) * np.tan(cell.draft)
        radius = cell.corner_radius + up * np.tan(cell.draft)
        wide = []
        for sector, lines in zip(sectors(cell), ribs, strict=True):
            half = half_corner(sector)
            tangent = (offset + radius) / np.tan(half)
            ends = np.linalg.norm(lines - sector.node, axis=2)
            place = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * (np.arange(50) + 0.5) / 50
            sine = np.clip((tangent - place) / radius, 0.0, np.cos(half))
            wide.append(2 * _ACTS * radius * (1 - np.sqrt(1 - sine**2)).mean(axis=1))
        found[k] = np.concatenate(wide)
    step = cell.width / 20
    return np.asarray(np.rint(found / step) * step)


def _ways(feet: Array) -> Array:
    """Direction of each segment: 0 axial, 1 hoop, 2 diagonal."""
    step = np.abs(feet[:, 1] - feet[:, 0])
    slope = step / np.linalg.norm(step, axis=1)[:, None]
    return np.where(slope[:, 1] < 1e-6, 0, np.where(slope[:, 0] < 1e-6, 1, 2))


def _rib_parts(
    block: IntArray, ways: Array, name: str, thickness: Array, modulus: float, poisson: float
) -> list[Part]:
    """Ribs of one layer. Inside the tube each is met from both sides; one that is met once lies on
    an end, which cuts it in half."""
    _, first, met = np.unique(np.sort(block, axis=1), axis=0, return_index=True, return_counts=True)
    widths = np.unique(thickness)
    parts = []
    for way, word in enumerate(("AXIAL", "HOOP", "DIAGONAL")):
        for times, half in ((2, ""), (1, "_END")):
            for step, wide in enumerate(widths):
                which = first[(met == times) & (ways[first] == way) & (thickness[first] == wide)]
                if len(which):
                    parts.append(Part(
                        f"{name}_{word}{half}" + (f"_{step}" if step else ""),
                        block[np.sort(which)],
                        Plate(float(wide) * times / 2, modulus, poisson, 0.0, name == "LINK")))
    return parts


def _upright(points: Array, cells: IntArray) -> IntArray:
    """Corners in the order that is counterclockwise seen from outside."""
    a, b, c, d = (points[cells[:, k]] for k in range(4))
    normal, middle = np.cross(c - a, d - b), a + b + c + d
    inward = np.einsum("ij,ij->i", normal[:, 1:], middle[:, 1:]) < 0
    return np.where(inward[:, None], cells[:, ::-1], cells)


def _weighed(
    points: Array, parts: list[Part], mass: float, density: float, whole: float
) -> list[Part]:
    """Ribs as heavy as they are: lines count nodes twice, and the layers follow the draft. Then all
    of it as heavy as the tube with its lands."""
    def volume(part: Part) -> float:
        return _thickness(part) * float(areas(points, part.cells).sum())

    ribs = sum(volume(part) for part in parts if part.name.startswith("RIB"))
    skin = sum(volume(part) for part in parts if part.name in ("FOOT", "SKIN"))
    heavy = (mass - density * skin) / ribs
    share = whole / mass
    found = []
    for part in parts:
        assert isinstance(part.section, Plate)
        if not part.section.link:
            own = share * (heavy if part.name.startswith("RIB") else density)
            part = replace(part, section=replace(part.section, density=own))
        found.append(part)
    return found


def _thickness(part: Part) -> float:
    assert isinstance(part.section, Plate)
    return part.section.thickness


def _rim(points: Array, parts: list[Part], place: float, radius: float) -> Rim:
    """The end at a place: sides of elements that lie in its plane."""
    edges, thick = [], []
    for part in parts:
        sides = part.cells[:, [[0, 1], [1, 2], [2, 3], [3, 0]]].reshape(-1, 2)
        on = (np.abs(points[sides, 0] - place) < 1e-6 * radius).all(axis=1)
        # Only free sides count: a rib that lies in the plane has all of its sides there.
        flat = on.reshape(-1, 4).all(axis=1).repeat(4)
        chosen = np.unique(np.sort(sides[on & ~flat], axis=1), axis=0)
        edges.append(chosen)
        link = part.name.startswith("LINK")
        thick.append(np.full(len(chosen), 0.0 if link else _thickness(part)))
        if flat.any():
            edges.append(np.unique(np.sort(sides[flat], axis=1), axis=0))
            thick.append(np.zeros(len(edges[-1])))
    return shell_rim(points, np.concatenate(edges), np.concatenate(thick), radius)
