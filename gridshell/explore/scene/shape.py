"""Light mesh of the tube and of one mold, straight from the pocket outlines; no CAD kernel.

The outlines are those that the solids are laid from (`gridshell.mold.relief.ribbing`), so what
turns on the screen has the pockets that are weighed and cast. Left out: root fillets, holes and
keys of the flanges, cut-outs; the exact solids have them.

Lengths are mm. The frame is that of the mold: x along the tube, the crown of a casting at +z, the
pull along z.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.mold.checks.release.flanks import out_of_mold
from gridshell.mold.relief.outline import polygon_loops
from gridshell.mold.relief.ribbing import Pockets, ribbing
from gridshell.wall.geometry.lattice import Lattice, lattice
from gridshell.wall.geometry.mass import at_radius, is_left_solid, pocket_outline_at, rib_side
from gridshell.wall.geometry.pattern import panel_pockets

FACET = math.radians(6.0)  # of a cylinder; leaves a 49 mm radius by 0.07 mm
_FINEST = math.radians(3.0)
_LEAVES = 0.15  # share of the skin by which a facet may leave the cylinder, within those two
CHORDS = 2  # straight pieces of a pocket's corner arc
ON_FLOOR = -0.5  # mark of pocket floors
_SAME = 1e-8  # m, by which corners of alike pockets may differ
_SHARP = 1e-7  # m, stands for a sharp corner so that every outline has its arcs
_MANY, _MOST = 800, 20_000  # pockets of a panel: coarser above, none drawn above


@dataclass(frozen=True)
class Mesh:
    """Triangles of one body.

    Attributes:
        points: (n, 3) mm.
        normals: (n, 3), out of the material.
        mark: (n,) above 0 the component along the pull of the normal of a flank that locks; 0 on
            other flanks, -0.5 on pocket floors, -1 elsewhere.
        triangles: (m, 3), counterclockwise seen from outside the material.
    """

    points: Array
    normals: Array
    mark: Array
    triangles: np.ndarray


@dataclass(frozen=True)
class Repeated:
    """A mesh that stands at many places about the axis: alike pockets are drawn once.

    Attributes:
        mesh: at angle 0 and x = 0; flanks are marked 0, for what locks depends on the place.
        places: (n, 2) angle about the axis, rad, and shift along it, mm.
        pull: +1 or -1, the way along z in which the piece leaves its mold.
    """

    mesh: Mesh
    places: Array
    pull: float

    @property
    def everywhere(self) -> Mesh:
        """The mesh at all of its places as one, with its marks."""
        turn, count = self.places[:, :1], len(self.places)
        points, normals = (_turned(vectors, turn) for vectors in (
            self.mesh.points, self.mesh.normals))
        points[..., 0] += self.places[:, 1:]
        lean = np.maximum(normals[..., 2] * self.pull, 0.0)
        first = np.arange(count)[:, None, None] * len(self.mesh.points)
        return Mesh(
            points.reshape(-1, 3), normals.reshape(-1, 3),
            np.where(self.mesh.mark >= 0, lean, self.mesh.mark).reshape(-1),
            (self.mesh.triangles + first).reshape(-1, 3),
        )


def _turned(vectors: Array, angle: Array) -> Array:
    """Vectors (m, 3) turned about the x axis by angles (n, 1): (n, m, 3)."""
    c, s = np.cos(angle), np.sin(angle)
    x, y, z = vectors.T
    return np.stack([np.broadcast_to(x, (len(angle), len(x))), c * y - s * z, s * y + c * z], -1)


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """Several as one."""
    if not meshes:
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0), np.zeros((0, 3), int))
    counts = np.cumsum([0, *(len(mesh.points) for mesh in meshes)])
    return Mesh(
        np.concatenate([mesh.points for mesh in meshes]),
        np.concatenate([mesh.normals for mesh in meshes]),
        np.concatenate([mesh.mark for mesh in meshes]),
        np.concatenate([
            mesh.triangles + first for mesh, first in zip(meshes, counts[:-1], strict=True)
        ]),
    )


def on_cylinder(hoop_angle: Array, x: Array, radius: Any) -> Array:
    """Points (..., 3) at an angle from the crown and an axial position."""
    shape = np.broadcast_shapes(np.shape(hoop_angle), np.shape(x), np.shape(radius))
    points = np.empty((*shape, 3))
    points[..., 0] = x
    np.multiply(np.sin(hoop_angle), -radius, out=points[..., 1])
    np.multiply(np.cos(hoop_angle), radius, out=points[..., 2])
    return points


def outward(hoop_angle: Array) -> Array:
    """Unit normals (..., 3) of a cylinder about the x axis."""
    return on_cylinder(hoop_angle, np.zeros_like(hoop_angle), 1.0)


def grid_mesh(points: Array, normals: Array, mark: Array | float = -1.0,
              flip: bool = False) -> Mesh:
    """Quads between neighbors of point grids (..., rows, columns, 3).

    Counterclockwise when columns x rows points along the normals; ``flip`` when against them.
    """
    *_, rows, columns, _ = points.shape
    blocks = points.reshape(-1, rows * columns, 3)
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b = index[:-1, :-1].ravel(), index[:-1, 1:].ravel()
    c, d = index[1:, 1:].ravel(), index[1:, :-1].ravel()
    one = np.concatenate([np.stack([a, b, c], -1), np.stack([a, c, d], -1)])
    if flip:
        one = one[:, ::-1]
    triangles = (
        one[None] + (np.arange(len(blocks)) * rows * columns)[:, None, None]
    ).reshape(-1, 3)
    marks = np.broadcast_to(mark, points.shape[:-1]).reshape(-1)
    return Mesh(blocks.reshape(-1, 3), np.broadcast_to(normals, points.shape).reshape(-1, 3),
                marks, triangles)


def steps(low: float, high: float, most: float) -> Array:
    """From low to high in equal steps of at most ``most``."""
    return np.linspace(low, high, max(1, math.ceil((high - low) / most - 1e-9)) + 1)


def facet_of(skin: float, radius: float) -> float:
    """Angle of a facet, so that a thin skin on a large radius still has a thickness, rad."""
    return float(np.clip(2 * math.acos(max(1 - _LEAVES * skin / radius, -1.0)), _FINEST, FACET))


def cylinder_patch(
    angles: Array, places: Array, radius: float, sign: float
) -> Mesh:
    """Part of a cylinder; ``sign`` +1 where the material lies inside it, -1 outside."""
    hoop, x = np.meshgrid(angles, places)
    return grid_mesh(on_cylinder(hoop, x, radius), sign * outward(hoop), flip=sign < 0)


@dataclass(frozen=True)
class Casting:
    """Surfaces of one casting (one segment of one section), about its crown, mm.

    Attributes:
        pockets: alike pockets with the ribs about them.
        lands: the rest of its ribbed side.
        smooth: its other side.
        edges: faces at its ends and seams.
        closed: stands for all pockets where those are not drawn: the tips of the ribs all over.
        drawn: pockets drawn.
        notes: what is not shown.
    """

    pockets: tuple[Repeated, ...]
    lands: Mesh
    smooth: Mesh
    edges: Mesh
    closed: Mesh
    drawn: int
    notes: tuple[str, ...]

    @property
    def ribbed(self) -> Mesh:
        """Its ribbed side, every pocket in place."""
        return joined([*(kind.everywhere for kind in self.pockets), self.lands])

    @property
    def points(self) -> int:
        """How many points its two sides have, every pocket in place."""
        return len(self.lands.points) + len(self.smooth.points) + sum(
            len(kind.mesh.points) * len(kind.places) for kind in self.pockets)

    @property
    def rest(self) -> Mesh:
        """All but the ribbed side."""
        return joined([self.smooth, self.edges])


def casting(design: Design, grid: Lattice | None = None, rows: int = 4) -> Casting:
    """The light mesh of one casting of one design.

    Args:
        design: one design.
        grid: as it is built; None: found here.
        rows: pieces along it where it is straight; more where it shall be bent.
    """
    grid = lattice(design) if grid is None else grid
    side, mm = rib_side(design), 1e3
    height = float(design.ribs.height) if design.has_ribs else 0.0
    skin, radius = float(design.skin.thickness), float(grid.radius)
    tip = radius + side * (skin / 2 + height)
    far = radius - side * skin / 2
    half = math.pi / grid.segments
    length = float(design.section_length)
    pockets, parts, drawn, notes = _pocketed(design, grid, tip, side)
    facet = facet_of(skin, radius)
    around = steps(-half, half, facet)
    closed = joined([])
    if drawn:
        edge = float(grid.panel_width) / 2 / radius
        low = float(grid.end_land)
        parts += [
            cylinder_patch(around, np.array(ends) * mm, tip * mm, side)
            for ends in ((0.0, low), (length - low, length)) if ends[1] - ends[0] > 1e-9
        ]
        parts += [
            cylinder_patch(steps(*ends, facet), np.linspace(low, length - low, max(rows - 2, 2))
                           * mm, tip * mm, side)
            for ends in ((-half, -edge), (edge, half)) if ends[1] - ends[0] > 1e-9
        ]
        closed = cylinder_patch(steps(-edge, edge, facet), np.array([low, length - low]) * mm,
                                tip * mm, side)
    else:
        parts.append(cylinder_patch(around, np.linspace(0.0, length, rows + 1) * mm, tip * mm,
                                    side))
    smooth = cylinder_patch(around, np.linspace(0.0, length, rows + 1) * mm, far * mm, -side)
    return Casting(
        pockets, lands=joined(parts), smooth=smooth, drawn=drawn, notes=notes,
        edges=_edges(around, length * mm, tip * mm, far * mm, grid), closed=closed,
    )


def _edges(around: Array, length: float, tip: float, far: float, grid: Lattice) -> Mesh:
    inner, outer = min(tip, far), max(tip, far)
    parts = []
    for x, sign in ((0.0, -1.0), (length, 1.0)):
        hoop, radius = np.meshgrid(around, np.array([inner, outer]))
        points = on_cylinder(hoop, np.full_like(hoop, x), radius)
        # Columns run round, rows outwards: their cross product points along -x.
        parts.append(grid_mesh(points, np.array([sign, 0.0, 0.0]), flip=sign > 0))
    if grid.segments > 1:
        for angle, sign in ((around[0], -1.0), (around[-1], 1.0)):
            x, radius = np.meshgrid(np.array([0.0, length]), np.array([inner, outer]))
            points = on_cylinder(np.full_like(x, angle), x, radius)
            normal = sign * np.array([0.0, -math.cos(angle), -math.sin(angle)])
            parts.append(grid_mesh(points, normal, flip=sign < 0))
    return joined(parts)


def _pocketed(
    design: Design, grid: Lattice, tip: float, side: float
) -> tuple[tuple[Repeated, ...], list[Mesh], int, tuple[str, ...]]:
    """Alike pockets with their ribs, the cells left solid, how many pockets, and notes."""
    if not design.has_ribs:
        return (), [], 0, ()
    if grid.pattern == "families":
        return (), [], 0, ("families of your own have no list of pockets: drawn as a plain wall",)
    found = ribbing(design, grid)
    count = found.count
    if count > _MOST:
        return (), [], 0, (f"{count:,} pockets in each casting: too many to draw, shown plain",)
    chords = CHORDS if count < _MANY else 1
    kinds = _kinds(design, grid, _alike(found.pockets, float(grid.radius)), chords)
    solid = []
    for kind in panel_pockets(grid):
        if kind.cut and bool(np.all(is_left_solid(design, grid, kind.corners[:1], True))):
            corners = kind.corners - [float(grid.panel_width) / 2, -float(grid.end_land)]
            solid.append(_solid_cells(corners, float(grid.radius), tip, side))
    notes = list(found.notes)
    if design.ribs.root_fillet:
        notes.append("root fillets are left out of the light mesh; the exact solids have them")
    return kinds, solid, count, tuple(notes)


def _kinds(
    design: Design, grid: Lattice, shapes: list[tuple[Array, float, Array]], chords: int
) -> tuple[Repeated, ...]:
    """A mesh for each shape of pocket; those of as many points are made in one call."""
    radius, pull = float(grid.radius), out_of_mold(design)
    facet = facet_of(float(design.skin.thickness), radius)
    alike: dict[tuple[int, float, int], list[int]] = {}
    for number, (corners, corner_radius, _) in enumerate(shapes):
        pieces = max(1, math.ceil(float(np.ptp(corners[0, :, 0])) / radius / facet))
        alike.setdefault((corners.shape[1], corner_radius, pieces), []).append(number)
    meshes: dict[int, Mesh] = {}
    for (_, corner_radius, pieces), numbers in alike.items():
        corners = np.concatenate([shapes[number][0] for number in numbers])
        made = _pocket_meshes(design, grid, corners, corner_radius, chords=chords, pieces=pieces)
        meshes.update(zip(numbers, made, strict=True))
    return tuple(Repeated(meshes[number], places, pull)
                 for number, (_, _, places) in enumerate(shapes))


def _alike(groups: Sequence[Pockets], radius: float) -> list[tuple[Array, float, Array]]:
    """Each shape of pocket once: corners (1, k, 2) from its first one, corner radius, places."""
    found = []
    for group in groups:
        first = group.corners[:, 0]
        shape = group.corners - first[:, None]
        places = first * [1 / radius, 1e3]
        left = np.arange(len(shape))
        while left.size:
            alike = np.abs(shape[left] - shape[left[0]]).max(axis=(1, 2)) < _SAME
            found.append((shape[left[:1]], group.corner_radius, places[left[alike]]))
            left = left[~alike]
    return found


def _solid_cells(corners: Array, radius: float, tip: float, side: float) -> Mesh:
    """Cells with no pocket: rib tip surface all over, as rings about the cell's middle."""
    border = _between(corners, 4)
    middle = corners.mean(axis=1, keepdims=True)
    rings = np.stack([border, (border + middle) / 2, np.broadcast_to(middle, border.shape)], 1)
    hoop = rings[..., 0] / radius
    points = on_cylinder(hoop, rings[..., 1], tip) * 1e3
    return grid_mesh(points, side * outward(hoop), flip=side < 0)


def _between(corners: Array, pieces: int) -> Array:
    """Closed polygons (n, k, 2) with their sides in pieces: (n, k * pieces + 1, 2)."""
    after = np.roll(corners, -1, axis=1)
    share = np.arange(pieces) / pieces
    points = corners[:, :, None] + (after - corners)[:, :, None] * share[:, None]
    points = points.reshape(len(corners), -1, 2)
    return np.concatenate([points, points[:, :1]], axis=1)


def pocket_outline(
    design: Design, grid: Lattice, corners: Array, corner_radius: float, depth: float, chords: int,
    pieces: int,
) -> tuple[Array, float]:
    """Rounded outlines (n, p, 2) as (angle from the crown, x) at a height, and their radius.

    Order: side from the first corner to the next, arc at that corner, next side...
    """
    radius, inset, rounding = (float(v) for v in pocket_outline_at(design, grid, depth))
    less = float(pocket_outline_at(design, grid, 0.0)[2]) - corner_radius
    corners = at_radius(corners, np.full(len(corners), radius), grid.radius)
    loops = polygon_loops(corners, inset, max(rounding - less, _SHARP))
    pieces_of = [chords if arc else pieces for arc in loops.arc]
    points = [
        loops.points(edge, np.arange(number) / number) for edge, number in enumerate(pieces_of)
    ]
    ring = np.concatenate([*points, points[0][:, :1]], axis=1)
    return np.stack([ring[..., 0] / radius, ring[..., 1]], axis=-1), radius


def _pocket_meshes(
    design: Design, grid: Lattice, corners: Array, corner_radius: float, *, chords: int,
    pieces: int,
) -> list[Mesh]:
    """Ribs, flanks and floor of each of some pockets (n, k, 2); each side is in so many pieces."""
    side, reference = rib_side(design), float(grid.radius)
    top, tip = pocket_outline(
        design, grid, corners=corners, corner_radius=corner_radius, depth=float(design.ribs.height),
        chords=chords, pieces=pieces,
    )
    low, floor = pocket_outline(
        design, grid, corners=corners, corner_radius=corner_radius, depth=0.0, chords=chords,
        pieces=pieces,
    )
    # The cell's border, point for point: along each side, then waiting at its end for the arc.
    after = np.roll(corners, -1, axis=1)
    share = np.concatenate([np.arange(pieces) / pieces, np.ones(chords)])
    cell = (corners[:, :, None] + (after - corners)[:, :, None] * share[:, None]).reshape(
        len(corners), -1, 2)
    cell = np.concatenate([cell, cell[:, :1]], axis=1) / [reference, 1.0]
    middle = np.broadcast_to(low[:, :-1].mean(axis=1, keepdims=True), low.shape)
    tips = np.stack([cell, top], axis=1)
    inwards = np.linspace(0.0, 1.0, max(1, math.ceil(pieces / 2)) + 1)[:, None, None]
    floors = low[:, None] + (middle - low)[:, None] * inwards
    meshes = []
    for rings, radius, mark in ((tips, tip, -1.0), (floors, floor, ON_FLOOR)):
        points = on_cylinder(rings[..., 0], rings[..., 1], radius) * 1e3
        meshes.append(grid_mesh(points, side * outward(rings[..., 0]), mark, flip=side < 0))
    meshes.append(pocket_flanks(design, top, low, tip, floor))
    return [joined(parts) for parts in zip(*(_apart(mesh, len(corners)) for mesh in meshes),
                                           strict=True)]


def _apart(mesh: Mesh, count: int) -> list[Mesh]:
    """A mesh of so many equal blocks, one after the other, as that many."""
    size = len(mesh.points) // count
    return [
        Mesh(points, normals, mark, triangles - number * size)
        for number, (points, normals, mark, triangles) in enumerate(zip(
            mesh.points.reshape(count, size, 3), mesh.normals.reshape(count, size, 3),
            mesh.mark.reshape(count, size), mesh.triangles.reshape(count, -1, 3), strict=True))
    ]


def pocket_flanks(design: Design, top: Array, low: Array, tip: float, floor: float) -> Mesh:
    """Each flank facet with points of its own, so that edges stay sharp; all are marked 0."""
    side = rib_side(design)
    upper = on_cylinder(top[..., 0], top[..., 1], tip) * 1e3
    lower = on_cylinder(low[..., 0], low[..., 1], floor) * 1e3
    quads = np.stack([
        np.stack([upper[:, :-1], upper[:, 1:]], axis=2),
        np.stack([lower[:, :-1], lower[:, 1:]], axis=2),
    ], axis=2)  # (n, p, row: tip and floor, column: along, 3)
    along = quads[:, :, :, 1] - quads[:, :, :, 0]
    along = along.sum(axis=2)
    down = (quads[:, :, 1] - quads[:, :, 0]).sum(axis=2)
    normal = np.cross(along, down) * side
    size = np.sqrt(np.einsum("...i,...i->...", normal, normal))[..., None]
    normal = normal / np.where(size > 0, size, 1.0)
    return grid_mesh(quads, normal[:, :, None, None, :], 0.0, flip=side < 0)
