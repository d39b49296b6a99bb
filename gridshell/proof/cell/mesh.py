"""Solid mesh of a quarter of the repeating cell: straight into hexahedra, no mesh generator.

The repeating cell of every pattern here is a rectangle with a node of the ribs at its corners,
mirror symmetric about both of its middle lines, so a quarter of it with symmetry conditions on
its four sides is the whole wall. The quarter is cut into right-angled pieces, each with a node
of the ribs N, the middle M of a rib and a point C in the pocket; every piece is half a rib strip
(centre line to pocket outline) and a fan of skin. The strip follows the outline of the pocket at
each height, so draft, corner radius and root fillet are in the mesh and the mesh is conforming
by construction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.errors import InputError
from gridshell.define.types import Array, IntArray

CROWDING = 1.8  # exponent of the crowding of element sides towards the inner corners
PATTERNS = (*CELL_PATTERNS, "plain")


@dataclass(frozen=True)
class Cell:
    """One repeating rectangle of a ribbed wall, SI.

    Attributes:
        pattern: isogrid, orthogrid, diagonal or plain.
        along_axis: length of the rectangle along the tube's axis, m.
        round_hoop: length of the rectangle along the hoop at the skin's middle surface, m.
            An isogrid rectangle holds two nodes: pitch a and two rows, a*sqrt(3); so does a
            diagonal one. An orthogrid rectangle holds one.
        orientation: isogrid only; which way one of the families runs, "hoop" or "axial".
        thickness: skin thickness, m.
        height: rib height above the skin, m.
        width: rib width at the tip, m.
        draft: draft of each flank, rad.
        corner_radius: plan radius of the pocket corner at the skin, m.
        root_fillet: fillet between rib and skin, m.
        side: +1 ribs outside (positive z), -1 inside.
        radius: of the skin's middle surface, m; infinite for a flat wall.
    """

    pattern: str
    along_axis: float
    round_hoop: float
    thickness: float
    height: float = 0.0
    width: float = 0.0
    draft: float = 0.0
    corner_radius: float = 0.0
    root_fillet: float = 0.0
    orientation: str = "hoop"
    side: int = 1
    radius: float = np.inf

    @property
    def area(self) -> float:
        """Area of the rectangle at the skin's middle surface, m^2."""
        return self.along_axis * self.round_hoop


@dataclass(frozen=True)
class Resolution:
    """How many elements: along half a rib (``node`` + ``span``), across half of it, and layers."""

    node: int = 3
    span: int = 3
    across: int = 2
    fan: int = 2
    skin_layers: int = 2
    fillet_layers: int = 2
    rib_layers: int = 3


COARSE = Resolution(2, 2, 1, 1, 1, 1, 2)
MEDIUM = Resolution()
FINE = Resolution(4, 4, 3, 3, 3, 3, 4)


@dataclass(frozen=True)
class Piece:
    """Node N, middle of rib M, pocket point C, and the direction of the other rib at N."""

    node: Array
    middle: Array
    center: Array
    other: Array


def pieces(cell: Cell) -> list[Piece]:
    """The right-angled pieces of the quarter rectangle, in (axial, hoop) coordinates."""
    if cell.pattern == "isogrid" and cell.orientation == "hoop":
        along, across, swap = cell.round_hoop, cell.along_axis, True
    else:
        along, across, swap = cell.along_axis, cell.round_hoop, False

    def point(p: float, q: float) -> Array:
        return np.array([q, p]) if swap else np.array([p, q])

    def piece(node: Array, middle: Array, center: Array, toward: Array) -> Piece:
        return Piece(node, middle, center, toward - node)

    half_p, half_q = along / 2, across / 2
    origin, far = point(0, 0), point(half_p, half_q)
    middle = point(half_p / 2, half_q / 2)
    if cell.pattern in ("orthogrid", "plain"):
        first, second = point(half_p, 0), point(0, half_q)
        return [piece(origin, first, far, second), piece(origin, second, far, first)]
    if cell.pattern == "diagonal":
        found = []
        for center in (point(half_p, 0), point(0, half_q)):
            for node in (origin, far):
                # The other rib at this node is the mirror image in the line node-center.
                line = (center - node) / np.linalg.norm(center - node)
                mirrored = 2 * line * np.dot(line, middle - node) - (middle - node)
                found.append(Piece(node, middle, center, mirrored))
        return found
    # isogrid: half a pocket below the diagonal rib and, turned by 180 degrees, half of another
    base = along
    leg = float(np.hypot(half_p, half_q))
    inradius = base * half_q / (base + 2 * leg)
    corner, foot, center = point(along, 0), point(half_p, 0), point(half_p, inradius)
    lower = [
        piece(origin, foot, center, far),
        piece(origin, middle, center, foot),
        piece(far, middle, center, corner),
    ]
    upper = [Piece(far + origin - p.node, 2 * middle - p.middle, 2 * middle - p.center, -p.other)
             for p in lower]
    return lower + upper


def _corner(piece: Piece, stretch: float) -> tuple[Array, Array, float, float]:
    """Direction of the rib and its normal, length of the half rib, half the corner's angle."""
    scale = np.array([1.0, stretch])
    along = (piece.middle - piece.node) * scale
    length = float(np.linalg.norm(along))
    along = along / length
    other = piece.other * scale
    other = other / np.linalg.norm(other)
    normal = other - np.dot(other, along) * along
    normal /= np.linalg.norm(normal)
    half = float(np.arccos(np.clip(np.dot(along, other), -1, 1))) / 2
    return along, normal, length, half


def arc_is_long(
    piece: Piece, offset: float, radius: float, stretch: float, u: Array, chords: int
) -> bool:
    """Whether the corner arc is long enough to take the first ``chords`` steps of ``u``."""
    _, _, length, half = _corner(piece, stretch)
    arc = radius * (np.pi / 2 - half)
    straight = length - (offset + radius) / np.tan(half)
    return bool(arc > 0.5 * u[chords] * (arc + straight))


def outline(
    piece: Piece, offset: float, radius: float, stretch: float, u: Array, chords: int = 0
) -> Array:
    """Points at fractions ``u`` of the pocket's outline from the bisector at N to opposite M.

    ``stretch`` is the hoop scale r/R at this height: the outline is an offset in true lengths.
    The first ``chords`` steps of ``u`` (if any) take the corner arc, which is then drawn a little
    smaller, so that the chords hold the area of the arc. Pieces that meet at a corner must agree
    on that, or their outlines part.
    """
    scale = np.array([1.0, stretch])
    node = piece.node * scale
    along, normal, length, half = _corner(piece, stretch)
    tangent = (offset + radius) / np.tan(half)
    if tangent > length * (1 + 1e-9):
        raise InputError(
            f"corner_radius {radius * 1e3:g} mm with ribs {2 * offset * 1e3:g} mm wide leaves no "
            "straight rib between two nodes; the solid cell needs some"
        )
    turn = np.pi / 2 - half  # the arc from the bisector to the straight side
    arc = radius * turn
    distance = u * (arc + length - tangent)
    if chords:
        corner = 1 / np.tan(half)
        radius *= np.sqrt((corner - turn) / (corner - chords * np.sin(turn / chords)))
        tangent, arc = (offset + radius) * corner, radius * turn
        rest = (u[chords:] - u[chords]) / (1 - u[chords])
        distance = np.concatenate([
            np.linspace(0, arc, chords + 1), arc + rest[1:] * (length - tangent)
        ])
    angle = np.where(distance < arc, turn - distance / radius if radius > 0 else 0.0, 0.0)
    # arc center at (tangent, offset + radius) in (along, normal); angle 0 points at the rib
    s = tangent - radius * np.sin(angle) + np.clip(distance - arc, 0, None)
    n = offset + radius - radius * np.cos(angle)
    return np.asarray((node + np.outer(s, along) + np.outer(n, normal)) / scale)


def _coons(bottom: Array, top: Array, left: Array, right: Array) -> Array:
    """Grid of points between four curves; bottom, top run along i and left, right along j."""
    i = np.linspace(0, 1, len(bottom))[:, None, None]
    along = left - left[0]
    j = (along @ along[-1] / (along[-1] @ along[-1]))[None, :, None]
    return np.asarray(
        (1 - j) * bottom[:, None] + j * top[:, None] + (1 - i) * left[None] + i * right[None]
        - (1 - i) * (1 - j) * bottom[0] - i * (1 - j) * bottom[-1]
        - (1 - i) * j * top[0] - i * j * top[-1]
    )


def toward_start(count: int) -> Array:
    """Fractions 0..1 crowded at 0, where a sharp inner corner makes the stress steep."""
    return np.asarray(np.linspace(0, 1, count + 1) ** CROWDING)


def _line(a: Array, b: Array, count: int, crowded: bool = False) -> Array:
    fractions = toward_start(count) if crowded else np.linspace(0, 1, count + 1)
    return np.asarray(a + fractions[:, None] * (b - a))


def _fan(outline: Array, center: Array, size: Resolution) -> list[Array]:
    """Three grids of quadrilaterals that fill the skin between the outline and C."""
    q, p, mid = outline[0], outline[-1], outline[size.node]
    q_mid, p_mid = (q + center) / 2, (p + center) / 2
    inside = (mid + q_mid + p_mid) / 3
    return [
        _coons(outline[: size.node + 1], _line(q_mid, inside, size.node),
               _line(q, q_mid, size.fan, True), _line(mid, inside, size.fan, True)),
        _coons(outline[size.node:], _line(inside, p_mid, size.span),
               _line(mid, inside, size.fan, True), _line(p, p_mid, size.fan, True)),
        _coons(_line(q_mid, inside, size.node), _line(center, p_mid, size.node),
               _line(q_mid, center, size.span), _line(inside, p_mid, size.span)),
    ]


def rib_levels(cell: Cell, size: Resolution) -> tuple[Array, Array, Array]:
    """Heights above the skin, outline offset and corner radius at each, from the skin up."""
    slope = np.tan(cell.draft)
    fillet = cell.root_fillet
    if fillet > 0:
        # A polygon around a hollow fillet holds more than the fillet: shrink it to equal area.
        step = np.pi / 2 / size.fillet_layers
        polygon = 1 - size.fillet_layers * np.sin(step) / 2
        shrunk = fillet * np.sqrt((1 - np.pi / 4) / polygon)
        turns = np.linspace(0, np.pi / 2, size.fillet_layers + 1)
        lower = shrunk * (1 - np.cos(turns))
        extra = shrunk * (1 - np.sin(turns))
    else:
        lower, extra = np.zeros(1), np.zeros(1)
    upper = lower[-1] + (cell.height - lower[-1]) * toward_start(size.rib_layers)[1:]
    if cell.height - lower[-1] < 1e-9 * cell.height:
        upper = np.zeros(0)
    heights = np.concatenate([lower, upper])
    extra = np.concatenate([extra, np.zeros(len(upper))])
    offsets = cell.width / 2 + (cell.height - heights) * slope + extra
    radii = np.clip(cell.corner_radius + heights * slope - extra, 0, None)
    return heights, offsets, radii


def quarter_cell(cell: Cell, size: Resolution = MEDIUM) -> tuple[Array, IntArray]:
    """Points (3, n) and hexahedra (8, m) of a quarter of the cell, x axial, y hoop, z outward.

    Hexahedra list the corners by (i, j, k) in the order 000, 001, 010, 100, 011, 101, 110, 111.
    On a curved wall y is arc length at the skin's middle surface and z the radial height.

    Raises:
        InputError: a pattern that has no such cell, or corners that overlap.
    """
    if cell.pattern not in PATTERNS:
        raise InputError(f"ribs.pattern {cell.pattern!r} has no solid cell; known: "
                         + ", ".join(PATTERNS))
    plain = cell.pattern == "plain" or not cell.height > 0
    blocks: list[Array] = []  # each (i, j, k, 3)
    skin_z = (toward_start(size.skin_layers) - 0.5) * -cell.side * cell.thickness
    if plain:
        offset = min(cell.along_axis, cell.round_hoop) / 8
        heights, offsets, radii = np.zeros(1), np.array([offset]), np.zeros(1)
    else:
        heights, offsets, radii = rib_levels(cell, size)

    def stretch(z: float) -> float:
        return 1 + z / cell.radius

    def fractions(piece: Piece) -> Array:
        # Elements follow the node region, then the free length of the rib.
        length = float(np.linalg.norm(piece.middle - piece.node))
        split = float(np.clip(1.6 * (offsets[0] + radii[0]) / length, 0.08, 0.55))
        return np.concatenate([split * toward_start(size.node),
                               np.linspace(split, 1, size.span + 1)[1:]])

    top = cell.side * cell.thickness / 2
    # One rule for all pieces of a level: ribs of unlike length meet at the same corners.
    chords = [
        size.node * all(
            arc_is_long(piece, offset, radius, stretch(top + cell.side * height),
                        fractions(piece), size.node) for piece in pieces(cell)
        ) for height, offset, radius in zip(heights, offsets, radii, strict=True)
    ]
    for piece in pieces(cell):
        u = fractions(piece)
        center_line = piece.node + u[:, None] * (piece.middle - piece.node)
        v = (1 - toward_start(size.across)[::-1])[None, :, None]

        def strip(level: int, z: float, piece: Piece = piece, u: Array = u,
                  center_line: Array = center_line, v: Array = v) -> Array:
            edge = outline(piece, offsets[level], radii[level], stretch(z), u, chords[level])
            return np.asarray((1 - v) * center_line[:, None] + v * edge[:, None])

        foot = strip(0, top)
        for flat in [foot, *_fan(foot[:, -1], piece.center, size)]:
            blocks.append(_stack([flat] * len(skin_z), skin_z))
        if not plain:
            z = top + cell.side * heights
            blocks.append(_stack([strip(k, z[k]) for k in range(len(z))], z))
    return merge_grids(blocks, 1e-6 * min(cell.along_axis, cell.round_hoop, cell.thickness))


def _stack(layers: list[Array], z: Array) -> Array:
    flat = np.stack(layers, axis=2)
    heights = np.broadcast_to(z, flat.shape[:3])[..., None]
    return np.concatenate([flat, heights], axis=-1)


def merge_grids(blocks: list[Array], tolerance: float) -> tuple[Array, IntArray]:
    """One mesh from grids of points: corners closer than the tolerance are the same."""
    from scipy.spatial import cKDTree

    points = np.concatenate([block.reshape(-1, 3) for block in blocks])
    cells, start = [], 0
    for block in blocks:
        index = start + np.arange(block[..., 0].size).reshape(block.shape[:3])
        start += index.size
        low, high = slice(None, -1), slice(1, None)
        corners = [(low, low, low), (low, low, high), (low, high, low), (high, low, low),
                   (low, high, high), (high, low, high), (high, high, low), (high, high, high)]
        cells.append(np.stack([index[corner].ravel() for corner in corners]))
    # The first of each group of coincident points stands for all of them.
    first = np.array([min(near) for near in cKDTree(points).query_ball_point(points, tolerance)])
    kept, number = np.unique(first, return_inverse=True)
    return points[kept].T.copy(), number[np.concatenate(cells, axis=1)]
