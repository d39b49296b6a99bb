"""Shell mesh of a tube with its ribs: the skin's middle surface, each rib on its true height.

The skin of the quarter cell is meshed as in `gridshell.proof.cell.mesh`, with ribs that are lines;
mirrored copies make the tube. Ribs stand on these lines in layers whose thickness follows draft and
root fillet. From the middle surface to the face of the skin a link carries them, which has no
stiffness along the rib: that material is the skin's.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.types import Array, IntArray
from gridshell.proof.cell.compare import cell_of
from gridshell.proof.cell.geometry import Cell, Resolution, sectors
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

LAYERS = 3  # of a rib, beside the link
PER_POCKET = 4.0


def rib_mesh(design: Design, wall: Wall, per_pocket: float = PER_POCKET) -> Model:
    """Skin and ribs as shells, the grid from end to end.

    Args:
        design: one design.
        wall: of the design.
        per_pocket: elements along one rib between two nodes, at least 4.

    Raises:
        InputError: a pattern that has no repeating rectangle or no ribs, or too large a mesh.
    """
    if not design.has_ribs:
        raise InputError("--as ribs: ribs.pattern 'plain' has none; use --as wall or --as solid")
    if not per_pocket >= 4:
        raise InputError(f"--per-pocket {per_pocket:g}: must be at least 4 for --as ribs")
    length = float(design.tube.length)
    cell, along, around = fitted(cell_of(design, wall.grid), length)
    part = int(np.ceil(per_pocket / 4))
    size = Resolution(part, part, fan=part)
    # Every sector: 3 blocks of skin, and a strip of rib; 12 sectors a cell at most.
    each = sum(1 for _ in sectors(cell)) * (3 * part**2 + part * (LAYERS + 1))
    check_size(f"--per-pocket {per_pocket:g}", each * along * around)

    skin, lines = _quarter(cell, size)
    spans = cell.along_axis / 2, cell.round_hoop / 2
    strips = even_strips(along, spans[0]), even_strips(around, spans[1])
    quads = copied(skin.reshape(-1, 2), spans, *strips).reshape(-1, 4, 2)
    feet = copied(lines.reshape(-1, 2), spans, *strips).reshape(-1, 2, 2)
    heights, thicknesses = _layers(cell)
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
    parts = [Part("SKIN", skins, Plate(cell.thickness, modulus, poisson, density))]
    for k, (thick, name) in enumerate(thicknesses):
        block = cells[first + k * len(feet): first + (k + 1) * len(feet)]
        parts += _rib_parts(block, ways, name, thick, modulus, poisson)
    parts = _weighed(points, parts, float(wall.areal_mass) * 2 * np.pi * cell.radius * length,
                     density)
    rims = (_rim(points, parts, 0.0, length), _rim(points, parts, length, length))
    return Model(
        "ribs", np.concatenate([points, [[0.0, 0.0, 0.0], [length, 0.0, 0.0]]]), tuple(parts),
        rims, np.stack([np.arange(first), np.zeros(first, dtype=int)], axis=1),
        radius=cell.radius, length=length,
    )


def _quarter(cell: Cell, size: Resolution) -> tuple[Array, Array]:
    """Quads (n, 4, 2) of the skin and segments (m, 2, 2) of the ribs of a quarter cell."""
    quads, lines = [], []
    for sector in sectors(cell):
        share = np.linspace(0, 1, size.node + size.span + 1)[:, None]
        foot = sector.node + share * (sector.middle - sector.node)
        for grid in fan(foot, sector.center, size):
            corners = np.stack([grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]], axis=2)
            quads.append(corners.reshape(-1, 4, 2))
        lines.append(np.stack([foot[:-1], foot[1:]], axis=1))
    return np.concatenate(quads), np.concatenate(lines)


def _layers(cell: Cell) -> tuple[Array, list[tuple[float, str]]]:
    """Heights above the middle surface, and thickness and name of each layer between them."""
    foot = cell.thickness / 2
    heights = np.concatenate([[0.0], foot + np.linspace(0, cell.height, LAYERS + 1)])
    middle = cell.height * (np.arange(LAYERS) + 0.5) / LAYERS
    wide = cell.width + 2 * (cell.height - middle) * np.tan(cell.draft)
    fillets = 2 * float(fillet_area(cell.root_fillet, np.pi / 2 + cell.draft))
    wide[0] += fillets * LAYERS / cell.height
    root = cell.width + 2 * cell.height * np.tan(cell.draft)
    return heights, [(root, "LINK"), *((float(w), "RIB") for w in wide)]


def _ways(feet: Array) -> Array:
    """Direction of each segment: 0 axial, 1 hoop, 2 diagonal."""
    step = np.abs(feet[:, 1] - feet[:, 0])
    slope = step / np.linalg.norm(step, axis=1)[:, None]
    return np.where(slope[:, 1] < 1e-6, 0, np.where(slope[:, 0] < 1e-6, 1, 2))


def _rib_parts(
    block: IntArray, ways: Array, name: str, thickness: float, modulus: float, poisson: float
) -> list[Part]:
    """Ribs of one layer. Inside the tube each is met from both sides; one that is met once lies on
    an end, which cuts it in half."""
    _, first, met = np.unique(np.sort(block, axis=1), axis=0, return_index=True, return_counts=True)
    parts = []
    for way, word in enumerate(("AXIAL", "HOOP", "DIAGONAL")):
        for times, half in ((2, ""), (1, "_END")):
            which = first[(met == times) & (ways[first] == way)]
            if len(which):
                parts.append(Part(
                    f"{name}_{word}{half}", block[np.sort(which)],
                    Plate(thickness * times / 2, modulus, poisson, 0.0, name == "LINK")))
    return parts


def _upright(points: Array, cells: IntArray) -> IntArray:
    """Corners in the order that is counterclockwise seen from outside."""
    a, b, c, d = (points[cells[:, k]] for k in range(4))
    normal, middle = np.cross(c - a, d - b), a + b + c + d
    inward = np.einsum("ij,ij->i", normal[:, 1:], middle[:, 1:]) < 0
    return np.where(inward[:, None], cells[:, ::-1], cells)


def _weighed(points: Array, parts: list[Part], mass: float, density: float) -> list[Part]:
    """Ribs as heavy as they are: lines count nodes twice, and the layers follow the draft."""
    def volume(part: Part) -> float:
        return _thickness(part) * float(areas(points, part.cells).sum())

    ribs = sum(volume(part) for part in parts if part.name.startswith("RIB"))
    heavy = (mass - density * volume(parts[0])) / ribs
    return [
        replace(part, section=replace(part.section, density=heavy))
        if part.name.startswith("RIB") and isinstance(part.section, Plate) else part
        for part in parts
    ]


def _thickness(part: Part) -> float:
    assert isinstance(part.section, Plate)
    return part.section.thickness


def _rim(points: Array, parts: list[Part], place: float, length: float) -> Rim:
    """The end at a place: sides of elements that lie in its plane."""
    edges, thick = [], []
    for part in parts:
        sides = part.cells[:, [[0, 1], [1, 2], [2, 3], [3, 0]]].reshape(-1, 2)
        on = (np.abs(points[sides, 0] - place) < 1e-6 * length).all(axis=1)
        # Only free sides count: a rib that lies in the plane has all of its sides there.
        flat = on.reshape(-1, 4).all(axis=1).repeat(4)
        chosen = np.unique(np.sort(sides[on & ~flat], axis=1), axis=0)
        edges.append(chosen)
        link = part.name.startswith("LINK")
        thick.append(np.full(len(chosen), 0.0 if link else _thickness(part)))
        if flat.any():
            edges.append(np.unique(np.sort(sides[flat], axis=1), axis=0))
            thick.append(np.zeros(len(edges[-1])))
    return shell_rim(points, np.concatenate(edges), np.concatenate(thick))
