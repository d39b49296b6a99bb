"""A tube as a finite-element model: nodes, parts with their sections, ends. One record for all
formats and for shells and solids alike."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array, IntArray
from gridshell.proof.shells.tube import ShellWall

MOST_NODES = 600_000
_GAUSS = np.polynomial.legendre.leggauss(3)


@dataclass(frozen=True)
class Plate:
    """An even shell of one material, stiffer across its first side where a rib stands on it.

    Attributes:
        thickness: m.
        modulus: Pa.
        poisson: Poisson's ratio.
        density: kg/m3.
        link: True where it only hands on shear and force across: no stiffness along its first side.
        across: stiffness across the first side over that of the even shell.
        shear: the same in shear.
        bending: the same in bending across.
    """

    thickness: float
    modulus: float
    poisson: float
    density: float
    link: bool = False
    across: float = 1.0
    shear: float = 1.0
    bending: float = 1.0


@dataclass(frozen=True)
class Solid:
    """A solid of one material.

    Attributes:
        modulus: Pa.
        poisson: Poisson's ratio.
        density: kg/m3.
    """

    modulus: float
    poisson: float
    density: float


Section = ShellWall | Plate | Solid


@dataclass(frozen=True)
class Part:
    """A named set of elements with one section.

    Attributes:
        name: capitals and underscores, which every format takes.
        cells: (elements, 4) shells, first side along the axis or the rib, or (elements, 20) solids.
        section: of all of them.
    """

    name: str
    cells: IntArray
    section: Section


@dataclass(frozen=True)
class Rim:
    """The nodes of one end and their share of its section.

    Attributes:
        nodes: numbers from 0.
        sides: of elements that lie in the end: (n, 2) edges of shells, (n, 8) faces of solids.
        area: section area that each stands for, m2.
        moment: its first moment about the axis of bending (y), m3.
        lift: its first moment about the skin's middle surface, m3.
        lift_moment: its moment about both, m4.
    """

    nodes: IntArray
    sides: IntArray
    area: Array
    moment: Array
    lift: Array
    lift_moment: Array


@dataclass(frozen=True)
class Model:
    """A tube, x along its axis from the left end.

    Attributes:
        kind: wall, ribs or solid.
        points: (nodes, 3), m; the last two are the centers of the left and the right end.
        parts: elements by name.
        rims: left and right end.
        faces: (faces, 2) element (from 0) and side (from 1; 0: the shell itself) that pressure
            acts on.
        radius: of the skin's middle surface, m.
        length: m.
        height: of the surface that shells of a smeared wall lie on above the skin's middle, m.
        side: +1: the smooth face is inside; -1: outside (solids).
        notes: what to keep in mind of the mesh.
    """

    kind: str
    points: Array
    parts: tuple[Part, ...]
    rims: tuple[Rim, Rim]
    faces: IntArray
    radius: float
    length: float
    height: float = 0.0
    side: int = 1
    notes: tuple[str, ...] = ()

    @property
    def centers(self) -> tuple[int, int]:
        """Nodes in the middle of the left and the right end."""
        return len(self.points) - 2, len(self.points) - 1

    @property
    def is_solid(self) -> bool:
        """Whether its nodes only move and do not turn."""
        return self.kind == "solid"

    @property
    def elements(self) -> int:
        """How many."""
        return sum(len(part.cells) for part in self.parts)

    @cached_property
    def mass(self) -> float:
        """Of all elements, kg."""
        return sum(_mass(self.points, part) for part in self.parts)

    def surface(self) -> IntArray:
        """All nodes of the faces that pressure acts on, of a tube of solids."""
        return np.unique(face_nodes(self.parts[0].cells, self.faces))


# Corners and middles of the faces 1 to 6 of a solid, in the order of the solver's manual.
FACES = np.array([
    [0, 1, 2, 3, 8, 9, 10, 11], [4, 7, 6, 5, 15, 14, 13, 12], [0, 4, 5, 1, 16, 12, 17, 8],
    [1, 5, 6, 2, 17, 13, 18, 9], [2, 6, 7, 3, 18, 14, 19, 10], [3, 7, 4, 0, 19, 15, 16, 11],
])


def face_nodes(cells: IntArray, faces: IntArray) -> IntArray:
    """(faces, 8) nodes of faces of solids: corners, then the middles of the sides.

    Args:
        cells: (elements, 20).
        faces: (faces, 2) element from 0 and face from 1.
    """
    element, face = np.asarray(faces).T
    return np.asarray(cells[element[:, None], FACES[face - 1]])


def square_shapes(a: float, b: float) -> tuple[Array, Array, Array]:
    """Functions of the square with 8 nodes and their slopes (serendipity, any textbook)."""
    value, along, across = np.zeros((3, 8))
    for k, (p, q) in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1))):
        value[k] = (1 + p * a) * (1 + q * b) * (p * a + q * b - 1) / 4
        along[k] = p * (1 + q * b) * (2 * p * a + q * b) / 4
        across[k] = q * (1 + p * a) * (2 * q * b + p * a) / 4
    for k, q in ((4, -1), (6, 1)):
        value[k], along[k] = (1 - a * a) * (1 + q * b) / 2, -a * (1 + q * b)
        across[k] = (1 - a * a) * q / 2
    for k, p in ((5, 1), (7, -1)):
        value[k], across[k] = (1 + p * a) * (1 - b * b) / 2, -b * (1 + p * a)
        along[k] = p * (1 - b * b) / 2
    return value, along, across


def solid_rim(points: Array, faces: IntArray, radius: float) -> Rim:
    """The end of a tube of solids.

    Args:
        points: of the mesh.
        faces: (faces, 8) of the end.
        radius: of the skin's middle surface, m.
    """
    shares = np.zeros((4, len(points)))
    corners = points[faces]
    for a, wa in zip(*_GAUSS, strict=True):
        for b, wb in zip(*_GAUSS, strict=True):
            value, along, across = square_shapes(a, b)
            normal = np.cross(np.einsum("k,fkc->fc", along, corners),
                              np.einsum("k,fkc->fc", across, corners))
            size = wa * wb * np.linalg.norm(normal, axis=1)
            place = np.einsum("k,fkc->fc", value, corners)
            for found, weight in zip(shares, _weights(place, radius), strict=True):
                np.add.at(found, faces, (size * weight)[:, None] * value)
    nodes = np.unique(faces)
    return Rim(nodes, faces, *shares[:, nodes])


def shell_rim(points: Array, edges: IntArray, thickness: Array, radius: float) -> Rim:
    """The end of a tube of shells.

    Args:
        points: of the mesh.
        edges: (edges, 2) of the end.
        thickness: of the shell at each, m.
        radius: of the skin's middle surface, m.
    """
    area = np.zeros(len(points))
    long = np.linalg.norm(points[edges[:, 1]] - points[edges[:, 0]], axis=1)
    for k in (0, 1):
        np.add.at(area, edges[:, k], long * thickness / 2)
    nodes = np.unique(edges)
    return Rim(nodes, np.unique(np.sort(edges, axis=1), axis=0),
               *(area[nodes] * weight for weight in _weights(points[nodes], radius)))


def _weights(place: Array, radius: float) -> Array:
    """1, height above the axis, height above the skin's middle surface, and both, at places."""
    up, out = place[:, 2], np.hypot(place[:, 1], place[:, 2]) - radius
    return np.stack([np.ones(len(place)), up, out, up * out])


def areas(points: Array, cells: IntArray) -> Array:
    """Of four-node shells, m2."""
    a, b, c, d = (points[cells[:, k]] for k in range(4))
    return np.asarray(np.linalg.norm(np.cross(c - a, d - b), axis=1) / 2)


def volumes(points: Array, cells: IntArray) -> Array:
    """Of 20-node solids, their middle nodes where they are, m3."""
    found = np.zeros(len(cells))
    for x, wx in zip(*_GAUSS, strict=True):
        for y, wy in zip(*_GAUSS, strict=True):
            for z, wz in zip(*_GAUSS, strict=True):
                slopes = np.einsum("kd,ekc->edc", _brick_slopes(x, y, z), points[cells])
                found += wx * wy * wz * np.linalg.det(slopes)
    return found


_CORNERS = np.array([[-1, -1, -1], [1, -1, -1], [1, 1, -1], [-1, 1, -1],
                     [-1, -1, 1], [1, -1, 1], [1, 1, 1], [-1, 1, 1]])
_MIDDLES = np.array([[0, -1, -1], [1, 0, -1], [0, 1, -1], [-1, 0, -1],
                     [0, -1, 1], [1, 0, 1], [0, 1, 1], [-1, 0, 1],
                     [-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])


def _brick_slopes(*at: float) -> Array:
    """Slopes of the functions of the brick with 20 nodes, (20, 3) (serendipity)."""
    place = np.array(at)
    slopes = np.zeros((20, 3))
    for k, sign in enumerate(_CORNERS):
        one = 1 + sign * place
        extra = float(sign @ place) - 2
        for d in range(3):
            others = np.prod(np.delete(one, d))
            slopes[k, d] = sign[d] * others * (extra + one[d]) / 8
    for k, sign in enumerate(_MIDDLES, 8):
        zero = int(np.flatnonzero(sign == 0)[0])
        one = 1 + sign * place
        bubble = 1 - place[zero] ** 2
        for d in range(3):
            rest = np.prod(np.delete(one, [d, zero] if d != zero else [d]))
            slopes[k, d] = (-2 * place[d] if d == zero else sign[d] * bubble) * rest / 4
    return slopes


def _mass(points: Array, part: Part) -> float:
    if isinstance(part.section, Solid):
        return part.section.density * float(volumes(points, part.cells).sum())
    if isinstance(part.section, ShellWall):
        per_area = part.section.areal_mass
    else:
        per_area = part.section.density * part.section.thickness
    return per_area * float(areas(points, part.cells).sum())


def check_size(option: str, nodes: float) -> None:
    """Refuse a mesh that is too large before it is made.

    Args:
        option: what to change, in words.
        nodes: how many it would have.

    Raises:
        InputError: more than `MOST_NODES`.
    """
    if nodes > MOST_NODES:
        raise InputError(f"{option}: makes about {nodes:,.0f} nodes, more than {MOST_NODES:,}; "
                         "use fewer, or a shorter tube")
