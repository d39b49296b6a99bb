"""Geometry of the repeating cell: dimensions, sectors, and outline of the pocket at each height.

The repeating cell of every pattern here is a rectangle with a node of the ribs at its corners,
mirror symmetric about both of its middle lines, so a quarter of it is enough. The quarter is cut
into right-angled sectors, each with a node of the ribs N, the middle M of a rib and a point C in
the pocket. Draft, corner radius and root fillet move the outline of the pocket with the height.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.errors import InputError
from gridshell.define.types import Array

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
    """How many elements of a quarter cell go where.

    Attributes:
        node: along half a rib, in the region of the node.
        span: along half a rib, from there to the middle of the rib.
        across: across half a rib.
        fan: from the pocket's outline inward.
        skin_layers: through the skin.
        fillet_layers: over the root fillet.
        rib_layers: over the rest of the rib's height.
    """

    node: int = 3
    span: int = 3
    across: int = 2
    fan: int = 2
    skin_layers: int = 2
    fillet_layers: int = 2
    rib_layers: int = 3


COARSE = Resolution(2, 2, across=1, fan=1, skin_layers=1, fillet_layers=1, rib_layers=2)
MEDIUM = Resolution()
FINE = Resolution(4, 4, across=3, fan=3, skin_layers=3, fillet_layers=3, rib_layers=4)
RESOLUTIONS = {"coarse": COARSE, "medium": MEDIUM, "fine": FINE}


@dataclass(frozen=True)
class Sector:
    """One right-angled part of the quarter cell, in (axial, hoop) coordinates.

    Attributes:
        node: node of the ribs N, m, shape (2,).
        middle: middle of a rib M, m, shape (2,).
        center: point in the pocket C, m, shape (2,).
        other: direction of the other rib at N, m, shape (2,).
    """

    node: Array
    middle: Array
    center: Array
    other: Array


def sectors(cell: Cell) -> list[Sector]:
    """The right-angled sectors of the quarter rectangle, in (axial, hoop) coordinates."""
    if cell.pattern == "isogrid" and cell.orientation == "hoop":
        along, across, swap = cell.round_hoop, cell.along_axis, True
    else:
        along, across, swap = cell.along_axis, cell.round_hoop, False

    def point(p: float, q: float) -> Array:
        return np.array([q, p]) if swap else np.array([p, q])

    def sector(node: Array, middle: Array, center: Array, toward: Array) -> Sector:
        return Sector(node, middle, center, toward - node)

    half_p, half_q = along / 2, across / 2
    origin, far = point(0, 0), point(half_p, half_q)
    middle = point(half_p / 2, half_q / 2)
    if cell.pattern in ("orthogrid", "plain"):
        first, second = point(half_p, 0), point(0, half_q)
        return [sector(origin, first, far, second), sector(origin, second, far, first)]
    if cell.pattern == "diagonal":
        found = []
        for center in (point(half_p, 0), point(0, half_q)):
            for node in (origin, far):
                # The other rib at this node is the mirror image in the line node-center.
                line = (center - node) / np.linalg.norm(center - node)
                mirrored = 2 * line * np.dot(line, middle - node) - (middle - node)
                found.append(Sector(node, middle, center, mirrored))
        return found
    # isogrid: half a pocket below the diagonal rib and, turned by 180 degrees, half of another
    base = along
    leg = float(np.hypot(half_p, half_q))
    inradius = base * half_q / (base + 2 * leg)
    corner, foot, center = point(along, 0), point(half_p, 0), point(half_p, inradius)
    lower = [
        sector(origin, foot, center, far),
        sector(origin, middle, center, foot),
        sector(far, middle, center, corner),
    ]
    upper = [Sector(far + origin - p.node, 2 * middle - p.middle, 2 * middle - p.center, -p.other)
             for p in lower]
    return lower + upper


def _corner(sector: Sector, stretch: float) -> tuple[Array, Array, float, float]:
    """Direction of the rib and its normal, length of the half rib, half the corner's angle."""
    scale = np.array([1.0, stretch])
    along = (sector.middle - sector.node) * scale
    length = float(np.linalg.norm(along))
    along = along / length
    other = sector.other * scale
    other = other / np.linalg.norm(other)
    normal = other - np.dot(other, along) * along
    normal /= np.linalg.norm(normal)
    half = float(np.arccos(np.clip(np.dot(along, other), -1, 1))) / 2
    return along, normal, length, half


def half_corner(sector: Sector) -> float:
    """Half the angle between the two ribs of a sector, rad."""
    return _corner(sector, 1.0)[3]


def arc_is_long(
    sector: Sector, offset: float, radius: float, stretch: float, u: Array, chords: int
) -> bool:
    """Whether the corner arc is long enough to take the first ``chords`` steps of ``u``.

    Args:
        sector: whose corner.
        offset: half the rib's width at this height, m.
        radius: corner radius at this height, m.
        stretch: hoop scale r/R at this height.
        u: fractions of the outline, rising.
        chords: steps that the arc would take.
    """
    _, _, length, half = _corner(sector, stretch)
    arc = radius * (np.pi / 2 - half)
    straight = length - (offset + radius) / np.tan(half)
    return bool(arc > 0.5 * u[chords] * (arc + straight))


def outline(
    sector: Sector, offset: float, radius: float, stretch: float, u: Array, chords: int = 0
) -> Array:
    """Points of the pocket's outline from the bisector at N to opposite M.

    The first ``chords`` steps of ``u`` (if any) take the corner arc, which is then drawn a little
    smaller, so that the chords hold the area of the arc. Sectors that meet at a corner must agree
    on that, or their outlines part.

    Args:
        sector: whose outline.
        offset: half the rib's width at this height, m.
        radius: corner radius at this height, m.
        stretch: hoop scale r/R at this height; the outline is an offset in true lengths.
        u: fractions of the outline, rising from 0 to 1, shape (k,).
        chords: steps of ``u`` that the arc takes.

    Returns:
        Places (axial, hoop), m, shape (k, 2).

    Raises:
        InputError: the corners leave no straight rib.
    """
    scale = np.array([1.0, stretch])
    node = sector.node * scale
    along, normal, length, half = _corner(sector, stretch)
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


def toward_start(count: int) -> Array:
    """Fractions 0..1 crowded at 0, where a sharp inner corner makes the stress steep."""
    return np.asarray(np.linspace(0, 1, count + 1) ** CROWDING)


def rib_levels(cell: Cell, size: Resolution) -> tuple[Array, Array, Array]:
    """Heights above the skin from the skin up, half rib width and corner radius at each, m."""
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
    # Flanks that meet in a sharp corner at the skin do so all the way up.
    grown = cell.corner_radius + heights * slope if cell.corner_radius > 0 else 0 * heights
    radii = np.clip(grown - extra, 0, None)
    return heights, offsets, radii
